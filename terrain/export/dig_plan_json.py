"""The dig plan as JSON: every figure in full; positions on the site's grid."""

import json
from dataclasses import asdict
from typing import Any, TypeAlias

import numpy as np

from terrain.base.frame import LocalFrame
from terrain.export.text import plain
from terrain.job.dig_plan_record import (
    CardWall,
    DigPlan,
    Hours,
    OrderTold,
    Pass,
    Place,
    RimCorner,
    Spot,
    TruckSpot,
)

Json: TypeAlias = dict[str, Any]


def dig_plan_json(plan: DigPlan) -> str:
    """The plan as a JSON text."""
    return json.dumps(_plan(plan), indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def _plan(plan: DigPlan) -> Json:
    return {
        "title": plain(plan.title),
        "start": plan.start,
        "length_unit": plan.length_unit,
        "volume_unit": plan.volume_unit,
        "crs": plan.crs,
        "orders": [_order(one) for one in plan.orders],
        "passes": [_pass(one, plan.frame) for one in plan.passes],
        "places": [_place(one, plan.frame) for one in plan.places],
        "trucks": [_truck(one, plan.frame) for one in plan.trucks],
        "rim_corners": [_corner(one, plan.frame) for one in plan.rim_corners],
        "cautions": [
            {"code": c.code, "wall": c.wall, "message": plain(c.message)} for c in plan.cautions
        ],
        "rehandled": [
            {
                "from": move.source,
                "to": move.target,
                "loose": float(move.loose),
                "distance": move.distance,
            }
            for move in plan.moves
        ],
        "total": _total(plan),
        "machine": asdict(plan.machine),
        "spoil": asdict(plan.spoil),
        "stakes": [asdict(stake) for stake in plan.stakes],
        "walls": [_wall(one, plan.frame) for one in plan.card],
        "assumed": [plain(text) for text in plan.assumed],
        "notes": [plain(text) for text in plan.notes],
    }


def _total(plan: DigPlan) -> Json:
    return {
        "bank": float(plan.bank),
        "loose": float(plan.loose),
        "topsoil_bank": float(plan.topsoil_bank),
        "left_bank": float(plan.left_bank),
        "left_why": plan.left_why,
        "haul_loose": float(plan.haul_loose),
        "loads": plan.loads,
        "loads_dug": plan.loads_dug,
        "short_loose": float(plan.short_loose),
        "rehandled_loose": float(plan.rehandled_loose),
        "volume_distance": plan.volume_distance,
        "hours": _hours(plan.hours),
        "hoe_hours": plan.hoe_hours,
    }


def _hours(hours: Hours) -> Json:
    return {"low": hours.low, "high": hours.high}


def _order(order: OrderTold) -> Json:
    return {
        "start_wall": order.start_wall,
        "direction": order.direction,
        "rim_corners": order.rim_corners,
        "rehandled": {
            "loose": float(order.rehandled_loose),
            "volume_distance": order.volume_distance,
        },
        "haul_loose": float(order.haul_loose),
        "hours": _hours(order.hours),
        "nearest_hours": _hours(order.nearest_hours),
        "left_bank": float(order.left_bank),
        "why": order.why,
    }


def _pass(one: Pass, frame: LocalFrame) -> Json:
    stand = one.stand
    return {
        "stand": stand.number,
        "kind": stand.kind,
        "wall": one.wall,
        "position": _spot(stand.spot, frame),
        "heading_degrees": stand.heading,
        "station": stand.station,
        "station_from": one.station_from,
        "station_to": one.station_to,
        "bank": float(one.bank),
        "loose": float(one.loose),
        "to": {cast.place: float(cast.loose) for cast in one.to},
        "buckets": {cast.place: cast.buckets for cast in one.to},
        "truck": next((cast.truck for cast in one.to if cast.truck is not None), None),
        "tracks": frame.to_site(stand.tracks).tolist(),
        "way": frame.to_site(stand.way).tolist(),
    }


def _place(place: Place, frame: LocalFrame) -> Json:
    return {
        "name": place.name,
        "needed": float(place.needed),
        "cast": float(place.cast),
        "capacity": float(place.capacity),
        "kind": place.kind,
        "already": float(place.already),
        "height": place.height,
        "buckets": place.buckets,
        "kept_open": place.kept_open,
        "why": place.why,
        "ground": [
            frame.to_site(np.array(part.exterior.coords)).tolist() for part in place.ground.geoms
        ],
    }


def _truck(truck: TruckSpot, frame: LocalFrame) -> Json:
    return {
        "number": truck.number,
        "body": _spot(truck.body, frame),
        "heading_degrees": truck.heading,
        "ground": frame.to_site(truck.ring).tolist(),
        "stands": list(truck.stands),
        "loose": float(truck.loose),
        "between": list(truck.between),
    }


def _corner(corner: RimCorner, frame: LocalFrame) -> Json:
    return {
        "between": list(corner.between),
        "stand": corner.stand,
        "position": _spot(corner.spot, frame),
        "inside": corner.inside,
    }


def _wall(wall: CardWall, frame: LocalFrame) -> Json:
    return {
        "wall": wall.wall,
        "face": frame.to_site(wall.face).tolist(),
        "line": frame.to_site(wall.line).tolist(),
        "overdig": wall.overdig,
        "floor": wall.floor,
        "side": wall.side,
        "bank": float(wall.bank),
        "loose": float(wall.loose),
        "stands": list(wall.stands),
        "to": {cast.place: float(cast.loose) for cast in wall.casts},
        "buckets": {cast.place: cast.buckets for cast in wall.casts},
        "needed": float(wall.needed),
        "cast": float(wall.cast),
        "rim": list(wall.rim),
    }


def _spot(spot: Spot, frame: LocalFrame) -> list[float]:
    return [spot[0] + frame.easting, spot[1] + frame.northing]
