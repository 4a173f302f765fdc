"""Progress, piles and soil of a verified dig as plain JSON, every figure at full precision."""

from terrain.export.doubt_json import Json, doubt_json
from terrain.job.piles_record import PileRow, PilesSurvey, SideStock, SoilMeasured, StockInAll
from terrain.job.progress_record import Figure, ProgressRow, ProgressSurvey


def progress_list(surveys: tuple[ProgressSurvey, ...]) -> Json:
    """What the key `progress` holds: the dig on each day, in bank and the job's volume unit."""
    return [
        {
            "date": survey.date,
            "last": survey.last,
            "share_dug": survey.share_dug,
            "thin_cut": survey.thin_cut,
            "total": _row(survey.total),
            "rows": [_row(row) for row in survey.rows],
            "elsewhere": _figure(survey.elsewhere),
            "rate": {
                "days": survey.rate.days,
                "per_day": survey.rate.per_day,
                "hours": survey.rate.hours,
                "per_hour": survey.rate.per_hour,
                "days_left": survey.rate.days_left,
                "hours_left": survey.rate.hours_left,
            },
        }
        for survey in surveys
    ]


def _row(row: ProgressRow) -> dict[str, Json]:
    told: dict[str, Json] = {
        "name": row.name,
        "kind": row.kind,
        "design": _figure(row.design),
        "dug": _figure(row.dug),
        "since_last": None if row.since_last is None else _figure(row.since_last),
        "left": _figure(row.left),
        "beyond": _figure(row.beyond),
    }
    if row.parts:
        told["parts"] = [_row(part) for part in row.parts]
    return told


def _figure(figure: Figure) -> Json:
    return {
        "bank": float(figure.volume),
        "plus_minus_95": figure.plus_minus_95,
        "significant": figure.is_significant,
    }


def piles_list(surveys: tuple[PilesSurvey, ...]) -> Json:
    """What the key `piles` holds: the piles of each day and each side's stock, loose."""
    return [
        {
            "date": survey.date,
            "total": {
                "loose": float(survey.total),
                "plus_minus_95": survey.total_plus_minus_95,
            },
            "piles": [_pile(pile) for pile in survey.piles],
            "sides": [_side(side) for side in survey.sides],
            "in_all": _in_all(survey.in_all),
            "soil": soil_dict(survey.soil),
            "topsoil": soil_dict(survey.topsoil_soil),
            "notes": list(survey.notes),
        }
        for survey in surveys
    ]


def _pile(pile: PileRow) -> Json:
    return {
        "name": pile.name,
        "side": pile.side,
        "topsoil": pile.is_topsoil,
        "loose": float(pile.loose),
        "plus_minus_95": pile.plus_minus_95,
        "doubt": doubt_json(pile.doubt),
        "below_ground": float(pile.below),
        "area": pile.area,
        "height": pile.height,
        "top": list(pile.top),
        "foot": {
            "mean": pile.foot_mean,
            "most": pile.foot_most,
            "at": list(pile.foot_spot),
            "missing": float(pile.missing),
        },
    }


def _side(side: SideStock) -> Json:
    def loose(volume: float | None) -> Json:
        return None if volume is None else float(volume)

    return {
        "wall": side.wall,
        "stock": float(side.stock),
        "to_come": loose(side.to_come),
        "needs": loose(side.needs),
        "spare": loose(side.spare),
    }


def _in_all(whole: StockInAll) -> Json:
    def loose(volume: float | None) -> Json:
        return None if volume is None else float(volume)

    return {
        "stock": float(whole.stock),
        "stock_plus_minus_95": whole.stock_plus_minus_95,
        "to_come": loose(whole.to_come),
        "to_come_from_extras": loose(whole.from_extras),
        "needs": loose(whole.needs),
        "spare": loose(whole.spare),
        "hauled": float(whole.hauled),
        "truck": whole.truck,
        "loads": whole.loads,
    }


def soil_dict(soil: SoilMeasured | None) -> Json:
    """What the key `soil` holds: the measured swell with its doubt against the published one."""
    if soil is None:
        return None
    return {
        "since": soil.since,
        "until": soil.until,
        "swell": soil.swell,
        "plus_minus_95": soil.plus_minus_95,
        "doubt": doubt_json(soil.doubt),
        "bank": {"bank": float(soil.bank), "plus_minus_95": soil.bank_plus_minus_95},
        "loose": {"loose": float(soil.loose), "plus_minus_95": soil.loose_plus_minus_95},
        "hauled": float(soil.hauled),
        "job_swell": soil.table_swell,
        "published": {
            "least": soil.published.least,
            "most": soil.published.most,
            "of": soil.published.name,
            "source": soil.published.source,
        },
        "may_be_used": soil.reason is None,
        "reason": soil.reason,
        "used": soil.is_used,
    }
