"""What is dug from a stand, piece by piece, so that it can be painted; and what stays standing."""

from dataclasses import dataclass
from itertools import combinations, pairwise

import numpy as np
import shapely

from terrain.base.arrays import FloatArray
from terrain.job.dig_plan_record import DigPlan, Pass, Stand
from terrain.job.dig_plan_set_out import ON_FLOOR, wall_number

TOUCH, NEXT = 1e-3, 0.1
"""Length units within which ground is one piece; and share of a bucket's width under which two
measures along a wall are one."""

STRIPS, SQUARE = 3, 0.85
"""Strips that a piece is told in at most, and the share of them it must fill to be told by them."""

GAIN = 0.03
"""Share that a strip more must fill better."""

IN_EXTRA, AT_PAINT = 0.1, 0.5
"""Share of a piece from which it is of a ramp, pit or trench; share of a strip's length along the
edge of the cut from which it reaches to the paint."""

SEEN, THIN = 0.25, 0.08
"""Square bucket widths from which a piece is told, or a later stand's ground within reach; and the
share of a bucket's width under which a spur of a piece is not measured."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Strip:
    """A rectangle along a wall.

    `start` to `end` along its line from `corner`, counted the way `heading`; `outer` to `inner`
    square to it, inside positive. `to_paint` if its outside is the edge of the cut.
    """

    corner: int
    heading: float
    start: float
    end: float
    outer: float
    inner: float
    to_paint: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """Connected ground dug from one stand, told along the wall numbered `wall`.

    Args:
        near, far: from the middle of the machine to its nearest and its farthest point.
        bearing: degrees from straight ahead to its middle, to the right positive.
        is_square: whether it fills its strips but for a sliver.
        floor, slope: whether any of it is floor, or side above it.
        extra: the ramp, pit or trench it is of.
    """

    number: int
    ground: shapely.Polygon
    wall: int
    strips: tuple[Strip, ...]
    is_square: bool
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
    whole = shapely.get_parts(one.dug.buffer(TOUCH, join_style="mitre")).tolist()
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
    wall, strips, fills = _told_along(plan, one, part)
    on_floor = part.intersection(shapely.Polygon(plan.site.dig_line)).area / part.area
    return Piece(
        number=number,
        ground=part,
        wall=wall,
        strips=strips,
        is_square=fills >= SQUARE,
        near=float(part.distance(shapely.Point(spot))),
        far=float(away.max()),
        bearing=(_heading(_middle(part) - spot) - one.stand.heading + 180.0) % 360.0 - 180.0,
        floor=on_floor > ON_FLOOR,
        slope=on_floor < 1.0 - ON_FLOOR,
        extra=None if on_floor > ON_FLOOR else _extra_of(plan, part),
    )


def _middle(part: shapely.Polygon) -> FloatArray:
    return np.array(part.centroid.coords[0])


def _extra_of(plan: DigPlan, part: shapely.Polygon) -> str | None:
    """The ramp, pit or trench that has most of a piece off the floor."""
    shares = [
        (float(part.intersection(shapely.Polygon(ring).buffer(0)).area / part.area), name)
        for name, _, rings in plan.site.extras
        for ring in rings
    ]
    share, name = max(shares, default=(0.0, ""))
    return name if share > IN_EXTRA else None


def _told_along(
    plan: DigPlan, one: Pass, part: shapely.Polygon
) -> tuple[int, tuple[Strip, ...], float]:
    """The near wall along which a piece takes the fewest strips, those, and the share it fills."""
    corners = plan.site.corners
    walls = [
        shapely.LineString([corners[k], corners[(k + 1) % len(corners)]])
        for k in range(len(corners))
    ]
    off = [float(part.distance(wall)) for wall in walls]
    near = [k for k in range(len(walls)) if off[k] <= min(off) + plan.machine.bucket_width]
    own = wall_number(plan, one.stand.wall)
    found = [(k, *_strips(plan, k, part)) for k in near]
    return min(
        found, key=lambda each: (each[2] < SQUARE, len(each[1]), each[0] != own, off[each[0]])
    )


def _strips(plan: DigPlan, wall: int, part: shapely.Polygon) -> tuple[tuple[Strip, ...], float]:
    """A piece as the fewest rectangles along a wall that it nearly fills, and how much it does."""
    start, along, inward, length = _axes(plan, wall)

    def turned(points: FloatArray) -> FloatArray:
        off = points - start
        return np.column_stack([off @ along, off @ inward])

    own = _without_spurs(shapely.transform(part, turned), THIN * plan.machine.bucket_width / 2)
    paint = shapely.transform(plan.site.daylight, turned).boundary.buffer(10 * TOUCH)
    edge = own.boundary.intersection(paint)
    cuts = _cuts(own, NEXT * plan.machine.bucket_width)
    slices = [_slice(own, *ends, NEXT * plan.machine.bucket_width) for ends in pairwise(cuts)]
    best: tuple[float, tuple[int, ...]] = (0.0, ())
    for count in range(min(STRIPS, len(slices))):
        fills = (_filled(slices, inner) for inner in combinations(range(1, len(slices)), count))
        found = max(fills)
        best = found if found[0] > best[0] + GAIN else best
        if best[0] >= SQUARE:
            break
    ends = [0, *best[1], len(slices)]
    from_start = (cuts[0] + cuts[-1]) / 2 <= length / 2
    strips = []
    for first, last in pairwise(ends):
        bounds = np.array([each.bounds for each in slices[first:last] if not each.is_empty])
        (outer, inner), (low, high) = (
            (bounds[:, 1].min(), bounds[:, 3].max()),
            (cuts[first], cuts[last]),
        )
        strips.append(
            Strip(
                corner=wall if from_start else (wall + 1) % len(plan.site.corners),
                heading=_heading(along if from_start else -along),
                start=low if from_start else length - high,
                end=high if from_start else length - low,
                outer=float(outer),
                inner=float(inner),
                to_paint=_run(edge.intersection(_across(own, low, high)))
                >= AT_PAINT * (high - low),
            )
        )
    return tuple(strips), best[0]


def _axes(plan: DigPlan, wall: int) -> tuple[FloatArray, FloatArray, FloatArray, float]:
    """A wall's first corner, the ways along it and into the house, and its length."""
    corners = plan.site.corners
    start, end = corners[wall], corners[(wall + 1) % len(corners)]
    length = float(np.hypot(*(end - start)))
    along = (end - start) / length
    left = np.array([-along[1], along[0]])
    return start, along, left if shapely.LinearRing(corners).is_ccw else -left, length


def _heading(way: FloatArray) -> float:
    return float(np.degrees(np.arctan2(way[0], way[1])) % 360.0)


def _without_spurs(own: shapely.Polygon, half: float) -> shapely.Geometry:
    """A piece without what is narrower than twice `half`; itself if that is all of it."""
    opened = own.buffer(-half, join_style="mitre").buffer(half, join_style="mitre")
    return own if opened.is_empty else opened


def _run(lines: shapely.Geometry) -> float:
    """How far lines run along the wall in all."""
    runs = [
        float(np.abs(np.diff(shapely.get_coordinates(line)[:, 0])).sum())
        for line in shapely.get_parts(lines)
    ]
    return sum(runs)


def _cuts(own: shapely.Geometry, least: float) -> list[float]:
    """Where along the wall a piece has corners, ends with them."""
    found = sorted(shapely.get_coordinates(own)[:, 0].tolist())
    cuts = [found[0]]
    for value in found:
        if value - cuts[-1] > least and found[-1] - value > least:
            cuts.append(value)
    return [*cuts, found[-1]]


def _across(own: shapely.Geometry, low: float, high: float) -> shapely.Polygon:
    _, outer, _, inner = own.bounds
    return shapely.box(low, outer - 1, high, inner + 1)


def _slice(own: shapely.Geometry, low: float, high: float, least: float) -> shapely.Geometry:
    """A piece between two cuts, without corners so near a cut that they made none of their own."""
    return own.intersection(_across(own, low + 0.9 * least, high - 3 * TOUCH))


def _filled(
    slices: list[shapely.Geometry], inner: tuple[int, ...]
) -> tuple[float, tuple[int, ...]]:
    """Which share of its strips a piece fills that is cut at some of its corners."""
    ends = [0, *inner, len(slices)]
    taken = had = 0.0
    for first, last in pairwise(ends):
        bounds = np.array([one.bounds for one in slices[first:last] if not one.is_empty])
        wide = bounds[:, 2] - bounds[:, 0]
        taken += float(wide.sum() * (bounds[:, 3].max() - bounds[:, 1].min()))
        had += sum(float(one.area) for one in slices[first:last])
    return had / max(taken, TOUCH), inner
