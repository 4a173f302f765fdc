"""Places for earth: a strip outside each wall, beyond the setback, on ground that is free."""

import math
from dataclasses import dataclass, replace

import numpy as np
import shapely

from terrain.base.arrays import FloatArray, IntArray
from terrain.haul.legs import NO_CORNER, Leg
from terrain.haul.machine import Machine
from terrain.haul.piles import heap_volume
from terrain.haul.stands import Site

STACK_SIZES = 19
"""Sizes from a tenth of the room on that a stack is tried in."""

LANE = 1.05
"""Track widths that stay free of earth along the lot line, for the way round."""

OVER = 0.01
"""Length units taken off round ramps and trenches, so that no sliver stays along their edge."""

SNAPPED = 1e-7
"""Length units to which corners are brought together where strips meet but for rounding."""

LEAST = 1e-6
"""Share of a strip's whole ground below which a piece of it is noise."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Heaping:
    """How earth may be heaped: degrees, length units; `bare` are legs kept free of earth."""

    repose: float
    height: float
    bare: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Places:
    """The strips beside the legs, (p,) each, in the order of the legs counter-clockwise.

    Args:
        ground: what of a strip earth may lie on.
        capacity: in loose cubic length units.
        why: why it has none or little, in words; empty else.
        spot: (s, 2) where buckets are emptied; `owner` (s,) whose they are, in order.
        crest: (s,) how high above its ground a full heap stands there.
        apart: (p, p) how far a dozer pushes between two of them, round the dig.
    """

    ground: tuple[shapely.Geometry, ...]
    capacity: FloatArray
    why: tuple[str, ...]
    spot: FloatArray
    owner: IntArray
    crest: FloatArray
    apart: FloatArray

    def __len__(self) -> int:
        return len(self.ground)


def base_width(machine: Machine, heaping: Heaping, run: float, setback: float) -> float:
    """How wide a heap beside a wall may be: no wider than to its full height, and with its ridge
    still within the machine's cast across a slope that runs so far out.
    """
    whole = 2.0 * heaping.height / math.tan(math.radians(heaping.repose))
    return min(whole, 2.0 * (machine.casts_to - machine.track_width / 2 - run - setback))


def places_of(legs: tuple[Leg, ...], site: Site, machine: Machine, heaping: Heaping) -> Places:
    """The places beside the legs of a round, counter-clockwise."""
    grounds: list[shapely.Geometry] = []
    whys: list[str] = []
    edge = site.edge
    walls = site.cut.difference(site.extras.buffer(OVER, join_style="mitre"))
    ridges: list[shapely.Geometry] = []
    taken: shapely.Geometry = shapely.Polygon()
    for k in range(len(legs)):
        ground, ridge, why = _strip(legs, k, (site, machine, heaping), (walls, edge))
        ground = _polygons(ground.difference(taken))
        taken = _polygons(shapely.union(taken, ground, grid_size=SNAPPED))
        grounds.append(ground)
        ridges.append(ridge)
        whys.append(why if not grounds[-1].is_empty else why or "there is no free ground there")
    spots = [_spots(r, g, machine.step / 2) for r, g in zip(ridges, grounds, strict=True)]
    spot = np.vstack([*spots, np.zeros((0, 2))])
    return Places(
        ground=tuple(grounds),
        capacity=np.array([heap_volume(g, heaping.repose, heaping.height) for g in grounds]),
        why=tuple(whys),
        spot=spot,
        owner=np.repeat(np.arange(len(legs)), [len(s) for s in spots]),
        crest=_crests(grounds, spots, heaping),
        apart=_apart(legs, edge),
    )


def without(
    places: Places, clear: shapely.Geometry, heaping: Heaping, taker: str = "the machine's way out"
) -> Places:
    """The same places with some ground kept clear for `taker`."""
    ground, capacity, why = list(places.ground), places.capacity.copy(), list(places.why)
    for k, own in enumerate(ground):
        if own.is_empty or not own.intersects(clear):
            continue
        ground[k] = _polygons(own.difference(clear))
        capacity[k] = heap_volume(ground[k], heaping.repose, heaping.height)
        why[k] = why[k] or f"{taker} takes some of its ground"
    held = np.array(ground, dtype=object)[places.owner]
    kept = np.asarray(shapely.intersects(held, shapely.points(places.spot)), dtype=bool)
    return replace(
        places, ground=tuple(ground), capacity=capacity, why=tuple(why),
        spot=places.spot[kept], owner=places.owner[kept], crest=places.crest[kept],
    )  # fmt: skip


def stack_for(volume: float, room: shapely.Geometry, heaping: Heaping) -> shapely.Geometry:
    """A round piece of free ground for a heap of so much, where there is most room; or empty.

    It is as large as the room allows where that is too little for the heap.
    """
    parts = [p for p in shapely.get_parts(room) if p.geom_type == "Polygon" and p.area > 0]
    if volume <= 0.0 or not parts:
        return shapely.Polygon()
    lines = [shapely.maximum_inscribed_circle(part, tolerance=0.1) for part in parts]
    widest = max(lines, key=lambda line: line.length)
    middle, most = shapely.Point(widest.coords[0]), float(widest.length)
    radius = most
    for share in np.linspace(0.1, 1.0, STACK_SIZES):
        ground = middle.buffer(float(share) * most)
        if heap_volume(ground, heaping.repose, heaping.height) >= volume:
            radius = float(share) * most
            break
    return middle.buffer(radius)


def _strip(
    legs: tuple[Leg, ...], k: int, terms: tuple[Site, Machine, Heaping],
    cuts: tuple[shapely.Geometry, shapely.Geometry],
) -> tuple[shapely.Geometry, shapely.Geometry, str]:  # fmt: skip
    """A leg's strip, the line its ridge follows, and why there is none.

    It goes along the cut for the walls, the first of `cuts`, and keeps off all that is cut with the
    setback round it and what is spared, the second: so a heap goes up to a ramp on either hand.
    """
    site, machine, heaping = terms
    walls, edge = cuts
    leg, none = legs[k], shapely.Polygon()
    if k in heaping.bare:
        return none, none, "kept open for trucks and forms"
    far = float(np.ptp(shapely.get_coordinates(site.cut), axis=0).max()) + 4.0 * machine.reach
    band = _band(legs, k, far, machine.track_length + site.setback)
    if band is None:
        return none, none, "the wall is too short beside an inside corner"
    over = shapely.get_coordinates(walls.intersection(band))
    run = float(((leg.start - over) @ leg.inward).max()) if len(over) else 0.0
    spared = shapely.get_coordinates(site.spared.intersection(band))
    off = float(((leg.start - spared) @ leg.inward).max()) - run if len(spared) else 0.0
    off = max(off, site.setback)
    width = base_width(machine, heaping, max(run, 0.0), off)
    if width <= 0.0:
        return none, none, "it is beyond the machine's cast"
    strip = walls.buffer(off + width, join_style="mitre").difference(edge).intersection(band)
    middle = walls.buffer(off + width / 2, join_style="mitre").boundary
    ridge = middle.intersection(band)
    whole = strip.area
    if site.free is not None:
        strip = _with_lane(strip.intersection(site.free), site.free, LANE * machine.track_width)
    why = "" if strip.area > 0.5 * whole else "the lot has little free ground there"
    return strip, ridge, why


def _with_lane(strip: shapely.Geometry, free: shapely.Geometry, width: float) -> shapely.Geometry:
    """A strip without a lane along the lot line for the machine, where most of it stays."""
    lot = shapely.union_all([shapely.Polygon(p.exterior) for p in shapely.get_parts(free)])
    kept = strip.intersection(lot.buffer(-width, join_style="mitre"))
    return kept if kept.area > 0.5 * strip.area else strip


def _band(legs: tuple[Leg, ...], k: int, far: float, free: float) -> shapely.Polygon | None:
    """All ground out from a leg: as far as half the corner outside, back from inside corners."""
    leg, before, after = legs[k], legs[k - 1], legs[(k + 1) % len(legs)]
    start, end = leg.at(0.0, -far), leg.at(leg.length, -far)
    low, high = 0.0, leg.length
    if before.turn <= -NO_CORNER:
        low = free
        start = leg.at(low, -far)
    elif before.turn >= NO_CORNER:
        start = leg.start + far * _halving(before, leg)
    if leg.turn <= -NO_CORNER:
        high -= free
        end = leg.at(high, -far)
    elif leg.turn >= NO_CORNER:
        end = leg.end + far * _halving(leg, after)
    if high - low <= 0.0:
        return None
    return shapely.Polygon([leg.at(low, 0.0), start, end, leg.at(high, 0.0)])


def _halving(one: Leg, two: Leg) -> FloatArray:
    """The way out from the corner between two legs that halves it, as long as one step square."""
    out = -(one.inward + two.inward)
    return np.asarray(out / (out @ -one.inward))


def _spots(ridge: shapely.Geometry, ground: shapely.Geometry, step: float) -> FloatArray:
    """Points along a ridge, as far as it is over the ground."""
    if ground.is_empty:
        return np.zeros((0, 2))
    spots = []
    for line in shapely.get_parts(ridge.intersection(ground)):
        if line.geom_type == "LineString" and line.length > 0:
            count = max(1, int(line.length / step))
            at = (np.arange(count) + 0.5) / count
            spots.append(shapely.get_coordinates(line.interpolate(at, normalized=True)))
    if not spots:
        return np.asarray(shapely.get_coordinates(ground.representative_point()))
    return np.asarray(np.vstack(spots))


def _crests(
    grounds: list[shapely.Geometry], spots: list[FloatArray], heaping: Heaping
) -> FloatArray:
    """(s,): the height of a full heap at each spot, by how far in from its edge it lies."""
    found = [
        shapely.distance(shapely.points(own), ground.boundary)
        for ground, own in zip(grounds, spots, strict=True)
        if len(own)
    ]
    up = math.tan(math.radians(heaping.repose))
    return np.minimum(np.concatenate([*found, np.zeros(0)]) * up, heaping.height)


def _apart(legs: tuple[Leg, ...], edge: shapely.Geometry) -> FloatArray:
    """Distances between the strips' middles along the edge of the cut, the shorter way round."""
    ring = max(shapely.get_parts(edge), key=lambda part: part.area).exterior
    middles = [leg.at(leg.length / 2, 0.0) for leg in legs]
    at = shapely.line_locate_point(ring, shapely.points(middles))
    gap = np.abs(at[:, None] - at[None, :])
    return np.asarray(np.minimum(gap, ring.length - gap))


def _polygons(shape: shapely.Geometry) -> shapely.MultiPolygon:
    least = LEAST * max(shape.area, LEAST)
    return shapely.MultiPolygon(
        [
            part
            for part in shapely.get_parts(shape)
            if part.geom_type == "Polygon" and part.area > least
        ]
    )
