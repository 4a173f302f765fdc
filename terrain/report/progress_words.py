"""The progress of a dig in words, for the page and the terminal."""

from terrain.job.progress_record import Figure, ProgressRow, ProgressSurvey, Rate
from terrain.report import figures
from terrain.report.names import plain

WITHIN_DOUBT = "not significant"


def with_doubt(figure: Figure | None) -> str:
    """A volume with its plus-or-minus, marked where it is smaller than that: `12.0 ± 15.1 *`."""
    if figure is None:
        return "–"
    text = figures.signed(figure.volume).lstrip("+")
    if figure.plus_minus_95 is not None:
        text += f" ± {figures.plus_minus(figure.plus_minus_95)}"
    return text + (" *" if figure.is_significant is False else "")


def progress_words(survey: ProgressSurvey, volume_unit: str) -> dict[str, object]:
    """What the page says of one day."""
    rows = [_row(row) for row in survey.rows]
    return {
        "date": survey.date,
        "last": survey.last,
        "share": figures.percent(survey.share_dug),
        "rows": rows,
        "has_parts": any(row["parts"] for row in rows),
        "total": _row(survey.total),
        "elsewhere": with_doubt(survey.elsewhere) if survey.elsewhere.is_significant else None,
        "thin": None if survey.thin_cut is None else figures.volume(survey.thin_cut),
        "rate": rate_words(survey.rate, volume_unit),
    }


def _row(row: ProgressRow) -> dict[str, object]:
    parts = [part for part in row.parts if part.design.volume or part.dug.volume]
    return {
        "name": plain(row.name),
        "design": figures.volume(row.design.volume),
        "dug": with_doubt(row.dug),
        "since": with_doubt(row.since_last),
        "left": with_doubt(row.left),
        "beyond": with_doubt(row.beyond),
        "parts": [_row(part) for part in parts] if len(parts) > 1 else [],
    }


def rate_words(rate: Rate, volume_unit: str) -> str:
    """How fast it goes and how long what is left will take, as far as it is known."""
    unit = figures.unit_sign(volume_unit)
    said = []
    if rate.per_day is not None and rate.days is not None:
        said.append(
            f"{figures.signed(rate.per_day).lstrip('+')} {unit} a day over "
            f"{figures.counted(rate.days, 'day')}"
        )
    if rate.per_hour is not None:
        said.append(f"{figures.signed(rate.per_hour).lstrip('+')} {unit} an hour")
    if not said:
        return "No rate: this is the first survey, and the job gives no hours."
    text = " and ".join(said)
    ahead = []
    if rate.days_left is not None:
        ahead.append(f"{rate.days_left:.1f} days like these")
    if rate.hours_left is not None:
        ahead.append(f"{rate.hours_left:.1f} hours of digging")
    return f"{text}; what is left takes {' or '.join(ahead)}." if ahead else f"{text}."
