"""The rim of a cut: the line on the ground that bounds where it is above another surface."""

import math

import numpy as np
import shapely

from terrain.base.arrays import BoolArray, FloatArray, IntArray
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
    surface jumps or ends; what is above lies on their left. Arguments as for `cut_region`.
    """
    region = cut_region(ground, neighbours, other, pairs)
    return tuple(
        shapely.get_coordinates(ring)
        for part in region.geoms
        for ring in (part.exterior, *part.interiors)
    )


def cut_region(
    ground: Surface, neighbours: IntArray, other: Surface, pairs: Overlay
) -> shapely.MultiPolygon:
    """The plan area where the ground is above `other`, to draw; volumes come from `pairs`.

    Only ground faces at the rim are looked at one by one.

    Args:
        ground: the faces of a TIN.
        neighbours: (n, 3) of its triangles, -1 at the edge.
        other: the surface below.
        pairs: `overlay(ground, other)`.
    """
    above = np.bincount(pairs.a, pairs.area_above)
    reached = np.flatnonzero(above > 0)
    whole = np.zeros(len(ground) + 1, dtype=np.bool_)  # the last for no neighbour
    whole[reached] = above[reached] >= _areas(ground, reached) * (1 - WHOLE)
    surrounded = whole[reached] & whole[neighbours[reached]].all(axis=1)
    inner = np.zeros(len(ground) + 1, dtype=np.bool_)
    inner[reached[surrounded]] = True
    parts = overlay_faces(picked(ground, reached[~surrounded]), other)
    polygons = _polygons(parts.ring, parts.start, parts.side > 0)
    if not polygons:
        return shapely.MultiPolygon()
    extent = float(np.ptp(parts.ring, axis=0).max())
    # a power of ten, or snapping misses meeting corners now and then
    grid = 10.0 ** math.ceil(math.log10(SAME_PLACE * extent))
    region = _united([*polygons, *_areas_of(ground, neighbours, inner)], grid)
    least = SAME_PLACE * extent**2
    shapes = []
    for part in shapely.get_parts(shapely.orient_polygons(region)):
        if part.geom_type == "Polygon" and part.area > least:
            holes = [h for h in part.interiors if shapely.Polygon(h).area > least]
            shapes.append(shapely.Polygon(part.exterior, holes))
    return shapely.MultiPolygon(shapes)


def _areas_of(ground: Surface, neighbours: IntArray, chosen: BoolArray) -> list[shapely.Polygon]:
    """The plan area of triangles chosen (n + 1,), the last for none, from where they end."""
    faces = np.flatnonzero(chosen)
    at, side = np.nonzero(~chosen[neighbours[faces]])
    face = faces[at]
    corners = ground.ring.reshape(-1, 3, 2)
    sides = np.stack([corners[face, side], corners[face, (side + 1) % 3]], axis=1)
    # a polygon between the sides holds triangles if it lies left of them, as they do
    leftward = {(*start, *end) for start, end in sides.tolist()}
    drawn = shapely.polygonize(shapely.linestrings(sides))
    return [
        polygon
        for polygon in shapely.get_parts(shapely.orient_polygons(drawn))
        if (*polygon.exterior.coords[0], *polygon.exterior.coords[1]) in leftward
    ]


def _areas(surface: Surface, faces: IntArray) -> FloatArray:
    """The area of some triangles of a surface of triangles."""
    corners = surface.ring.reshape(-1, 3, 2)[faces]
    one, two = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    area: FloatArray = (one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]) / 2
    return area


def _polygons(ring: FloatArray, start: IntArray, chosen: BoolArray) -> list[shapely.Polygon]:
    """The chosen parts that have an area, as simple polygons.

    Where two corners are one but for rounding a ring may cross itself there, by less than any
    picture shows; a union with one such polygon in it can fail.
    """
    counts = np.diff(start)
    kept = np.repeat(chosen & (counts > 2), counts)
    part = np.repeat(np.cumsum(chosen & (counts > 2)) - 1, counts)[kept]
    if not len(part):
        return []
    polygons = shapely.polygons(shapely.linearrings(ring[kept], indices=part))
    sound = shapely.get_parts(shapely.make_valid(polygons[shapely.area(polygons) > 0]))
    return [shape for shape in sound if shape.geom_type == "Polygon"]


def _united(polygons: list[shapely.Polygon], grid: float) -> shapely.Geometry:
    """The area of polygons that share none, snapped to a grid.

    Snapping corners first and uniting them then is several times quicker than uniting on the
    grid, but may lose polygons where many edges nearly coincide; then the grid it is.
    """
    quick = shapely.make_valid(
        shapely.transform(np.array(polygons), lambda plan: np.round(plan / grid) * grid)
    )
    wanted = float(shapely.area(quick).sum())
    try:
        region = shapely.union_all(quick)
    except shapely.GEOSException:
        region = shapely.Polygon()
    if abs(region.area - wanted) <= SAME_PLACE * wanted:
        return region
    return shapely.union_all(polygons, grid_size=grid)
