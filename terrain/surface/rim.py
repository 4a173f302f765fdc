"""The rim of a cut: the line on the ground that bounds where it is above another surface."""

import math

import numpy as np
import shapely

from terrain.base.arrays import BoolArray, FloatArray, IntArray
from terrain.surface.outline import ring_area
from terrain.surface.overlay import Overlay, overlay_faces
from terrain.surface.patches import Surface, picked

WHOLE = 1e-9
"""A ground face counts as wholly above if no more than this share of it is not."""

SAME_PLACE = 1e-9
"""Corners nearer than this share of the extent are one: neighbours differ by rounding."""


def rim_lines(
    ground: Surface, neighbours: IntArray, other: Surface, pairs: Overlay
) -> tuple[FloatArray, ...]:
    """Closed lines (m, 2), first corner repeated, round all ground that is above `other`.

    They run along the line of no depth, and along the top of upright faces where the other
    surface jumps or ends. Only ground faces at the rim are looked at one by one.

    Args:
        ground: the faces of a TIN.
        neighbours: (n, 3) of its triangles, -1 at the edge.
        other: the surface below.
        pairs: `overlay(ground, other)`.
    """
    above = np.bincount(pairs.a, pairs.area_above, len(ground))
    whole = above >= _areas(ground) * (1 - WHOLE)
    beside = np.append(whole, False)[neighbours]
    near = np.flatnonzero((above > 0) & ~(whole & beside.all(axis=1)))
    parts = overlay_faces(picked(ground, near), other)
    polygons = _polygons(parts.ring, parts.start, parts.side > 0)
    if not polygons:
        return ()
    extent = float(np.ptp(parts.ring, axis=0).max())
    # a power of ten, or snapping misses meeting corners now and then
    grid = 10.0 ** math.ceil(math.log10(SAME_PLACE * extent))
    band = shapely.union_all(polygons, grid_size=grid)
    inside = _somewhere_in(ground, np.flatnonzero(whole & beside.all(axis=1)))
    lines = []
    for part in shapely.get_parts(shapely.orient_polygons(band)):
        if part.geom_type != "Polygon":
            continue
        rings = [part.exterior]
        rings += [h for h in part.interiors if not _holds_any(shapely.Polygon(h), inside)]
        lines += [
            shapely.get_coordinates(ring)
            for ring in rings
            if shapely.Polygon(ring).area > SAME_PLACE * extent**2
        ]
    return tuple(lines)


def _areas(surface: Surface) -> FloatArray:
    """The area of each triangle of a surface of triangles."""
    corners = surface.ring.reshape(-1, 3, 2)
    one, two = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    area: FloatArray = (one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]) / 2
    return area


def _polygons(ring: FloatArray, start: IntArray, chosen: BoolArray) -> list[shapely.Polygon]:
    polygons = []
    for part in np.flatnonzero(chosen):
        corners = ring[start[part] : start[part + 1]]
        if ring_area(corners) > 0:
            polygons.append(shapely.Polygon(corners))
    return polygons


def _somewhere_in(ground: Surface, faces: IntArray) -> FloatArray:
    """A spot inside each of some triangles, (n, 2)."""
    middle: FloatArray = ground.ring.reshape(-1, 3, 2)[faces].mean(axis=1)
    return middle


def _holds_any(shape: shapely.Polygon, spots: FloatArray) -> bool:
    """Whether any spot lies in a shape; only those in its box are tried."""
    west, south, east, north = shape.bounds
    boxed = spots[
        (spots[:, 0] > west) & (spots[:, 0] < east) & (spots[:, 1] > south) & (spots[:, 1] < north)
    ]
    return bool(shapely.contains_xy(shape, boxed[:, 0], boxed[:, 1]).any()) if len(boxed) else False
