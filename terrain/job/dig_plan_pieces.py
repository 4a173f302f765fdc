"""What is dug from a stand, piece by piece, so that it can be painted; and what stays standing."""

from dataclasses import dataclass

import numpy as np
import shapely

from terrain.job.dig_plan_ahead import Ahead, seen_ahead
from terrain.job.dig_plan_beside import wall_beside
from terrain.job.dig_plan_boxes import TOUCH
from terrain.job.dig_plan_record import DigPlan, Pass, Stand

ON_FLOOR, IN_EXTRA = 0.03, 0.1
"""Shares of a piece: within the dig line below which it is slope alone; and from which such a piece
is of a ramp, pit or trench."""

SEEN = 0.25
"""Square bucket widths from which a piece is told, or a later stand's ground within reach."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """Connected ground dug from one stand.

    Args:
        wall: the number of the wall it is by; None out in the floor.
        near, far: from the middle of the machine to its nearest and its farthest point.
        bearing: degrees from straight ahead to its middle, to the right positive.
        ahead: the same ground from the seat.
        is_square: whether it fills what is told of it from the seat but for a sliver; `to_paint`
            whether it does but for what of that is outside the cut.
        floor, slope: whether any of it is floor, or side above it.
        extra: the ramp, pit or trench it is of.
    """

    number: int
    ground: shapely.Polygon
    wall: int | None
    ahead: tuple[Ahead, ...]
    is_square: bool
    to_paint: bool
    near: float
    far: float
    bearing: float
    floor: bool
    slope: bool
    extra: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Later:
    """Ground within reach, in front, that stays for a stand to come."""

    stand: int
    ground: shapely.MultiPolygon


@dataclass(frozen=True, slots=True, kw_only=True)
class DugNow:
    """A stand's pieces; what is left in front of it; the stand that takes what is under its tracks.

    `slivers` is whether there are pieces besides, too small to be told; `never` whether there is
    ground in front that no stand takes.
    """

    pieces: tuple[Piece, ...]
    slivers: bool
    later: tuple[Later, ...]
    under: int | None
    never: bool


def dug_now(plan: DigPlan, one: Pass) -> DugNow:
    """What a pass of the plan digs, nearest piece first, and what it leaves."""
    after = [each for each in plan.passes if each.stand.number > one.stand.number]
    whole = _apart(plan, one)
    least = SEEN * plan.machine.bucket_width**2
    largest = max((part.area for part in whole), default=0.0)
    parts = [part for part in whole if part.area >= min(least, largest)]
    middle = shapely.Point(one.stand.spot)
    parts.sort(key=lambda part: float(part.distance(middle)))
    front = _in_front(plan, one.stand)
    later = [Later(stand=p.stand.number, ground=_areas(p.dug.intersection(front))) for p in after]
    tracks = shapely.Polygon(one.stand.tracks)
    below = [(float(p.dug.intersection(tracks).area), p.stand.number) for p in after]
    most, taker = max(below, default=(0.0, 0))
    return DugNow(
        pieces=tuple(_piece(plan, one, k, part) for k, part in enumerate(parts, start=1)),
        slivers=len(parts) < len(whole),
        later=tuple(each for each in later if each.ground.area > least),
        under=taker if most > least else None,
        never=bool(plan.left.intersection(front).area > least),
    )


def _apart(plan: DigPlan, one: Pass) -> list[shapely.Polygon]:
    """The connected ground of a pass, that of a ramp, pit or trench apart from what is beside it:
    its floor is another.
    """
    extras = [extra.dug for extra in plan.ground.extras]
    grounds = [one.dug.difference(shapely.union_all(extras)) if extras else one.dug]
    grounds += [one.dug.intersection(extra) for extra in extras]
    wide = [_areas(ground).buffer(TOUCH, join_style="mitre") for ground in grounds]
    return [part for ground in wide for part in shapely.get_parts(ground) if part.area > 0.0]


def _areas(shape: shapely.Geometry) -> shapely.MultiPolygon:
    return shapely.MultiPolygon(
        [part for part in shapely.get_parts(shape) if part.geom_type == "Polygon"]
    )


def _in_front(plan: DigPlan, stand: Stand) -> shapely.Polygon:
    """What is within reach ahead of the machine's middle."""
    reach, turn = plan.machine.reach, np.radians(stand.heading)
    ahead = np.array([np.sin(turn), np.cos(turn)])
    aside = np.array([ahead[1], -ahead[0]]) * reach
    spot = np.array(stand.spot)
    ring = [spot - aside, spot + aside, spot + aside + ahead * reach, spot - aside + ahead * reach]
    return shapely.Point(stand.spot).buffer(reach).intersection(shapely.Polygon(ring))


def _piece(plan: DigPlan, one: Pass, number: int, part: shapely.Polygon) -> Piece:
    spot = np.array(one.stand.spot)
    away = np.hypot(*(shapely.get_coordinates(part) - spot).T)
    east, north = np.array(part.centroid.coords[0]) - spot
    bearing = float(np.degrees(np.arctan2(east, north))) - one.stand.heading
    seen = seen_ahead(plan, one.stand, part)
    on_floor = part.intersection(shapely.Polygon(plan.site.dig_line)).area / part.area
    slope = bool(on_floor < 1.0 - ON_FLOOR)
    return Piece(
        number=number,
        ground=part,
        wall=wall_beside(plan, part, slope),
        ahead=seen.boxes,
        is_square=seen.is_square,
        to_paint=seen.to_paint,
        near=float(part.distance(shapely.Point(spot))),
        far=float(away.max()),
        bearing=(bearing + 180.0) % 360.0 - 180.0,
        floor=on_floor > ON_FLOOR,
        slope=slope,
        extra=None if on_floor > ON_FLOOR else _extra_of(plan, part),
    )


def _extra_of(plan: DigPlan, part: shapely.Polygon) -> str | None:
    """The ramp, pit or trench that has most of a piece off the floor."""
    shares = [
        (float(part.intersection(shapely.Polygon(ring).buffer(0)).area / part.area), name)
        for name, _, rings in plan.site.extras
        for ring in rings
    ]
    share, name = max(shares, default=(0.0, ""))
    return name if share > IN_EXTRA else None
