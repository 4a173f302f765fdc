"""How other libraries do the same: grids of differences, and polygon by polygon."""

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.interpolate import LinearNDInterpolator
from scipy.spatial import Delaunay

from scripts.benchmarks.made import HALF, Floats, Indices
from terrain.surface.patches import Surface

Polygons = NDArray[np.object_]
A_PART = 200_000  # pairs worked out at once: all their polygons take much memory


def grid_over(half: float, cells: int) -> tuple[Floats, float]:
    """Centres (n, 2) of about so many square cells over a square, and the area of one."""
    side = round(cells**0.5)
    middle = (np.arange(side) + 0.5) / side * 2 * half - half
    return np.stack(np.meshgrid(middle, middle), axis=-1).reshape(-1, 2), (2 * half / side) ** 2


def ready(triangles: Delaunay) -> Delaunay:
    """The same with what finding a point's triangle needs, which scipy else makes when asked."""
    triangles.transform  # noqa: B018
    return triangles


def interpolated(shots: Floats, triangles: Delaunay, grid: Floats) -> Floats:
    """Heights of scipy's surface at grid points."""
    heights: Floats = LinearNDInterpolator(triangles, shots[:, 2])(grid)
    return heights


def above(depth: Floats, cell: float) -> float:
    """The volume of the cells whose depth is positive; cells without ground count nothing."""
    return float(np.nansum(np.maximum(depth, 0.0)) * cell)


def turned_left(shots: Floats, triangles: Indices) -> Indices:
    """Triangles (m, 3) with their corners counter-clockwise."""
    a, b, c = (shots[triangles[:, k], :2] for k in range(3))
    one, two = b - a, c - a
    right = one[:, 0] * two[:, 1] < one[:, 1] * two[:, 0]
    return np.where(right[:, None], triangles[:, ::-1], triangles)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Drawn:
    """A surface, and its faces as polygons."""

    surface: Surface
    polygons: Polygons


def drawn(surface: Surface) -> Drawn:
    """The polygons of a surface's faces, made one by one unless all are triangles."""
    corners = np.diff(surface.start)
    if (corners == 3).all():
        return Drawn(surface=surface, polygons=shapely.polygons(surface.ring.reshape(-1, 3, 2)))
    rings = [shapely.linearrings(surface.corners(face)) for face in range(len(surface))]
    return Drawn(surface=surface, polygons=shapely.polygons(rings))


def volume_by_polygons(above: Drawn, below: Drawn) -> float:
    """The volume below one surface and above another, pair by pair, split at nought by shapely."""
    t, f = shapely.STRtree(below.polygons).query(above.polygons, predicate="intersects")
    return sum(
        _volume_of_pairs(above, below, t[k : k + A_PART], f[k : k + A_PART])
        for k in range(0, len(t), A_PART)
    )


def _volume_of_pairs(above: Drawn, below: Drawn, t: Indices, f: Indices) -> float:
    """The same of some pairs of faces."""
    parts = shapely.intersection(above.polygons[t], below.polygons[f])
    high, low = above.surface.plane, below.surface.plane
    corners, part = shapely.get_coordinates(parts, return_index=True)
    depths = _heights(high[t[part]], corners) - _heights(low[f[part]], corners)
    lowest, highest = np.full(len(parts), np.inf), np.full(len(parts), -np.inf)
    np.minimum.at(lowest, part, depths)
    np.maximum.at(highest, part, depths)
    split = np.flatnonzero((lowest < 0) & (highest > 0))
    parts[split] = shapely.intersection(parts[split], _where_higher(high[t[split]], low[f[split]]))
    parts, t, f = parts[highest > 0], t[highest > 0], f[highest > 0]
    parts, t, f = (kept[shapely.area(parts) > 0] for kept in (parts, t, f))
    centre = shapely.get_coordinates(shapely.centroid(parts))
    depth = _heights(high[t], centre) - _heights(low[f], centre)
    return float((shapely.area(parts) * depth).sum())


def _heights(planes: Floats, plan: Floats) -> Floats:
    """Of each plane at its own plan point."""
    heights: Floats = planes[:, 2] + ((plan - planes[:, :2]) * planes[:, 3:]).sum(axis=1)
    return heights


def _where_higher(first: Floats, second: Floats) -> Floats:
    """A large square for each pair of planes, on the side where the first is higher."""
    gradient = first[:, 3:] - second[:, 3:]
    steepness = np.linalg.norm(gradient, axis=1, keepdims=True)
    uphill = gradient / steepness
    along = np.column_stack([-uphill[:, 1], uphill[:, 0]])
    at = second[:, :2]
    depth = (_heights(first, at) - second[:, 2])[:, None]
    level = at - uphill * depth / steepness
    size = 4 * HALF
    ring = [level - size * along, level + size * along]
    ring += [ring[1] + size * uphill, ring[0] + size * uphill]
    squares: Floats = shapely.polygons(np.stack(ring, axis=1))
    return squares
