"""Where a truck may stand to be loaded: backed in beside the cut, square to a wall or along it.

It keeps the setback from the edge of the cut, stays on free ground, and drives straight out ahead
of itself until it is beyond the cut and all piles. Where the road is, nobody has said.
"""

from dataclasses import dataclass, replace

import numpy as np
import shapely

from terrain.base.arrays import BoolArray, FloatArray, IntArray
from terrain.base.units import LengthUnit
from terrain.haul.legs import Leg, footprint
from terrain.haul.machine import Machine
from terrain.haul.outside import run_of
from terrain.haul.places import Places
from terrain.haul.stands import WITHIN
from terrain.haul.work import Work

LENGTH_M, WIDTH_M = 8.0, 3.0
"""Metres of ground a tipping truck takes, the width with room to walk by; common practice, no
source."""

BODY_M = 2.2
"""Metres from its tail to the middle of its body, one of 10 m3; common practice, no source."""

SIDE_M = 2.7
"""Metres from the ground to the top of the body's side; common practice, no source."""

LIFTS_TO = 0.78
"""How high above its tracks a machine empties its bucket over a truck close by, as a share of its
reach; farther out less, by an ellipse to nothing at full reach. Common practice, no source: to be
checked against the machine's own chart."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Truck:
    """A tipping truck, in length units: the ground it takes, its body, the side of that."""

    length: float
    width: float
    body: float
    side: float


def lift(machine: Machine, away: FloatArray) -> FloatArray:
    """How high above its tracks a machine empties its bucket so far out, in length units."""
    share = np.clip(away / machine.reach, 0.0, 1.0)
    return np.asarray(LIFTS_TO * machine.reach * np.sqrt(1.0 - share**2))


def usual_truck(unit: LengthUnit) -> Truck:
    """A usual one."""
    metres = float(unit.metres)
    return Truck(
        length=LENGTH_M / metres, width=WIDTH_M / metres, body=BODY_M / metres, side=SIDE_M / metres
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Bays:
    """Spots for a truck, (b,) each.

    Args:
        body: (b, 2) the middle of the body, where buckets are emptied.
        facing: (b, 2) unit vector, the way it drives out.
        ring: (b, 4, 2) the ground it takes.
        way: (b,) the ground it drives out over, as far as cut and piles reach.
        top: (b,) elevation of its side.
    """

    body: FloatArray
    facing: FloatArray
    ring: FloatArray
    way: FloatArray
    top: FloatArray

    def __len__(self) -> int:
        return len(self.body)

    def of(self, chosen: IntArray | BoolArray) -> "Bays":
        """Some of them."""
        return replace(
            self, body=self.body[chosen], facing=self.facing[chosen], ring=self.ring[chosen],
            way=self.way[chosen], top=self.top[chosen],
        )  # fmt: skip

    def ground(self) -> FloatArray:
        """(b,): what they take of the plan, stand and way."""
        return np.asarray(shapely.union(shapely.polygons(self.ring), self.way))

    def over(self, others: "Bays") -> BoolArray:
        """(b,): whether each shares ground with any of some others."""
        rings = shapely.polygons(self.ring)
        taken = shapely.union_all(shapely.polygons(others.ring))
        return np.asarray(shapely.intersects(rings, taken))

    def away(self, spot: FloatArray) -> FloatArray:
        """(k, b): how far spots (k, 2) lie from the ground that a truck takes."""
        return np.asarray(
            shapely.distance(shapely.points(spot)[:, None], shapely.polygons(self.ring)[None, :])
        )


def may_load(machine: Machine, bays: Bays, spot: FloatArray, level: FloatArray) -> BoolArray:
    """(k, b): whether a truck in each bay is loaded from spots (k, 2), tracks at elevations (k,).

    The body is near enough and no higher than the machine lifts, and the truck stands clear of its
    tail.
    """
    away = np.hypot(*(bays.body[None, :] - spot[:, None]).transpose(2, 0, 1))
    lifted = bays.top[None, :] - level[:, None] <= lift(machine, away)
    clear = bays.away(spot) >= machine.swings_in
    return np.asarray((away <= machine.loads_within) & lifted & clear)


def bays_of(work: Work, legs: tuple[Leg, ...], truck: Truck, places: Places) -> Bays:
    """All spots beside the legs for a truck, step by step, whether or not earth may lie there."""
    spots = [
        spot
        for leg in legs
        for station in _stations(work, leg)
        for spot in _beside(work, leg, station, truck)
    ]
    tail = np.array([at for at, _ in spots]).reshape(-1, 2)
    facing = np.array([way for _, way in spots]).reshape(-1, 2)
    middle = tail + facing * truck.length / 2
    ring = np.array(
        [
            footprint(at, way, truck.length, truck.width)
            for at, way in zip(middle, facing, strict=True)
        ]
    ).reshape(-1, 4, 2)
    body = tail + facing * truck.body
    found = Bays(
        body=body,
        facing=facing,
        ring=ring,
        way=_ways(work, (tail + facing * truck.length, facing), truck, places),
        top=work.heights(body) + truck.side if len(body) else np.zeros(0),
    )
    return found.of(_free(work, found))


def _stations(work: Work, leg: Leg) -> FloatArray:
    over, step = work.machine.reach / 2, work.machine.step
    count = max(2, int(np.ceil((leg.length + 2 * over) / step)) + 1)
    return np.linspace(-over, leg.length + over, count)


def _beside(
    work: Work, leg: Leg, station: float, truck: Truck
) -> list[tuple[FloatArray, FloatArray]]:
    """Tail and heading of a truck backed in square to a leg, and along it from either hand."""
    site, reach = work.site, work.machine.reach

    def off(half: float) -> float:
        lane = half + site.setback, reach
        run = run_of(site.cut, leg, station, lane) + site.setback
        return run if site.spared.is_empty else max(run, run_of(site.spared, leg, station, lane))

    beside = leg.at(station, -(off(truck.length / 2) + truck.width / 2))
    half = truck.length / 2
    return [
        (leg.at(station, -off(truck.width / 2)), -leg.inward),
        (beside - half * leg.along, leg.along),
        (beside + half * leg.along, -leg.along),
    ]


def _ways(
    work: Work, fronts: tuple[FloatArray, FloatArray], truck: Truck, places: Places
) -> FloatArray:
    """(b,): the ground ahead of each truck, as far as cut and piles reach."""
    hull = shapely.union_all([work.site.cut, *places.ground]).convex_hull
    far = float(np.hypot(*np.ptp(shapely.get_coordinates(hull), axis=0))) + truck.length
    rings = [
        footprint(front + way * far / 2, way, far, truck.width)
        for front, way in zip(*fronts, strict=True)
    ]
    ahead = shapely.intersection(np.array(shapely.polygons(rings)).reshape(-1), hull)
    return np.asarray(shapely.buffer(ahead, 0.0))  # no lines where it only touches


def _free(work: Work, bays: Bays) -> BoolArray:
    """(b,): whether stand and way keep off the cut and are on free ground."""
    if not len(bays):
        return np.zeros(0, dtype=bool)
    site, ground = work.site, bays.ground()
    edge = site.edge.buffer(-WITHIN, join_style="mitre")
    shapely.prepare(edge)
    clear = ~shapely.intersects(edge, ground)
    if site.free is not None:
        room = site.free.buffer(WITHIN)
        shapely.prepare(room)
        clear &= shapely.covers(room, ground)
    return np.asarray(clear)
