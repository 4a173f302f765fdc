"""The machine's way round outside the dig and all piles."""

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
import shapely
from shapely.ops import substring

from terrain.base.arrays import FloatArray

SAME = 1e-6
"""Length units by which rounding may put a way over a line."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """A ring that tracks so wide stay within `free` ground on, and the `ground` they keep off."""

    ring: shapely.LinearRing
    width: float
    free: shapely.Geometry
    ground: shapely.Geometry

    def takes(self, way: FloatArray) -> bool:
        """Whether a way by the ring, straight to and from it, stays on free ground.

        What its first and last stretch go over is left out: piles leave them room.
        """
        half = self.width / 2
        ends = [
            shapely.LineString(end).buffer(half + SAME, cap_style="square")
            for end in (way[:2], way[-2:])
            if np.hypot(*(end[1] - end[0])) > SAME
        ]
        lane = shapely.LineString(way[1:-1]).buffer(half - SAME, cap_style="flat",
                                                    join_style="mitre")  # fmt: skip
        off = lane.difference(shapely.union_all(ends))
        inside = self.free.buffer(SAME)
        return bool(
            inside.covers(lane)
            and inside.covers(shapely.LineString(way))
            and self.ground.intersection(off).area <= SAME
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Walk:
    """The way round outside the piles: a ring about all of them, and that within the lot."""

    ring: shapely.LinearRing
    kept: Kept | None = field(default=None)

    def between(
        self, start: tuple[FloatArray, FloatArray], end: tuple[FloatArray, FloatArray]
    ) -> FloatArray:
        """The way (m, 2) from one spot to another, leaving and coming by the directions given.

        It keeps within the lot, the other way round if need be, where it can.
        """
        kept = self.kept
        if kept is not None:
            inside = shapely.Polygon(kept.ring)
            if all(inside.covers(shapely.Point(spot)) for spot, _ in (start, end)):
                for way in _both_ways(kept.ring, start, end):
                    if kept.takes(way):
                        return way
        return next(_both_ways(self.ring, start, end))

    def leave(self, spot: FloatArray, back: FloatArray) -> FloatArray:
        """Where a straight way from a spot meets the ring, or its nearest point."""
        return _leave(self.ring, spot, back)


def _both_ways(
    ring: shapely.LinearRing,
    start: tuple[FloatArray, FloatArray],
    end: tuple[FloatArray, FloatArray],
) -> Iterator[FloatArray]:
    """The ways along a ring, the shorter first."""
    leave, come = _leave(ring, *start), _leave(ring, *end)
    one, two = (ring.project(shapely.Point(p)) for p in (leave, come))
    whole, low, high = ring.length, min(one, two), max(one, two)
    between = shapely.get_coordinates(substring(ring, low, high))
    round_about = np.vstack(
        [
            shapely.get_coordinates(substring(ring, high, whole)),
            shapely.get_coordinates(substring(ring, 0.0, low)),
        ]
    )
    paths = (between, round_about) if high - low <= whole / 2 else (round_about, between)
    for path in paths:
        first, last = (float(np.hypot(*(point - leave))) for point in path[[0, -1]])
        yield np.vstack([start[0], leave, path[::-1] if first > last else path, come, end[0]])


def _leave(ring: shapely.LinearRing, spot: FloatArray, back: FloatArray) -> FloatArray:
    ray = shapely.LineString([spot, spot + back * ring.length])
    met = shapely.get_coordinates(ray.intersection(ring))
    if not len(met):
        point = ring.interpolate(ring.project(shapely.Point(spot)))
        return np.array(point.coords[0])
    return np.asarray(met[np.hypot(*(met - spot).T).argmin()])


def walk_round(
    ground: list[shapely.Geometry], width: float, free: shapely.Geometry | None = None
) -> Walk:
    """The way round all of some ground, cut and piles, for a machine so wide.

    `free` is the lot off what stays as it is, None where the job tells of neither.
    """
    whole = shapely.union_all(ground)
    about = whole.convex_hull.buffer(width, join_style="mitre")
    return Walk(
        ring=about.exterior, kept=None if free is None else _kept(whole, about, free, width)
    )


def _kept(
    ground: shapely.Geometry, about: shapely.Geometry, free: shapely.Geometry, width: float
) -> Kept | None:
    """The ring within the lot; None where it falls to pieces."""
    inside = about.intersection(free.buffer(-width / 2, join_style="mitre"))
    parts = [part for part in shapely.get_parts(inside) if part.area > SAME]
    if len(parts) != 1:
        return None
    return Kept(ring=parts[0].exterior, width=width, free=free, ground=ground)
