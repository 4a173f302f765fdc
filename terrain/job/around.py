"""The ground that a picture shows: few enough triangles, and those outside the dig."""

import numpy as np
import shapely
from scipy.spatial import ConvexHull

from terrain.base.arrays import FloatArray, IntArray
from terrain.surface.overlay import OverlayFaces, overlay_faces
from terrain.surface.patches import Surface, picked
from terrain.surface.tin import Tin, build_tin, tin_surface

MOST_TRIANGLES = 12_000
"""Triangles of ground beyond which a picture takes fewer shots."""

WHOLE = 1e-9
"""A triangle is wholly over the dig if no more than this share of it is not."""


def thinned_ground(tin: Tin, window: shapely.Polygon) -> Surface:
    """The ground for a picture of the window: as it is, or through some of its points.

    Where too many triangles meet the window, the first point in each cell of a grid over it is
    kept, with the corners of the hull of what lies there; lines and jumps are then not kept.
    """
    if len(tin) <= MOST_TRIANGLES:
        return tin_surface(tin)
    west, south, east, north = window.bounds
    corners = tin.points[tin.triangles]
    low, high = corners.min(axis=1), corners.max(axis=1)
    meets = (high[:, 0] >= west) & (low[:, 0] <= east)
    meets &= (high[:, 1] >= south) & (low[:, 1] <= north)
    if np.count_nonzero(meets) <= MOST_TRIANGLES:
        return picked(tin_surface(tin), np.flatnonzero(meets))
    points = tin.points[np.unique(tin.triangles[meets])]
    cell = float(np.sqrt((east - west) * (north - south) / (MOST_TRIANGLES / 2)))
    column, row = ((points[:, :2] - points[:, :2].min(axis=0)) // cell).astype(np.int64).T
    _, first = np.unique(row * (int(column.max()) + 1) + column, return_index=True)
    hull = ConvexHull(points[:, :2]).vertices
    some = points[np.union1d(first, hull)]
    _, one_a_spot = np.unique(some[:, :2], axis=0, return_index=True)
    return tin_surface(build_tin(some[one_a_spot]))


def ground_around(ground: Surface, dig: Surface, window: shapely.Polygon) -> FloatArray:
    """Triangles (m, 3, 3) of the ground in the window where nothing is dug.

    Ground faces that the dig's footprint covers are taken from the overlay, exactly to the rim;
    one that it covers in part also keeps what is left of it.
    """
    parts = overlay_faces(ground, dig)
    covered = np.bincount(parts.a, _areas(parts.ring, parts.start), len(ground))
    whole = _areas(ground.ring, ground.start)
    pieces = [
        (int(parts.a[part]), _ring(parts, part))
        for part in np.flatnonzero(parts.side <= 0).tolist()
    ]
    bounds = window.bounds
    for face in np.flatnonzero(covered < whole * (1 - WHOLE)).tolist():
        corners = ground.corners(face)
        if _apart(corners, bounds):
            continue
        if covered[face] == 0:
            pieces.append((face, corners))
            continue
        over = [shapely.Polygon(_ring(parts, p)) for p in np.flatnonzero(parts.a == face).tolist()]
        # drawing only: what union_all might lose is a hair's breadth of ground in a picture
        left = shapely.Polygon(corners).difference(shapely.union_all(over, grid_size=1e-9))
        pieces += [(face, ring) for ring in _triangles(left)]
    return _lifted(ground, pieces, window)


def _lifted(
    ground: Surface, pieces: list[tuple[int, FloatArray]], window: shapely.Polygon
) -> FloatArray:
    """The pieces clipped to the window, as triangles on their ground faces."""
    triangles = []
    for face, ring in pieces:
        kept = _clipped(ring, window.bounds)
        if len(kept) < 3:
            continue
        corners = np.column_stack([kept, ground.upward_at(face, kept)])
        fan = [corners[[0, k, k + 1]] for k in range(1, len(corners) - 1)]
        triangles += fan
    return np.array(triangles).reshape(-1, 3, 3)


def _ring(parts: OverlayFaces, part: int) -> FloatArray:
    return parts.ring[parts.start[part] : parts.start[part + 1]]


def _areas(ring: FloatArray, start: IntArray) -> FloatArray:
    """The area of each of many polygons, from its own first corner."""
    counts = np.diff(start)
    own = ring - np.repeat(ring[start[:-1]], counts, axis=0)
    after = np.arange(len(ring)) + 1
    after[start[1:] - 1] = start[:-1]
    cross = own[:, 0] * own[after, 1] - own[:, 1] * own[after, 0]
    double = np.bincount(np.repeat(np.arange(len(counts)), counts), cross, len(counts))
    return np.asarray(double / 2, dtype=np.float64)


def _apart(corners: FloatArray, bounds: tuple[float, float, float, float]) -> bool:
    west, south, east, north = bounds
    low, high = corners.min(axis=0), corners.max(axis=0)
    return bool(low[0] >= east or low[1] >= north or high[0] <= west or high[1] <= south)


def _triangles(area: shapely.Geometry) -> list[FloatArray]:
    """An area of any shape as counter-clockwise triangles."""
    polygons = [p for p in shapely.get_parts(area) if p.geom_type == "Polygon" and p.area > 0]
    cut = [
        t for p in polygons for t in shapely.get_parts(shapely.constrained_delaunay_triangles(p))
    ]
    return [shapely.get_coordinates(shapely.orient_polygons(t))[:3] for t in cut]


def _clipped(ring: FloatArray, bounds: tuple[float, float, float, float]) -> FloatArray:
    """A convex ring cut down to a box, side by side (Sutherland and Hodgman)."""
    west, south, east, north = bounds
    for axis, limit, sign in ((0, west, 1.0), (0, east, -1.0), (1, south, 1.0), (1, north, -1.0)):
        inside = sign * (ring[:, axis] - limit)
        if np.all(inside >= 0):
            continue
        kept = []
        for k in range(len(ring)):
            here, there = inside[k - 1], inside[k]
            if here * there < 0:
                kept.append(ring[k - 1] + (ring[k] - ring[k - 1]) * here / (here - there))
            if there >= 0:
                kept.append(ring[k])
        ring = np.array(kept).reshape(-1, 2)
        if len(ring) < 3:
            break
    return ring
