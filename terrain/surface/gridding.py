"""What lies over the cells of a grid, shared out among them exactly."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from terrain.base.arrays import FloatArray
from terrain.surface.clipping import measure
from terrain.surface.compiled import Point, Starts, compiled

# Rows of the workspace, each (easting, northing, height): what is left of a polygon, the row of it
# cut off last, what is left of that row, the cell cut off last, and a spare while it is cut.
LEFT, ROW, CELL, SPARE, ROWS = 0, 3, 6, 9, 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """Square cells: row 0 is the southernmost, column 0 the westernmost.

    Args:
        west: easting of the grid's south-west corner, in the local frame.
        south: its northing.
        cell: side of a cell, in length units.
        rows: how many cells from south to north.
        columns: how many from west to east.
    """

    west: float
    south: float
    cell: float
    rows: int
    columns: int

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns, as arrays have them."""
        return self.rows, self.columns

    @property
    def origin(self) -> Point:
        """The south-west corner, as easting and northing."""
        return self.west, self.south

    def centres(self) -> FloatArray:
        """The cells' centres (rows, columns, 2) in the local frame."""
        return self.middle_of(*np.indices(self.shape))

    def middle_of(self, row: NDArray[np.int64], column: NDArray[np.int64]) -> FloatArray:
        """The centres (..., 2) of some cells in the local frame."""
        return np.stack(
            [self.west + (column + 0.5) * self.cell, self.south + (row + 0.5) * self.cell], axis=-1
        )


@compiled
def _cut_off(
    work: FloatArray, polygon: tuple[int, int], line: tuple[int, float], target: int
) -> tuple[int, int]:
    """Corners (cut off, left) of a polygon's parts before and after a line of the grid.

    `polygon` is its row in the workspace and how many corners it has; `line` is the axis across
    it, 0 for easting and 1 for northing, and where it lies. The part before goes to row `target`,
    the part after stays. Both get the same points on the line, so nothing is lost between them.
    """
    row, count = polygon
    axis, bound = line
    cut, left = 0, 0
    for i in range(count):
        j = i - 1 if i > 0 else count - 1
        here, there = work[row + axis, j] - bound, work[row + axis, i] - bound
        if (here < 0.0 and there > 0.0) or (here > 0.0 and there < 0.0):
            part = here / (here - there)
            for k in range(3):
                at = work[row + k, j] + part * (work[row + k, i] - work[row + k, j])
                at = bound if k == axis else at
                work[target + k, cut], work[SPARE + k, left] = at, at
            cut, left = cut + 1, left + 1
        for k in range(3):
            work[target + k, cut], work[SPARE + k, left] = work[row + k, i], work[row + k, i]
        cut += there <= 0.0
        left += there >= 0.0
    for i in range(left):
        for k in range(3):
            work[row + k, i] = work[SPARE + k, i]
    return cut, left


@compiled
def _reach(work: FloatArray, row: int, count: int) -> Point:
    """The least and the greatest number in a row of the workspace."""
    low, high = np.inf, -np.inf
    for i in range(count):
        low, high = min(low, work[row, i]), max(high, work[row, i])
    return low, high


@compiled
def _share_out(
    start: Starts,
    ring: FloatArray,
    height: FloatArray,
    corner: tuple[float, float, float],
    total: FloatArray,
) -> None:
    """Add the integral of `height` over each polygon to `total`, cell by cell.

    Work is done relative to the polygon's first corner. `corner` is the grid's west, south and
    cell. What rounding puts outside the grid goes to its outermost cells.
    """
    west_edge, south_edge, cell = corner
    rows, columns = total.shape
    most = 0
    for part in range(len(start) - 1):
        most = max(most, start[part + 1] - start[part])
    work = np.empty((ROWS, 8 * most + 16))
    for part in range(len(start) - 1):
        first, count = start[part], start[part + 1] - start[part]
        if count < 3:
            continue
        for i in range(count):
            work[LEFT, i] = ring[first + i, 0] - ring[first, 0]
            work[LEFT + 1, i] = ring[first + i, 1] - ring[first, 1]
            work[LEFT + 2, i] = height[first + i]
        west, south = west_edge - ring[first, 0], south_edge - ring[first, 1]
        low, high = _reach(work, LEFT + 1, count)
        row = min(max(int(np.floor((low - south) / cell)), 0), rows - 1)
        while count >= 3:
            line = south + (row + 1) * cell
            if row == rows - 1 or line >= high:
                line = np.inf
            in_row, count = _cut_off(work, (LEFT, count), (1, line), ROW)
            west_most, east_most = _reach(work, ROW, in_row)
            column = min(max(int(np.floor((west_most - west) / cell)), 0), columns - 1)
            while in_row >= 3:
                line = west + (column + 1) * cell
                if column == columns - 1 or line >= east_most:
                    line = np.inf
                in_cell, in_row = _cut_off(work, (ROW, in_row), (0, line), CELL)
                total[row, column] += measure(work, CELL, in_cell)[1] / 6.0
                column += 1
            row += 1


def shared_to_cells(
    start: NDArray[np.int64], ring: FloatArray, height: FloatArray, grid: Grid
) -> FloatArray:
    """The integral (rows, columns) of a height over convex polygons, cell by cell.

    In cubic length units; the cells' sum is the sum over the polygons but for rounding.

    Args:
        start: (n + 1,) where each polygon's corners begin.
        ring: (k, 2) corners, each polygon counter-clockwise and within the grid.
        height: (k,) at each corner; over each polygon it is linear.
        grid: the cells.
    """
    total = np.zeros(grid.shape)
    corner = (float(grid.west), float(grid.south), float(grid.cell))
    _share_out(
        np.ascontiguousarray(start, dtype=np.int64),
        np.ascontiguousarray(ring, dtype=np.float64),
        np.ascontiguousarray(height, dtype=np.float64),
        corner,
        total,
    )
    return total
