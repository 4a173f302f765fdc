"""Existing and finished ground on a grid: at cell centres, and the change as exact cell means."""

from dataclasses import dataclass

import numpy as np
import shapely

from terrain.base.arrays import BoolArray, FloatArray
from terrain.lot.finish import Finished
from terrain.surface.gridding import Grid, shared_to_cells
from terrain.surface.overlay import OverlayFaces, overlay_faces, overlay_sums
from terrain.surface.patches import Surface
from terrain.surface.pieces import level_floor
from terrain.surface.sampling import sample_grid

NO_AREA = 1e-9
"""A cell that shares less than this part of itself with the lot only touches it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """Finished less existing ground by cell, cut negative, in length units.

    Args:
        means: (rows, columns) the exact integral over the cell's part of the lot, by the whole
            cell's area: cells that the lot line or the house crosses count only what is theirs.
            NaN where the cell has none of the lot.
        volume: fill less cut over the lot, in cubic length units, not by way of the cells.
        gross: fill plus cut, the same.
    """

    means: FloatArray
    volume: float
    gross: float


def lot_area(lot: Finished) -> shapely.Geometry:
    """The lot outside the house, areas kept included."""
    return shapely.Polygon(lot.design.boundary).difference(shapely.Polygon(lot.design.house))


def heights_at(surface: Surface, grid: Grid) -> FloatArray:
    """The heights (rows, columns) of a surface at cell centres, NaN where there is none."""
    return sample_grid(surface, grid.origin, grid.cell, grid.shape)


def held_heights(existing: FloatArray, lot: Finished, grid: Grid) -> FloatArray:
    """Finished heights (rows, columns) at cell centres: existing ones held by the lot's limits.

    Where the lot has no limits, beyond the lot line and in areas kept, they are the existing ones;
    in the house there is no ground: NaN.
    """
    lower, upper = heights_at(lot.lower, grid), heights_at(lot.upper, grid)
    held = np.minimum(np.maximum(existing, lower), upper)
    finished = np.where(np.isnan(lower), existing, held)
    return np.where(inside_of(shapely.Polygon(lot.design.house), grid), np.nan, finished)


def inside_of(region: shapely.Geometry, grid: Grid) -> BoolArray:
    """Which cells (rows, columns) have their centre in a region or on its edge."""
    return ~np.isnan(heights_at(level_floor(region, 0), grid))


def change_by_cell(ground: Surface, lot: Finished, grid: Grid) -> Change:
    """The change of the ground by cell over the lot outside the house."""
    raised = overlay_faces(lot.lower, ground)
    lowered = overlay_faces(ground, lot.upper)
    known = overlay_faces(level_floor(lot_area(lot), 0), ground)
    covered = shared_to_cells(known.start, known.ring, np.ones(len(known.ring)), grid)
    total = _above(raised, grid) - _above(lowered, grid)
    means = total / grid.cell**2
    fill = float(overlay_sums(lot.lower, ground).volume_above[0])
    cut = float(overlay_sums(ground, lot.upper).volume_above[0])
    return Change(
        means=np.where(covered > NO_AREA * grid.cell**2, means, np.nan),
        volume=fill - cut,
        gross=fill + cut,
    )


def _above(parts: OverlayFaces, grid: Grid) -> FloatArray:
    """The volume (rows, columns) where the first surface is above the second, by cell."""
    owner = np.repeat(parts.side, np.diff(parts.start))
    return shared_to_cells(parts.start, parts.ring, np.where(owner > 0, parts.depth, 0.0), grid)
