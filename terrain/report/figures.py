"""How a figure reads on paper: the one place that rounds. The exact figure is in ledger.json.

Every function takes an attribute of the answer and gives its text; none of them adds or converts.
"""

from terrain.base.units import LENGTH_UNITS

SUPERSCRIPTS = str.maketrans("23", "²³")


def volume(value: float) -> str:
    """A volume or area to one decimal below 1000 and whole above: `96.5`, `1,204`."""
    tenths = f"{value + 0.0:,.1f}"
    return _with_minus(tenths if len(tenths) <= len("999.9") else f"{value:,.0f}")


def _with_minus(text: str) -> str:
    """The text with a minus for the hyphen that Python writes."""
    return text.replace("-", "−")


def signed(value: float) -> str:
    """A volume with its sign: `+96.5`, `−1,204`; nought has none."""
    text = volume(abs(value))
    if not text.strip("0."):
        return text
    return ("−" if value < 0 else "+") + text


def plus_minus(value: float | None) -> str:
    """A 95 % doubt in the same figures as its volume; a dash where the job gives no accuracy."""
    return "–" if value is None else volume(value)


def length(value: float, length_unit: str) -> str:
    """A depth to 0.1 ft, or to 0.01 m."""
    places = 2 if LENGTH_UNITS[length_unit].is_metric else 1
    return _with_minus(f"{value + 0.0:,.{places}f}")


def rough_length(value: float, length_unit: str) -> str:
    """A length as one paces it: whole feet, or 0.1 m."""
    places = 1 if LENGTH_UNITS[length_unit].is_metric else 0
    return _with_minus(f"{value + 0.0:,.{places}f}")


def on_tape(value: float, length_unit: str) -> str:
    """A length as a tape shows it, to 0.01 m, or to 0.1 ft and the inch: `12.9 ft (12′ 11″)`."""
    told = f"{length(value, length_unit)} {unit_sign(length_unit)}"
    if LENGTH_UNITS[length_unit].is_metric:
        return told
    whole, inches = divmod(round(value * 12), 12)
    return f"{told} ({whole}′ {inches}″)" if whole else f"{told} ({inches}″)"


def ranged(low: str, high: str) -> str:
    """Two figures as a range, one where they read alike: `2.5 to 3.8`."""
    return low if low == high else f"{low} to {high}"


def signed_length(value: float, length_unit: str) -> str:
    """A change of height with its sign, to 0.1 ft or 0.01 m: `+0.4`, `−1.2`; nought has none."""
    text = length(abs(value), length_unit)
    if not text.strip("0."):
        return text
    return ("−" if value < 0 else "+") + text


def signed_fine(value: float, length_unit: str) -> str:
    """An error of height with its sign, to 0.01 ft or 0.001 m; nought has none."""
    text = f"{abs(value):.3f}" if LENGTH_UNITS[length_unit].is_metric else f"{abs(value):.2f}"
    if not text.strip("0."):
        return text
    return ("−" if value < 0 else "+") + text


def signed_hundredths(value: float) -> str:
    """A turn, a batter or a small volume with its sign, to 0.01; nought has none."""
    text = f"{abs(value):,.2f}"
    return text if not text.strip("0.") else ("−" if value < 0 else "+") + text


def coordinate(value: float, length_unit: str) -> str:
    """A coordinate to 0.01 ft or 0.001 m; a dash where there is none."""
    if value != value:  # NaN: an outline file has no heights
        return "–"
    places = 3 if LENGTH_UNITS[length_unit].is_metric else 2
    return _with_minus(f"{value + 0.0:,.{places}f}")


def percent(share: float) -> str:
    """A share in whole percent: `15 %`."""
    return f"{share:.0%}".replace("%", " %")


def fall(per_run: float) -> str:
    """A fall, drop per run, in per cent to a tenth: `8.0`; a dash where there is none."""
    return "–" if per_run != per_run else _with_minus(f"{100.0 * per_run + 0.0:.1f}")


def money(value: float, currency: str | None) -> str:
    """A sum to the whole unit with its currency: `96 USD`, or `96 in the job’s money`."""
    return _with_minus(f"{value + 0.0:,.0f}") + f" {currency or 'in the job’s money'}"


def count(value: int | None) -> str:
    """A whole number with thousands apart; a dash for None."""
    return "–" if value is None else f"{value:,d}"


def counted(value: int, one: str) -> str:
    """So many of a thing: `1 truck load`, `26 truck loads`."""
    return f"{count(value)} {one}" if value == 1 else f"{count(value)} {one}s"


def unit_sign(name: str) -> str:
    """The unit as printed: `yd³` for yd3, `ft²` for ft2; both feet read `ft`."""
    return name.replace("ftUS", "ft").translate(SUPERSCRIPTS)


def area_unit(length_unit: str) -> str:
    """The sign of the job's unit of area."""
    return unit_sign(LENGTH_UNITS[length_unit].area_name)


def length_words(length_unit: str) -> str:
    """The length unit in words, which tells the two feet apart."""
    return LENGTH_UNITS[length_unit].long_name
