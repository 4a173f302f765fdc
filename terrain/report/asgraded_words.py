"""The lot as graded in words and drawings, for the page."""

from markupsafe import Markup

from terrain.job.asgraded_record import GradedFall, GradedSide, GradedSurvey, WorstShot
from terrain.job.drainage import Spot
from terrain.report import figures
from terrain.report.asgraded_plan import GradedSheet, asgraded_svg
from terrain.report.names import plain
from terrain.report.told import NARROW_PLAN, WIDE_PLAN, Words


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
        "faults": [
            {"name": plain(fall.wall), "said": fall_fault(fall, length_unit)}
            for fall in survey.falls
            if fall.verdict == "fails"
        ],
        "ponds": [
            {
                "spot": spot_of(pond.spot),
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
        "spot": spot_of(worst.spot),
        "place": plain(worst.place),
    }


def spot_of(spot: Spot) -> str:
    """A place on the site's grid, as exact as one needs to find it: `E 523.8 N 360.2`."""
    return f"E {spot[0]:.1f} N {spot[1]:.1f}".replace("-", "−")


def side_words(side: GradedSide) -> Words:
    """A side of the lot, or with no wall the lot."""
    net = figures.signed(side.net)
    if side.net_plus_minus_95 is not None:
        net += f" ± {figures.plus_minus(side.net_plus_minus_95)}"
    return {
        "name": None if side.wall is None else plain(side.wall),
        "within": "–" if side.share_within is None else figures.percent(side.share_within),
        "high": figures.volume(side.high),
        "low": figures.volume(side.low),
        "trim": figures.volume(side.to_trim),
        "fill": figures.volume(side.to_fill),
        "net": net + (" *" if side.is_significant is False else ""),
    }


def fall_words(fall: GradedFall, length_unit: str) -> Words:
    """How the ground falls from one wall where that is least for what is asked."""
    is_known = fall.fall is not None and fall.distance is not None
    return {
        "name": plain(fall.wall),
        "verdict": fall.verdict,
        "stations": f"{fall.stations} of {fall.asked}",
        "failing": figures.count(fall.failing),
        "where": None if fall.along is None else figures.length(fall.along, length_unit),
        "found": _found(fall, length_unit) if is_known else None,
        "needed": _needed(fall, length_unit),
    }


def _found(fall: GradedFall, length_unit: str, sign: str = "") -> str:
    """What the ground does at the worst station: how much it falls or rises, how far out.

    `sign` goes after each length, in a sentence.
    """
    assert fall.fall is not None
    assert fall.distance is not None
    fine = figures.coordinate
    doubt = "" if fall.plus_minus_95 is None else f" ± {fine(fall.plus_minus_95, length_unit)}"
    amount = f"{fine(abs(fall.fall), length_unit)}{doubt}{sign}"
    if fall.why == "rises" and fall.high_out is not None:
        return f"rises {amount}, {figures.length(fall.high_out, length_unit)}{sign} out"
    where = f"in {figures.length(fall.distance, length_unit)}{sign}"
    if fall.why == "hard surface":
        where = "over the paving"
    elif fall.why == "settlement":
        where += " once settled"
    return f"{'rises' if fall.fall < 0.0 else 'falls'} {amount} {where}"


def _needed(fall: GradedFall, length_unit: str) -> str | None:
    if fall.needed is None:
        return None
    if fall.why == "rises":
        return "no rise"
    return f"falls {figures.coordinate(fall.needed, length_unit)}"


def fall_fault(fall: GradedFall, length_unit: str) -> str:
    """Where the ground fails to fall from a wall, what there is and is asked, and what to do."""
    if fall.why is None or fall.along is None or fall.lacking is None or fall.spot is None:
        return "a swale beside it falls too little along its line; the map shows where."
    sign = f" {figures.unit_sign(length_unit)}"
    lacking = figures.coordinate(fall.lacking, length_unit) + sign
    corner = "" if fall.first_corner is None else " / ".join(map(plain, fall.first_corner))
    along = figures.length(fall.along, length_unit)
    along = f"{along}{sign} along it from" if along.strip("0.") else "at its"
    asked = _needed(fall, length_unit)
    there = (
        f"{along} corner {corner}, {spot_of(fall.spot)}, the ground "
        f"{_found(fall, length_unit, sign)}; asked: {asked}{sign if fall.why != 'rises' else ''}"
    )
    if fall.why == "rises" and fall.high_out is not None:
        return f"{there}. Cut {lacking} off it there."
    if fall.why == "hard surface":
        return f"{there}. The paving's outer edge lies {lacking} too high."
    out = "" if fall.distance is None else figures.length(fall.distance, length_unit) + sign
    return f"{there}. Cut {lacking} at {out} out, or fill as much at the wall."
