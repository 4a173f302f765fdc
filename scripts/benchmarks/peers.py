"""How other libraries do the same: grids of differences, and polygon by polygon."""

import numpy as np
import shapely
from scipy.interpolate import LinearNDInterpolator
from scipy.spatial import Delaunay

from scripts.benchmarks.made import HALF, Floats
from terrain.surface.patches import Surface


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


def volume_by_polygons(triangles: shapely.Geometry, ground: Surface, pit: Surface) -> float:
    """The volume below the ground and above the pit, pair by pair, split at nought by shapely."""
    facets = shapely.polygons([shapely.linearrings(pit.corners(f)) for f in range(len(pit))])
    t, f = shapely.STRtree(facets).query(triangles, predicate="intersects")
    parts = shapely.intersection(triangles[t], facets[f])
    corners, part = shapely.get_coordinates(parts, return_index=True)
    depths = _heights(ground.plane[t[part]], corners) - _heights(pit.plane[f[part]], corners)
    lowest, highest = np.full(len(parts), np.inf), np.full(len(parts), -np.inf)
    np.minimum.at(lowest, part, depths)
    np.maximum.at(highest, part, depths)
    split = np.flatnonzero((lowest < 0) & (highest > 0))
    parts[split] = shapely.intersection(
        parts[split], _where_higher(ground.plane[t[split]], pit.plane[f[split]])
    )
    parts, t, f = parts[highest > 0], t[highest > 0], f[highest > 0]
    parts, t, f = (kept[shapely.area(parts) > 0] for kept in (parts, t, f))
    centre = shapely.get_coordinates(shapely.centroid(parts))
    depth = _heights(ground.plane[t], centre) - _heights(pit.plane[f], centre)
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
