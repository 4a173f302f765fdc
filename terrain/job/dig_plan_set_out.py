"""A dig plan as one sets out by it: tapes to each stand, truck loads, ways off the lot."""

from dataclasses import dataclass
from itertools import combinations
from math import ceil, floor

import numpy as np
import shapely

from terrain.base.arrays import FloatArray
from terrain.job.dig_plan_buckets import thrown
from terrain.job.dig_plan_record import CardWall, Cast, DigPlan, Pass, Place, Stand
from terrain.ledger.entries import BankVolume, LooseVolume

AT_A_CORNER = 0.05
"""Length units from a corner within which what is dug takes its stake."""

LEAST = 1e-9
"""Square length units that are no area, and length units that are no length."""

PER_STRAIGHT = 0.6
"""Sine of the angle between two tapes under which they cross too flat to fix a spot."""

UNDER = 3.0
"""How many times its length a tape costs from a corner that the machine itself may cover."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tape:
    """A distance from a corner of the foundation, by its number in the job's order."""

    corner: int
    length: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """Where the middle of the machine is.

    Args:
        corner, along, heading: so far from that corner, that way, along its wall's line; `corner`
            is None for a stand along no wall.
        inside: how far inside the wall's line, negative outside.
        past: whether that is past the corner, in line with the wall.
        tapes: from two corners, and `side` the way the spot lies off the line between them.
        foot: (2,) the point of the wall's line that it is measured from square; None without wall.
    """

    corner: int | None
    along: float
    heading: float
    inside: float
    past: bool
    tapes: tuple[Tape, Tape]
    side: float
    foot: FloatArray | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Loaded:
    """A cast of a pass; `first` to `last` are the truck loads that it goes in, of the whole.

    `way` is the way from the stand to where it is emptied, degrees; None for a truck without a
    place.
    """

    cast: Cast
    way: float | None
    first: int | None
    last: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class SetOut:
    """One pass as set out; volumes are without topsoil, which came off before.

    `leaves` are the ways, in degrees, by which the machine crosses the lot line on its way here,
    `ramp` the ramp it comes down.
    """

    one: Pass
    spot: Spot
    casts: tuple[Loaded, ...]
    bank: BankVolume
    loose: LooseVolume
    leaves: tuple[float, ...]
    ramp: str | None


def set_out(plan: DigPlan) -> tuple[SetOut, ...]:
    """Every pass of a plan as set out, in order."""
    trucked = 0.0
    found: list[SetOut] = []
    truck = next((place.name for place in plan.places if place.kind == "truck"), None)
    share = plan.bank / plan.loose if plan.loose > 0 else 1.0
    for one in plan.passes:
        casts = []
        for cast in thrown(one):
            is_load = cast.place == truck and plan.ground.truck_load is not None
            loads = _loads(plan, cast, trucked) if is_load else (None, None)
            way = None if cast.spot is None else np.array(cast.spot) - np.array(one.stand.spot)
            casts.append(
                Loaded(
                    cast=cast,
                    way=None if way is None else _heading(way),
                    first=loads[0],
                    last=loads[1],
                )
            )
            trucked += cast.loose if cast.place == truck else 0.0
        loose = sum(float(each.cast.loose) for each in casts)
        found.append(
            SetOut(
                one=one,
                spot=spot_of(plan, one.stand),
                casts=tuple(casts),
                bank=BankVolume(loose * share),
                loose=LooseVolume(loose),
                leaves=_leaves(plan, one.stand),
                ramp=_ramp_down(plan, one.stand),
            )
        )
    return tuple(found)


def _loads(plan: DigPlan, cast: Cast, before: float) -> tuple[int, int]:
    """The first and the last truck load that a cast goes in, after so much that was loaded."""
    load = float(plan.ground.truck_load or 1.0)
    first = floor(before / load + LEAST) + 1
    return first, max(first, ceil((before + cast.loose) / load - LEAST))


def wall_number(plan: DigPlan, name: str) -> int | None:
    """A wall's number in the job's order, of a wall with two legs too; None for a ramp or pit."""
    walls = plan.site.walls
    if name in walls:
        return walls.index(name)
    base = name.rsplit(" (", 1)[0]
    return walls.index(base) if base in walls else None


def spot_of(plan: DigPlan, stand: Stand) -> Spot:
    """Where a stand is, by the nearer corner of its wall and by two corners."""
    corners, at = plan.site.corners, np.array(stand.spot)
    tapes, side = two_tapes(plan, at)
    wall = wall_number(plan, stand.wall)
    if wall is None:
        return Spot(corner=None, along=0.0, heading=0.0, inside=0.0, past=True, tapes=tapes,
                    side=side, foot=None)  # fmt: skip
    start, end = corners[wall], corners[(wall + 1) % len(corners)]
    length = float(np.hypot(*(end - start)))
    along = (end - start) / length
    inward = _inward(plan, along)
    station = float((at - start) @ along)
    from_start = station <= length / 2
    return Spot(
        corner=wall if from_start else (wall + 1) % len(corners),
        along=abs(station) if from_start else abs(length - station),
        heading=_heading(along if from_start == (0.0 <= station <= length) else -along),
        inside=float((at - start) @ inward),
        past=not -LEAST <= station <= length + LEAST,
        tapes=tapes,
        side=side,
        foot=start + station * along,
    )


def _inward(plan: DigPlan, along: FloatArray) -> FloatArray:
    """Square to a wall of the outline, into the house."""
    is_left = shapely.LinearRing(plan.site.corners).is_ccw
    return np.array([-along[1], along[0]]) if is_left else np.array([along[1], -along[0]])


def two_tapes(plan: DigPlan, at: FloatArray) -> tuple[tuple[Tape, Tape], float]:
    """The two corners whose tapes are short and cross well, and the way off their line.

    Corners that the machine may stand over are a last choice.
    """
    corners = plan.site.corners
    off = at - corners
    away = np.hypot(*off.T)

    def cost(pair: tuple[int, int]) -> float:
        a, b = pair
        cross = abs(off[a, 0] * off[b, 1] - off[a, 1] * off[b, 0])
        sine = cross / max(away[a] * away[b], LEAST)
        under = sum(away[k] < plan.machine.track_length / 2 for k in pair)
        return float((away[a] + away[b]) * UNDER**under / min(sine / PER_STRAIGHT + LEAST, 1.0))

    one, two = min(combinations(range(len(corners)), 2), key=cost)
    along = corners[two] - corners[one]
    aside = np.array([-along[1], along[0]])
    side = aside if (at - corners[one]) @ aside >= 0 else -aside
    return (
        (Tape(corner=one, length=float(away[one])), Tape(corner=two, length=float(away[two]))),
        _heading(side),
    )


def _heading(way: FloatArray) -> float:
    return float(np.degrees(np.arctan2(way[0], way[1])) % 360.0)


def leaves_lot(plan: DigPlan, one: Pass) -> bool:
    """Whether the machine's way to a stand leaves the lot."""
    return bool(_leaves(plan, one.stand))


def _leaves(plan: DigPlan, stand: Stand) -> tuple[float, ...]:
    """The ways by which a machine's way to its stand crosses the lot line outwards."""
    if plan.site.boundary is None or len(stand.way) < 2:
        return ()
    lot = shapely.Polygon(plan.site.boundary)
    outside = shapely.LineString(stand.way).difference(lot.buffer(1e-6))
    middle = np.array(lot.centroid.coords[0])
    parts = [part for part in shapely.get_parts(outside) if part.length > LEAST]
    return tuple(_side_of(lot, part, middle) for part in parts)


def _side_of(lot: shapely.Polygon, part: shapely.Geometry, middle: FloatArray) -> float:
    """The way square out of the lot line that a stretch outside lies off."""
    spot = np.array(part.interpolate(0.5, normalized=True).coords[0])
    ring = lot.exterior
    near = np.array(ring.interpolate(ring.project(shapely.Point(spot))).coords[0])
    out = spot - near
    return _heading(out if np.hypot(*out) > 1e-6 else spot - middle)


def _ramp_down(plan: DigPlan, stand: Stand) -> str | None:
    """The ramp whose ground the way to a stand on the floor goes over."""
    if stand.kind != "floor" or len(stand.way) < 2:
        return None
    way = shapely.LineString(stand.way)
    dig = shapely.Polygon(plan.site.dig_line)
    if dig.covers(shapely.Point(stand.way[0])) and dig.buffer(1e-3).covers(way):
        return None
    for name, kind, rings in plan.site.extras:
        if kind == "ramp" and any(shapely.Polygon(ring).intersects(way) for ring in rings):
            return name
    return None


def stands_in(plan: DigPlan, rings: tuple[FloatArray, ...]) -> tuple[int, ...]:
    """The numbers of the stands that dig over some ground."""
    ground = shapely.union_all([shapely.Polygon(ring).buffer(0) for ring in rings])
    least = 1e-3 * max(ground.area, LEAST)
    return tuple(
        one.stand.number for one in plan.passes if one.dug.intersection(ground).area > least
    )


def stands_digging(plan: DigPlan, wall: CardWall) -> tuple[int, ...]:
    """The numbers of the stands that dig along a wall, out from its face."""
    start, end = wall.line
    cut = next((c for c in plan.ground.cuts if c.wall == wall.wall), None)
    out = wall.line - wall.face
    square = np.array([end[1] - start[1], start[0] - end[0]])
    square = square / max(float(np.hypot(*square)), LEAST)
    outward = square if float(out.sum(axis=0) @ square) >= 0 else -square
    run = (wall.overdig if cut is None else cut.out[1] - wall.overdig) + LEAST
    band = np.array([start - outward * wall.overdig, end - outward * wall.overdig,
                     end + outward * run, start + outward * run])  # fmt: skip
    return stands_in(plan, (band,))


def from_corner(plan: DigPlan, spot: tuple[float, float]) -> tuple[int, float, float]:
    """The nearest corner to a spot, and how far east and north of it the spot lies."""
    off = np.array(spot) - plan.site.corners
    nearest = int(np.hypot(*off.T).argmin())
    return nearest, float(off[nearest, 0]), float(off[nearest, 1])


def tape_from_corner(plan: DigPlan, spot: tuple[float, float]) -> Tape:
    """The tape to a spot from the nearest corner."""
    nearest, east, north = from_corner(plan, spot)
    return Tape(corner=nearest, length=float(np.hypot(east, north)))


def setback_of(plan: DigPlan, place: Place) -> float | None:
    """How far a pile's foot is from the edge of the cut; None where nothing lies."""
    if place.ground.is_empty or plan.site.daylight.is_empty:
        return None
    return float(place.ground.distance(plan.site.daylight))


def corners_gone(plan: DigPlan) -> tuple[tuple[int, int], ...]:
    """Corners of the house that stand in dug ground, and the first stand that digs it away."""
    found = []
    for number, corner in enumerate(plan.site.corners):
        spot = shapely.Point(corner)
        stands = [one.stand.number for one in plan.passes if one.dug.distance(spot) < AT_A_CORNER]
        if stands:
            found.append((number, min(stands)))
    return tuple(found)


def clear_of_piles(plan: DigPlan) -> float:
    """How far out from the house's outline piles reach, in length units."""
    house = shapely.Polygon(plan.site.corners)
    laid = [p.ground for p in plan.places if p.kind == "side" and p.cast + p.already > 0.0]
    spots = [p for ground in laid for p in shapely.points(shapely.get_coordinates(ground))]
    return max((float(house.distance(spot)) for spot in spots), default=0.0)
