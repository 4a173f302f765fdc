"""Heights of a surface at the centres of a grid of square cells."""

from os import cpu_count

import numpy as np

from terrain.base.arrays import FloatArray
from terrain.surface.chunks import over_all, reaching
from terrain.surface.compiled import Faces, Point, Starts, compiled
from terrain.surface.overlay import surface_arrays
from terrain.surface.patches import Surface


@compiled
def _row_reach(start: Starts, ring: FloatArray, face: int, northing: float) -> Point:
    """Least and greatest easting of a face along a line of one northing.

    An edge is always reckoned from its lower end, so that neighbours meet in one number.
    """
    west, east = np.inf, -np.inf
    first, count = start[face], start[face + 1] - start[face]
    for i in range(count):
        low, high = first + i, first + (i + 1 if i + 1 < count else 0)
        if ring[low, 1] > ring[high, 1]:
            low, high = high, low
        if ring[low, 1] <= northing <= ring[high, 1] and ring[low, 1] < ring[high, 1]:
            part = (northing - ring[low, 1]) / (ring[high, 1] - ring[low, 1])
            at = ring[low, 0] + part * (ring[high, 0] - ring[low, 0])
            west, east = min(west, at), max(east, at)
    return west, east


@compiled
def _fill_rows(
    surface: Faces, grid: tuple[float, float, float], rows: tuple[int, int], heights: FloatArray
) -> None:
    """Write the heights of all faces into the rows first to last of the grid."""
    start, ring, plane = surface
    west_edge, south_edge, cell = grid
    first_row, last_row = rows
    columns = heights.shape[1]
    for face in range(len(start) - 1):
        south, north = np.inf, -np.inf
        for i in range(start[face], start[face + 1]):
            south, north = min(south, ring[i, 1]), max(north, ring[i, 1])
        low = max(np.ceil((south - south_edge) / cell - 0.5), first_row)
        high = min(np.floor((north - south_edge) / cell - 0.5), last_row - 1)
        if low > high:
            continue
        easting, northing, upward, per_easting, per_northing = plane[face]
        for row in range(int(low), int(high) + 1):
            at = south_edge + (row + 0.5) * cell
            west, east = _row_reach(start, ring, face, at)
            left = max(np.ceil((west - west_edge) / cell - 0.5), 0.0)
            right = min(np.floor((east - west_edge) / cell - 0.5), columns - 1.0)
            if left > right:
                continue
            rise = upward + per_northing * (at - northing)
            for column in range(int(left), int(right) + 1):
                off = west_edge + (column + 0.5) * cell - easting
                heights[row, column] = rise + per_easting * off


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
    heights = np.full(shape, np.nan)
    grid = (float(origin[0]), float(origin[1]), float(cell))
    east, north = grid[0] + cell * shape[1], grid[1] + cell * shape[0]
    near, _ = reaching(surface, np.array([grid[0], grid[1], east, north]))
    arrays = surface_arrays(near)
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
