"""The lot as rasters: which grid, and finished, existing and changed ground on it."""

import math
from dataclasses import dataclass

import numpy as np

from terrain.base.arrays import FloatArray
from terrain.base.errors import DesignError, Fault
from terrain.base.frame import LocalFrame
from terrain.base.units import LengthUnit
from terrain.lot.finish import Finished
from terrain.lot.grids import change_by_cell, heights_at, held_heights, inside_of, lot_area
from terrain.surface.gridding import Grid
from terrain.surface.patches import Surface

MOST_CELLS = 4096 * 4096
"""Cells of the largest raster that is made: 128 MB of numbers, of our choice."""

USUAL_CELLS = 1024 * 1024
"""A cell that the job leaves open is doubled until the raster has no more cells than this."""

USUAL_CELL = {"ft": 1.0, "ftUS": 1.0, "m": 0.25}
"""Side of a cell where the job says nothing, in its length unit; our choice, no source."""

FLOW_CELLS = 512 * 1024
"""Cells of the largest grid on which water is led: a second's work or so."""

FLOW_MARGIN = 20.0
"""How many usual cells of ground beyond the lot line water is led over, where it is surveyed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Raster:
    """One quantity on a grid, in length units; NaN where there is none.

    Args:
        name: what it is called in results and files.
        meaning: what a value is, in a sentence.
        values: (rows, columns), row 0 southernmost, column 0 westernmost.
        volume_by_cells: of a change, its values' sum times the cell's area, in cubic length units.
        volume: of a change, the exact volume: fill less cut over the lot.
    """

    name: str
    meaning: str
    grid: Grid
    values: FloatArray
    volume_by_cells: float | None = None
    volume: float | None = None


def lot_grid(boundary: FloatArray, frame: LocalFrame, unit: LengthUnit, cell: float | None) -> Grid:
    """Cells over a lot line (n, 2), from whole multiples of the cell on the site's own grid.

    So the rasters of one site lie cell on cell, whatever is measured or designed anew.

    Raises:
        DesignError: at `lot.cell`, where the raster would have more than `MOST_CELLS`.
    """
    low, high = frame.to_site(boundary.min(axis=0)), frame.to_site(boundary.max(axis=0))
    side = USUAL_CELL[unit.name] if cell is None else cell
    rows, columns = _counts(low, high, side)
    while cell is None and rows * columns > USUAL_CELLS:
        side *= 2
        rows, columns = _counts(low, high, side)
    if rows * columns > MOST_CELLS:
        finest = math.sqrt(float(np.prod(high - low)) / MOST_CELLS) * 1.01
        places = max(0, 1 - math.floor(math.log10(finest)))
        fits = math.ceil(finest * 10**places) / 10**places
        raise DesignError(
            Fault(
                key="lot.cell",
                message=f"cells of {side:g} {unit.name} make a raster of {rows:,.0f} by "
                f"{columns:,.0f} over this lot; the largest has {MOST_CELLS:,} cells. "
                f"{fits:g} {unit.name} fits",
            )
        )
    return _grid(low, high, frame, side)


def flow_grid(boundary: FloatArray, frame: LocalFrame, unit: LengthUnit) -> Grid:
    """Cells for the flow of water over a lot line (n, 2) and some ground beyond it.

    They are half the usual cell, doubled until the grid has no more than `FLOW_CELLS`.
    """
    side = USUAL_CELL[unit.name] / 2
    margin = FLOW_MARGIN * USUAL_CELL[unit.name]
    low = frame.to_site(boundary.min(axis=0) - margin)
    high = frame.to_site(boundary.max(axis=0) + margin)
    while math.prod(_counts(low, high, side)) > FLOW_CELLS:
        side *= 2
    return _grid(low, high, frame, side)


def _grid(low: FloatArray, high: FloatArray, frame: LocalFrame, side: float) -> Grid:
    rows, columns = _counts(low, high, side)
    west, south = frame.to_local(np.floor(low / side) * side)
    return Grid(
        west=float(west), south=float(south), cell=side, rows=int(rows), columns=int(columns)
    )


def _counts(low: FloatArray, high: FloatArray, side: float) -> tuple[float, float]:
    """Rows and columns of the cells that cover a box."""
    columns, rows = np.maximum(np.ceil(high / side) - np.floor(low / side), 1.0)
    return float(rows), float(columns)


def rasters_of(ground: Surface, lot: Finished, grid: Grid) -> tuple[Raster, ...]:
    """Finished and existing ground and the change, at cell centres; the change as cell means.

    Changes are finished less existing: cut negative, fill positive.
    """
    existing = heights_at(ground, grid)
    finished = held_heights(existing, lot, grid)
    moved = np.where(inside_of(lot_area(lot), grid), finished - existing, np.nan)
    change = change_by_cell(ground, lot, grid)

    def by_cells(values: FloatArray) -> float:
        return math.fsum(values[~np.isnan(values)]) * grid.cell**2

    return (
        Raster(
            name="finished_grade", grid=grid, values=finished,
            meaning="Finished ground at the cell's centre; beyond the lot line it is the existing.",
        ),
        Raster(
            name="existing_grade", grid=grid, values=existing,
            meaning="Existing ground at the cell's centre.",
        ),
        Raster(
            name="cut_fill", grid=grid, values=moved,
            meaning="Finished less existing ground at the cell's centre: cut negative.",
            volume_by_cells=by_cells(moved), volume=change.volume,
        ),
        Raster(
            name="cut_fill_mean", grid=grid, values=change.means,
            meaning="Finished less existing ground, exact mean over the cell: cut negative. The "
            "sum times the cell's area is the exact volume; what a cell has outside the lot or in "
            "the house counts as nought.",
            volume_by_cells=by_cells(change.means), volume=change.volume,
        ),
    )  # fmt: skip
