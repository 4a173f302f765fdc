"""The lot as graded as plain JSON, every figure at full precision."""

from terrain.base.units import LENGTH_UNITS
from terrain.export.doubt_json import Json
from terrain.export.grade_json import drainage_dict
from terrain.job.asgraded_record import GradedFall, GradedSide, GradedSurvey, WorstShot


def asgraded_list(
    surveys: tuple[GradedSurvey, ...], length_unit: str, paths: dict[str, str]
) -> Json:
    """What the key `asgraded` holds: each day's ground against the finished surface.

    Errors are as graded less finished: high positive. `paths` are the files by raster; the others
    have null.
    """
    return [_survey(survey, length_unit, paths) for survey in surveys]


def _survey(survey: GradedSurvey, length_unit: str, paths: dict[str, str]) -> Json:
    return {
        "date": survey.date,
        "vertical_datum": survey.vertical_datum,
        "tolerance": survey.tolerance,
        "shots": {
            "count": survey.shots,
            "within": survey.shots_within,
            "not_judged": survey.not_judged,
            "mean": survey.mean,
            "standard_deviation": survey.deviation,
            "rmse": survey.rmse,
            "at_95": survey.at_95,
            "worst_high": _worst(survey.worst_high),
            "worst_low": _worst(survey.worst_low),
        },
        "sides": [_side(side) for side in survey.sides],
        "total": _side(survey.total),
        "falls": [_fall(fall) for fall in survey.falls],
        "drainage": drainage_dict(survey.drainage, length_unit),
        "rasters": [
            {
                "name": raster.name,
                "path": paths.get(raster.name),
                "cell": raster.grid.cell,
                "length_unit": LENGTH_UNITS[length_unit].name,
            }
            for raster in survey.rasters
        ],
        "notes": list(survey.notes),
    }


def _worst(worst: WorstShot | None) -> Json:
    if worst is None:
        return None
    return {"error": worst.error, "at": list(worst.spot), "row": worst.place}


def _side(side: GradedSide) -> Json:
    return {
        "wall": side.wall,
        "area": side.area,
        "share_within": side.share_within,
        "high": side.high,
        "low": side.low,
        "to_trim": side.to_trim,
        "to_fill": side.to_fill,
        "net": side.net,
        "net_plus_minus_95": side.net_plus_minus_95,
        "net_significant": side.is_significant,
        "thin_cut": side.thin_cut,
    }


def _fall(fall: GradedFall) -> Json:
    return {
        "wall": fall.wall,
        "verdict": fall.verdict,
        "stations": fall.stations,
        "stations_asked": fall.asked,
        "failing": fall.failing,
        "mean_per_run": fall.mean_per_run,
        "worst": None
        if fall.spot is None or fall.to is None
        else {
            "from": list(fall.spot),
            "to": list(fall.to),
            "distance": fall.distance,
            "fall": fall.fall,
            "needed": fall.needed,
            "plus_minus_95": fall.plus_minus_95,
            "why": fall.why,
            "along": fall.along,
            "first_corner": None if fall.first_corner is None else list(fall.first_corner),
            "lacking": fall.lacking,
            "highest_out": fall.high_out,
        },
    }
