"""The check of a hole in words, for its page and the terminal."""

from collections.abc import Sequence

from terrain.asdug.walls import Figure
from terrain.job.verify_record import FloorChecked, Verified, WallChecked, stake_names
from terrain.report import figures
from terrain.report.names import plain
from terrain.report.told import Words

BIG = {"ready": "Ready", "trim": "Not ready", "not enough shots": "Not judged"}
SAID = {
    "ready": "floor and walls of the main hole are within tolerance, as far as the shots can tell.",
    "trim": "there is work to do before the concrete crew comes.",
    "not enough shots": "shots are lacking.",
}
LACKING = "–"
NO_PRICES = (
    "Digging it too much and filling it again is priced where the job has prices: an item of the "
    "pit and one of backfill under [[billing.items]]."
)


NOT_SIGNIFICANT = "smaller than its doubt: not significant"


def told(figure: Figure) -> str:
    """A volume with its plus-or-minus."""
    text = f"{figure.value + 0.0:.2f}"
    return text if figure.plus_minus_95 is None else f"{text} ± {figure.plus_minus_95:.2f}"


def with_doubt(figure: Figure | None) -> str:
    """The same marked * where it is smaller than its plus-or-minus; or a dash."""
    if figure is None:
        return LACKING
    return told(figure) + ("" if figure.is_significant is not False else " *")


def unsure(figure: Figure) -> str | None:
    """What to say of a volume that is smaller than its plus-or-minus, None of others."""
    return NOT_SIGNIFICANT if figure.value and figure.is_significant is False else None


def signed(figure: Figure | None) -> str:
    """A figure that may go either way, with its sign and plus-or-minus, or a dash."""
    if figure is None:
        return LACKING
    text = figures.signed_hundredths(figure.value)
    return text if figure.plus_minus_95 is None else f"{text} ± {figure.plus_minus_95:.2f}"


def marked(figure: Figure) -> str:
    """The same, marked * where it is smaller than its plus-or-minus."""
    return signed(figure) + ("" if figure.is_significant is not False else " *")


def length_of(figure: Figure | None, length_unit: str) -> str:
    """A length, or a dash."""
    return LACKING if figure is None else figures.coordinate(figure.value, length_unit)


def bow_parts(wall: WallChecked, length_unit: str) -> tuple[str, str]:
    """How far a wall bows, out +, and where along it; a dash where that is not known or none."""
    if wall.bow is None or wall.bow_at is None:
        return LACKING, LACKING
    off = figures.signed_fine(wall.bow.value, length_unit)
    return off, figures.length(wall.bow_at, length_unit) if off.strip("0.") else LACKING


def bow_of(wall: WallChecked, length_unit: str) -> str:
    """The same in one."""
    off, at = bow_parts(wall, length_unit)
    return off if at == LACKING else f"{off} at {at}"


def batter_asked(wall: WallChecked) -> str:
    """How far the design's face leans back, run per rise."""
    return "benched" if wall.batter_asked is None else f"{wall.batter_asked:.2f}"


def wall_words(wall: WallChecked, found: Verified) -> Words:
    """A wall on the page."""
    unit, amounts = found.length_unit, wall.amounts
    return {
        "name": plain(wall.wall),
        "verdict": wall.verdict,
        "asked": figures.coordinate(wall.asked, unit),
        "least": length_of(wall.least, unit),
        "mean": length_of(wall.mean, unit),
        "most": length_of(wall.most, unit),
        "turn": signed(wall.turn_degrees),
        "bow": bow_of(wall, unit),
        "batter": signed(wall.batter),
        "batter_asked": batter_asked(wall),
        "shots": figures.count(wall.shots),
        "left_out": figures.counted(wall.left_out, "shot") if wall.left_out else None,
        "over": _whole(with_doubt(None if amounts is None else amounts.overdug)),
        "under": _whole(with_doubt(None if amounts is None else amounts.underdug)),
        "net": _whole(LACKING if amounts is None else marked(amounts.net)),
        "noise": LACKING if amounts is None else _pair(amounts.noise_over, amounts.noise_under),
        "sure": LACKING if amounts is None else _pair(amounts.sure_over, amounts.sure_under),
        "cost": cost_of(wall),
    }


def cost_of(wall: WallChecked) -> str:
    """What digging a wall too wide costs; a dash where that is nothing, or no more than doubt."""
    cost = None if wall.amounts is None else wall.amounts.cost
    if cost is None or cost.value < 0.005 or cost.is_significant is False:
        return LACKING
    text = f"{cost.value:,.2f}"
    return text if cost.plus_minus_95 is None else f"{text} ± {cost.plus_minus_95:,.2f}"


def _whole(text: str) -> str:
    """The same with its star on the line of its figure."""
    return text.replace(" *", "\u00a0*")


def _pair(over: float | None, under: float | None) -> str:
    return LACKING if over is None or under is None else f"{over:.2f} / {under:.2f}"


def floor_words(floor: FloorChecked, found: Verified) -> Words:
    """The floor on the page."""
    unit = found.length_unit
    noise = floor.thin_cut
    return {
        "within": figures.percent(floor.within),
        "area": figures.volume(floor.area),
        "shots": figures.counted(floor.shots, "shot"),
        "high": figures.signed_fine(floor.worst_high, unit),
        "low": figures.signed_fine(floor.worst_low, unit),
        "high_at": _spot(floor.high_at),
        "low_at": _spot(floor.low_at),
        "high_volume": told(floor.high_volume),
        "low_volume": told(floor.low_volume),
        "high_unsure": unsure(floor.high_volume),
        "low_unsure": unsure(floor.low_volume),
        "high_area": figures.volume(floor.high_area),
        "low_area": figures.volume(floor.low_area),
        "sure_high": f"{floor.sure_high:.2f}",
        "sure_low": f"{floor.sure_low:.2f}",
        "noise": None if noise is None else f"{noise:.2f}",
    }


def _spot(spot: tuple[float, float] | None) -> str | None:
    return None if spot is None else f"E {spot[0]:.1f} N {spot[1]:.1f}".replace("-", "−")


def todo_words(found: Verified) -> list[dict[str, object]]:
    """What there is to do; with each the points to stake for it and what to do at each."""
    unit = found.length_unit
    return [
        {
            "message": plain(one.message),
            "stakes": stakes_said(names),
            "points": [
                {
                    "name": name,
                    "place": f"E {figures.coordinate(easting, unit)} "
                    f"N {figures.coordinate(northing, unit)}",
                    "elevation": figures.coordinate(elevation, unit),
                    "what": plain(what),
                }
                for name, (easting, northing, elevation, what) in zip(names, one.at, strict=True)
            ],
        }
        for names, one in zip(stake_names(found.todo), found.todo, strict=True)
    ]


def stakes_said(names: Sequence[str]) -> str | None:
    """Which points are for a thing to do: `point V1`, `points V2 to V5`; None without any."""
    if not names:
        return None
    return f"point {names[0]}" if len(names) == 1 else f"points {names[0]} to {names[-1]}"


def measured(figure: Figure, length_unit: str) -> str:
    """A length with its plus-or-minus."""
    text = figures.coordinate(figure.value, length_unit)
    doubt = figure.plus_minus_95
    return text if doubt is None else f"{text} ± {figures.coordinate(doubt, length_unit)}"


def angle_of(figure: Figure) -> str:
    """An angle in degrees with its plus-or-minus."""
    text = f"{figure.value:.2f}"
    return text if figure.plus_minus_95 is None else f"{text} ± {figure.plus_minus_95:.2f}"


def corner_words(found: Verified) -> list[Words]:
    """The corners on the page."""
    return [
        {
            "name": f"{plain(corner.between[0])} / {plain(corner.between[1])}",
            "angle": angle_of(corner.angle_degrees),
            "asked": f"{corner.asked_degrees:.2f}",
            "offset": measured(corner.offset, found.length_unit),
        }
        for corner in found.corners
    ]


def diagonal_words(found: Verified) -> list[Words]:
    """The diagonals on the page."""
    unit = found.length_unit
    return [
        {
            "name": f"{plain(one.corners[0])} to {plain(one.corners[1])}",
            "dug": measured(one.dug, unit),
            "asked": figures.coordinate(one.asked, unit),
        }
        for one in found.diagonals
    ]
