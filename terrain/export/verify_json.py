"""The check of a hole as one JSON object, every figure at full precision."""

from terrain.asdug.walls import Figure
from terrain.export.ledger_json import Json
from terrain.job.verify_record import (
    CornerChecked,
    FloorChecked,
    Todo,
    Verified,
    WallAmounts,
    WallChecked,
)


def verify_dict(found: Verified) -> dict[str, Json]:
    """The answer under plain keys; null stands for what could not be told."""
    return {
        "title": found.title,
        "date": found.date,
        "length_unit": found.length_unit,
        "volume_unit": found.volume_unit,
        "floor_tolerance": found.floor_tolerance,
        "line_tolerance": found.line_tolerance,
        "floor": None if found.floor is None else _floor(found.floor),
        "walls": [_wall(wall) for wall in found.walls],
        "corners": [_corner(corner) for corner in found.corners],
        "diagonals": [
            {
                "corners": list(one.corners),
                "dug": one.dug.value,
                "dug_plus_minus_95": one.dug.plus_minus_95,
                "asked": one.asked,
            }
            for one in found.diagonals
        ],
        "undercut": _value(found.undercut),
        "undercut_plus_minus_95": _doubt(found.undercut),
        "undercut_is_significant": _significant(found.undercut),
        "currency": found.currency,
        "verdict": found.verdict,
        "todo": [_todo(one) for one in found.todo],
        "notes": list(found.notes),
        "cautions": list(found.cautions),
    }


def _value(figure: Figure | None) -> float | None:
    return None if figure is None else float(figure.value)


def _doubt(figure: Figure | None) -> float | None:
    if figure is None or figure.plus_minus_95 is None:
        return None
    return float(figure.plus_minus_95)


def _significant(figure: Figure | None) -> bool | None:
    return None if figure is None else figure.is_significant


def _floor(floor: FloorChecked) -> Json:
    def spot(at: tuple[float, float] | None) -> Json:
        return None if at is None else [at[0], at[1]]

    return {
        "within": floor.within,
        "high_volume": _value(floor.high_volume),
        "high_volume_plus_minus_95": _doubt(floor.high_volume),
        "high_volume_is_significant": _significant(floor.high_volume),
        "low_volume": _value(floor.low_volume),
        "low_volume_plus_minus_95": _doubt(floor.low_volume),
        "low_volume_is_significant": _significant(floor.low_volume),
        "worst_high": floor.worst_high,
        "worst_low": floor.worst_low,
        "area": floor.area,
        "high_area": floor.high_area,
        "low_area": floor.low_area,
        "high_volume_beyond_2_sigma": floor.sure_high,
        "low_volume_beyond_2_sigma": floor.sure_low,
        "volume_of_noise": floor.thin_cut,
        "worst_high_at": spot(floor.high_at),
        "worst_low_at": spot(floor.low_at),
        "shots": floor.shots,
    }


def _wall(wall: WallChecked) -> Json:
    return {
        "wall": wall.wall,
        "shots": wall.shots,
        "asked": wall.asked,
        "first_corner": list(wall.first_corner),
        "narrow_at": [
            {"at": [one.at[0], one.at[1]], "along": one.along, "short": one.short}
            for one in wall.narrow_at
        ],
        "overdig": {
            "least": _value(wall.least),
            "mean": _value(wall.mean),
            "most": _value(wall.most),
            "least_plus_minus_95": _doubt(wall.least),
            "mean_plus_minus_95": _doubt(wall.mean),
            "most_plus_minus_95": _doubt(wall.most),
        },
        "turn_degrees": _value(wall.turn_degrees),
        "turn_plus_minus_95": _doubt(wall.turn_degrees),
        "bow": _value(wall.bow),
        "bow_plus_minus_95": _doubt(wall.bow),
        "bow_at": wall.bow_at,
        "batter": _value(wall.batter),
        "batter_plus_minus_95": _doubt(wall.batter),
        "batter_asked": wall.batter_asked,
        "left_out_of_line": wall.left_out,
        **_amounts(wall.amounts),
        "verdict": wall.verdict,
    }


def _amounts(amounts: WallAmounts | None) -> dict[str, Json]:
    """What is dug beyond and left; the excess to fill is in place, as large as what was dug."""
    over = None if amounts is None else amounts.overdug
    under = None if amounts is None else amounts.underdug
    net = None if amounts is None else amounts.net
    cost = None if amounts is None else amounts.cost
    return {
        "overdug": _value(over),
        "overdug_plus_minus_95": _doubt(over),
        "overdug_is_significant": _significant(over),
        "overdug_of_noise": None if amounts is None else amounts.noise_over,
        "overdug_beyond_2_sigma": None if amounts is None else amounts.sure_over,
        "underdug": _value(under),
        "underdug_plus_minus_95": _doubt(under),
        "underdug_is_significant": _significant(under),
        "underdug_of_noise": None if amounts is None else amounts.noise_under,
        "underdug_beyond_2_sigma": None if amounts is None else amounts.sure_under,
        "net": _value(net),
        "net_plus_minus_95": _doubt(net),
        "net_is_significant": _significant(net),
        "excess_dig": _value(over),
        "excess_backfill": _value(over),
        "excess_cost": _value(cost),
        "excess_cost_plus_minus_95": _doubt(cost),
    }


def _corner(corner: CornerChecked) -> Json:
    return {
        "between": list(corner.between),
        "angle_degrees": corner.angle_degrees.value,
        "angle_plus_minus_95": corner.angle_degrees.plus_minus_95,
        "asked_degrees": corner.asked_degrees,
        "offset": corner.offset.value,
        "offset_plus_minus_95": corner.offset.plus_minus_95,
        "at": [corner.at[0], corner.at[1]],
    }


def _todo(one: Todo) -> Json:
    return {
        "what": one.what,
        "wall": one.wall,
        "message": one.message,
        "volume": one.volume,
        "stakes": len(one.at),
    }
