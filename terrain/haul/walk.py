"""The machine's way round outside the dig and all piles."""

from dataclasses import dataclass

import numpy as np
import shapely
from shapely.ops import substring

from terrain.base.arrays import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Walk:
    """The way round outside the piles: a ring about all of them."""

    ring: shapely.LinearRing

    def between(
        self, start: tuple[FloatArray, FloatArray], end: tuple[FloatArray, FloatArray]
    ) -> FloatArray:
        """The way (m, 2) from one spot to another, leaving and coming by the directions given."""
        leave, come = self.leave(*start), self.leave(*end)
        one, two = (self.ring.project(shapely.Point(p)) for p in (leave, come))
        whole, low, high = self.ring.length, min(one, two), max(one, two)
        if high - low <= whole / 2:
            path = shapely.get_coordinates(substring(self.ring, low, high))
        else:
            path = np.vstack(
                [
                    shapely.get_coordinates(substring(self.ring, high, whole)),
                    shapely.get_coordinates(substring(self.ring, 0.0, low)),
                ]
            )
        if len(path) and float(np.hypot(*(path[0] - leave))) > float(np.hypot(*(path[-1] - leave))):
            path = path[::-1]
        return np.vstack([start[0], leave, path, come, end[0]])

    def leave(self, spot: FloatArray, back: FloatArray) -> FloatArray:
        """Where a straight way from a spot meets the ring, or its nearest point."""
        ray = shapely.LineString([spot, spot + back * self.ring.length])
        met = shapely.get_coordinates(ray.intersection(self.ring))
        if not len(met):
            point = self.ring.interpolate(self.ring.project(shapely.Point(spot)))
            return np.array(point.coords[0])
        return np.asarray(met[np.hypot(*(met - spot).T).argmin()])


def walk_round(ground: list[shapely.Geometry], width: float) -> Walk:
    """The way round all of some ground, cut and piles, for a machine so wide."""
    whole = shapely.union_all(ground).convex_hull
    return Walk(ring=whole.buffer(width, join_style="mitre").exterior)
