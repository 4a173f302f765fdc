"""Regions of the plan cut into convex pieces."""

from collections.abc import Sequence

import numpy as np
import shapely

from terrain.base.arrays import FloatArray
from terrain.surface.outline import ring_area
from terrain.surface.patches import Surface, from_polygons


def convex_pieces(region: shapely.Geometry) -> list[FloatArray]:
    """Triangles, counter-clockwise, that cover the polygons of a region; none without area."""
    pieces = []
    for part in shapely.get_parts(region):
        if part.geom_type != "Polygon" or part.is_empty:
            continue
        for triangle in shapely.constrained_delaunay_triangles(part).geoms:
            corners = np.array(triangle.exterior.coords)[:3]
            area = ring_area(corners)
            if area != 0.0:
                pieces.append(corners if area > 0 else corners[::-1])
    return pieces


def level_planes(polygons: Sequence[FloatArray]) -> FloatArray:
    """The plane (n, 5) of each polygon at height 0."""
    return np.array([[p[0][0], p[0][1], 0.0, 0.0, 0.0] for p in polygons]).reshape(-1, 5)


def level_floor(region: shapely.Geometry, label: int) -> Surface:
    """A region of the plan at height 0 under one label."""
    pieces = convex_pieces(region)
    return from_polygons(pieces, level_planes(pieces), np.full(len(pieces), label, dtype=np.int32))
