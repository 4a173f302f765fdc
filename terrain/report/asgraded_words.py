"""The lot as graded in words and drawings, for the page."""

from markupsafe import Markup

from terrain.job.asgraded_record import GradedFall, GradedSide, GradedSurvey, WorstShot
from terrain.report import figures
from terrain.report.asgraded_plan import GradedSheet, asgraded_svg
from terrain.report.names import plain
from terrain.report.told import NARROW_PLAN, WIDE_PLAN, Words

WHY = {
    "rises": "ground rises",
    "hard surface": "paving",
    "swale": "swale",
    "settlement": "once settled",
}
"""What fails, where it isn't the fall itself."""


def asgraded_words(survey: GradedSurvey, title: str, length_unit: str) -> dict[str, object]:
    """What the page says of one survey."""
    fine = figures.coordinate
    return {
        "date": survey.date,
        "datum": None if survey.vertical_datum is None else plain(survey.vertical_datum),
        "tolerance": f"{survey.tolerance:g}",
        "shots": figures.count(survey.shots),
        "within": figures.count(survey.shots_within),
        "not_judged": figures.count(survey.not_judged) if survey.not_judged else None,
        "mean": figures.signed_fine(survey.mean, length_unit),
        "rmse": fine(survey.rmse, length_unit),
        "at_95": fine(survey.at_95, length_unit),
        "high": _worst(survey.worst_high, length_unit),
        "low": _worst(survey.worst_low, length_unit),
        "sides": [side_words(side) for side in (*survey.sides, survey.total)],
        "falls": [fall_words(fall, length_unit) for fall in survey.falls],
        "ponds": [
            {
                "spot": f"{pond.spot[0]:.1f}, {pond.spot[1]:.1f}",
                "depth": fine(pond.depth, length_unit),
                "area": figures.volume(pond.area),
                "wall": None if pond.wall is None else plain(pond.wall),
                "asked": fine(pond.before, length_unit) if pond.before > 0 else None,
            }
            for pond in survey.drainage.ponds
        ],
        "returns": [
            {"wall": plain(back.wall), "area": figures.volume(back.area)}
            for back in survey.drainage.returns
        ],
        "rasters": [f"{raster.name}.tif" for raster in survey.rasters],
        "maps": [
            Markup(
                asgraded_svg(
                    GradedSheet(
                        survey=survey, title=title, length_unit=length_unit, width=width,
                        name=f"graded-{survey.date}-{name}",
                    )
                )
            )
            for width, name in ((WIDE_PLAN, "wide"), (NARROW_PLAN, "slim"))
        ],
    }  # fmt: skip


def _worst(worst: WorstShot | None, length_unit: str) -> Words | None:
    if worst is None:
        return None
    return {
        "error": figures.signed_fine(worst.error, length_unit),
        "spot": f"{worst.spot[0]:.1f}, {worst.spot[1]:.1f}",
        "place": plain(worst.place),
    }


def side_words(side: GradedSide) -> Words:
    """A side of the lot, or with no wall the lot."""
    net = figures.signed(side.net)
    if side.net_plus_minus_95 is not None:
        net += f" ± {figures.plus_minus(side.net_plus_minus_95)}"
    return {
        "name": None if side.wall is None else plain(side.wall),
        "within": "–" if side.share_within is None else f"{side.share_within:.0%}",
        "high": figures.volume(side.high),
        "low": figures.volume(side.low),
        "trim": figures.volume(side.to_trim),
        "fill": figures.volume(side.to_fill),
        "net": net + (" *" if side.is_significant is False else ""),
    }


def fall_words(fall: GradedFall, length_unit: str) -> Words:
    """How the ground falls from one wall."""
    fine = figures.coordinate
    worst = None
    if fall.fall is not None and fall.needed is not None and fall.distance is not None:
        doubt = "" if fall.plus_minus_95 is None else f" ± {fine(fall.plus_minus_95, length_unit)}"
        told = figures.signed_fine(fall.fall, length_unit).lstrip("+")
        worst = f"{told}{doubt} in {figures.length(fall.distance, length_unit)}"
    return {
        "name": plain(fall.wall),
        "verdict": fall.verdict + (f": {WHY[fall.why]}" if fall.why in WHY else ""),
        "stations": f"{fall.stations} of {fall.asked}",
        "failing": figures.count(fall.failing),
        "mean": "–" if fall.mean_per_run is None else f"{fall.mean_per_run:.1%}",
        "worst": worst,
        "needed": None if fall.needed is None else fine(fall.needed, length_unit),
    }
