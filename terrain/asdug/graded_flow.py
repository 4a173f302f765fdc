"""Where water stands and runs on the lot as graded."""

from dataclasses import dataclass, replace

import numpy as np
import shapely
from scipy import ndimage

from terrain.ledger.ground import Ground
from terrain.lot.finish import Finished
from terrain.lot.flow import flow_on
from terrain.lot.flow_record import Flow, FlowLimits
from terrain.lot.grids import heights_at, held_heights, inside_of
from terrain.surface.gridding import Grid
from terrain.surface.patches import Surface, from_polygons


def bare_lot(lot: Finished) -> Finished:
    """The lot without the finished surface: any ground laid on it stays as it is."""
    none = from_polygons([], np.zeros((0, 5)), np.zeros(0, dtype=np.int32))
    return replace(lot, lower=none, upper=none)


@dataclass(frozen=True, slots=True, kw_only=True)
class FlowAsked:
    """On which cells water is led, what of it is told, how far from the wall ground may begin."""

    grid: Grid
    limits: FlowLimits
    gap: float


def graded_flow(graded: Ground, ground: Surface, lot: Finished, asked: FlowAsked) -> Flow:
    """Ponds, ways out and water that comes back, on the ground as graded.

    Between the wall and the nearest ground, as far as the gap, the ground is taken level. How deep
    water stands `before` is told of the finished ground asked for. `ground` is the existing one.
    """
    grid = asked.grid
    height = heights_at(graded.surface, grid)
    house = inside_of(shapely.Polygon(lot.design.house), grid)
    known = ~np.isnan(height) & ~house
    if known.any() and house.any():
        away, nearest = ndimage.distance_transform_edt(~known, return_indices=True)
        from_house = ndimage.distance_transform_edt(~house)
        filled = ~known & ~house & (np.maximum(away, from_house) * grid.cell <= asked.gap)
        height[filled] = height[nearest[0][filled], nearest[1][filled]]
    height[house] = np.nan
    finished = held_heights(heights_at(ground, grid), lot, grid)
    return flow_on(height, finished, bare_lot(lot), grid, asked.limits)
