"""Heights of a surface at the centres of a grid of square cells."""

from os import cpu_count

import numpy as np

from terrain.base.arrays import FloatArray
from terrain.surface.chunks import over_all
from terrain.surface.compiled import Faces, compiled, inlined
from terrain.surface.overlay import surface_arrays
from terrain.surface.patches import Surface

FEW = 4


@inlined
def _fill_triangle(
    ring: FloatArray,
    corners: tuple[int, int, int],
    plane: FloatArray,
    grid: tuple[float, float, float],
    rows: tuple[int, int],
    heights: FloatArray,
) -> None:
    """Write the heights of a plane at the cells' centres in a triangle, in rows first to last.

    Sides are reckoned from their lower ends, so that neighbours meet in one number.
    """
    west_edge, south_edge, cell = grid
    a_cell = 1.0 / cell
    low_e, low_n = ring[corners[0], 0], ring[corners[0], 1]
    mid_e, mid_n = ring[corners[1], 0], ring[corners[1], 1]
    top_e, top_n = ring[corners[2], 0], ring[corners[2], 1]
    south, north = south_edge + rows[0] * cell, south_edge + rows[1] * cell
    if max(low_n, mid_n, top_n) < south or min(low_n, mid_n, top_n) > north:
        return  # told before sorting, which costs more than all else where nothing is to fill
    if mid_n < low_n:
        low_e, low_n, mid_e, mid_n = mid_e, mid_n, low_e, low_n
    if top_n < low_n:
        low_e, low_n, top_e, top_n = top_e, top_n, low_e, low_n
    if top_n < mid_n:
        mid_e, mid_n, top_e, top_n = top_e, top_n, mid_e, mid_n
    first = max(int(np.ceil((low_n - south_edge) * a_cell - 0.5)), rows[0])
    last = min(int(np.floor((top_n - south_edge) * a_cell - 0.5)), rows[1] - 1)
    if first > last or low_n == top_n:
        return
    along = (top_e - low_e) / (top_n - low_n)
    below = (mid_e - low_e) / (mid_n - low_n) if mid_n > low_n else 0.0
    above = (top_e - mid_e) / (top_n - mid_n) if top_n > mid_n else 0.0
    for row in range(first, last + 1):
        northing = south_edge + (row + 0.5) * cell
        held = min(max(northing, low_n), top_n)
        one = low_e + (held - low_n) * along
        below_mid = held < mid_n
        other = low_e + (held - low_n) * below if below_mid else mid_e + (held - mid_n) * above
        left = max(int(np.ceil((min(one, other) - west_edge) * a_cell - 0.5)), 0)
        right = int(np.floor((max(one, other) - west_edge) * a_cell - 0.5))
        right = min(right, heights.shape[1] - 1)
        if left > right:
            continue
        rise = plane[2] + plane[4] * (northing - plane[1])
        # Most rows have few cells: these are written without asking how many, the last one again
        # and again, for a loop whose length can't be foretold takes longer than what it does.
        for k in range(FEW):
            column = min(left + k, right)
            heights[row, column] = rise + plane[3] * (west_edge + (column + 0.5) * cell - plane[0])
        for column in range(left + FEW, right + 1):
            heights[row, column] = rise + plane[3] * (west_edge + (column + 0.5) * cell - plane[0])


@compiled
def _fill_rows(
    surface: Faces, grid: tuple[float, float, float], rows: tuple[int, int], heights: FloatArray
) -> None:
    """Write the heights of all faces into the rows first to last of the grid, NaN off them.

    A face is filled as triangles about its first corner.
    """
    start, ring, plane = surface
    heights[rows[0] : rows[1]] = np.nan
    for face in range(len(start) - 1):
        for k in range(start[face] + 1, start[face + 1] - 1):
            corners = start[face], k, k + 1
            _fill_triangle(ring, corners, plane[face], grid, rows, heights)


def sample_grid(
    surface: Surface, origin: tuple[float, float], cell: float, shape: tuple[int, int]
) -> FloatArray:
    """Heights (rows, columns) in length units at the cells' centres, NaN off the surface.

    Row 0 is the southernmost, column 0 the westernmost. Where a centre lies on the edge of two
    faces that jump, the later face holds.

    Args:
        surface: what is sampled.
        origin: easting and northing of the grid's south-west corner, in the surface's frame.
        cell: side of a cell, in length units.
        shape: rows and columns.
    """
    heights = np.empty(shape)
    grid = (float(origin[0]), float(origin[1]), float(cell))
    arrays = surface_arrays(surface)
    bands = np.linspace(0, shape[0], (cpu_count() or 1) + 1).astype(int).tolist()

    def fill(band: int) -> None:
        _fill_rows(arrays, grid, (bands[band], bands[band + 1]), heights)

    over_all(fill, len(bands) - 1)
    return heights


def heights_over(surface: Surface, plan: FloatArray) -> FloatArray:
    """Heights of a surface of few faces over spots (n, 2), the lower one at a jump; NaN off it."""
    heights = np.full(len(plan), np.nan)
    for face in range(len(surface)):
        corners = surface.corners(face)
        inside = np.ones(len(plan), dtype=np.bool_)
        for start, end in zip(corners, np.roll(corners, -1, axis=0), strict=True):
            away = plan - start
            inside &= (end - start)[0] * away[:, 1] - (end - start)[1] * away[:, 0] >= 0.0
        heights[inside] = np.fmin(heights[inside], surface.upward_at(face, plan[inside]))
    return heights
