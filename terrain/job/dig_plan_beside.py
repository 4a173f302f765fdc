"""Which wall a piece of ground is by, if any: one names ground by what one stands beside."""

import numpy as np
import shapely

from terrain.base.arrays import FloatArray
from terrain.job.dig_plan_record import DigPlan

SHARE, GRID = 0.5, 32
"""Share of a piece without slope that lies by walls from which it is by one, and points to a side
of the grid by which shares are told."""


def wall_beside(plan: DigPlan, part: shapely.Polygon, slope: bool) -> int | None:
    """The wall that is nearest to most of what of a piece lies by walls; None out in the floor.

    By a wall is what is within a bucket's width and the overdig of its line, and all that is
    outside the dig line, the slope above it: a piece that has `slope` is always by a wall.
    """
    site, points = plan.site, _points(part)
    ends = np.stack([site.corners, np.roll(site.corners, -1, axis=0)], axis=1)
    off = shapely.distance(shapely.points(points)[:, None], shapely.linestrings(ends)[None, :])
    nearest = off.argmin(axis=1)
    overdig = {wall.wall: wall.overdig for wall in plan.card}
    within = np.array([plan.machine.bucket_width + overdig.get(name, 0.0) for name in site.walls])
    is_slope = ~shapely.contains_xy(shapely.Polygon(site.dig_line).buffer(0), *points.T)
    by = is_slope | (off.min(axis=1) <= within[nearest])
    if not by.any() or (by.mean() < SHARE and not slope):
        return None
    return int(np.bincount(nearest[by]).argmax())


def _points(part: shapely.Polygon) -> FloatArray:
    """Points (n, 2) spread evenly over a piece, one at least."""
    west, south, east, north = part.bounds
    steps = (np.arange(GRID) + 0.5) / GRID
    grid = np.stack(np.meshgrid(west + steps * (east - west), south + steps * (north - south)), -1)
    flat = grid.reshape(-1, 2)
    found = flat[shapely.contains_xy(part, *flat.T)]
    return found if len(found) else np.array(part.representative_point().coords)
