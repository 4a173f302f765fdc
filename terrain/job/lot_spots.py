"""Spots of a plan: how much the ground changes there, and which way finished ground falls."""

import math
from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from terrain.base.arrays import BoolArray, FloatArray
from terrain.lot.grids import heights_at
from terrain.surface.gridding import Grid
from terrain.surface.patches import Surface

ALONG = 240
"""Cells along the longer side of the lot among which the greatest changes are looked for."""

ARROWS_ALONG, FIGURES_ALONG = 14, 11
"""About how many arrows and figures of change stand along the longer side; our choice."""

SMALL_CHANGE = 0.005
"""Changes below this share of the greatest are no figure of their own."""

LEVEL = 1e-4
"""Ground that falls less than this, drop per run, has no arrow."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """Finished less existing ground at a spot (2,): cut negative, fill positive.

    `is_greatest` if nowhere in the same piece of cut or fill more is changed, on a fine grid.
    """

    place: FloatArray
    upward: float
    is_greatest: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrow:
    """Finished ground falls from a spot (2,) towards `downhill` (2,), a unit vector, by `fall`."""

    place: FloatArray
    downhill: FloatArray
    fall: float


def changes_of(ground: Surface, finished: Surface, boundary: FloatArray) -> tuple[Change, ...]:
    """The greatest change of every piece of cut and fill, greatest first, then a grid of spots."""
    fine = _grid(boundary, ALONG)
    change = heights_at(finished, fine) - heights_at(ground, fine)
    least = SMALL_CHANGE * float(np.nanmax(np.abs(change), initial=0.0))
    greatest = [
        cell
        for way in (-1.0, 1.0)
        for cell in _peaks(way * np.nan_to_num(change), np.nan_to_num(way * change) > least)
    ]
    greatest.sort(key=lambda cell: -abs(float(change[cell])))
    told = [
        Change(place=_centre(fine, cell), upward=float(change[cell]), is_greatest=True)
        for cell in greatest
    ]
    coarse = _grid(boundary, FIGURES_ALONG)
    spread = heights_at(finished, coarse) - heights_at(ground, coarse)
    told += [
        Change(place=_centre(coarse, (row, column)), upward=float(spread[row, column]),
               is_greatest=False)
        for row, column in np.argwhere(np.nan_to_num(np.abs(spread)) > least).tolist()
    ]  # fmt: skip
    return tuple(told)


def _peaks(height: FloatArray, inside: BoolArray) -> list[tuple[int, int]]:
    """The highest cell of every connected piece."""
    pieces, count = ndimage.label(inside)
    if count == 0:
        return []
    found = np.array(ndimage.maximum_position(height, pieces, np.arange(1, count + 1)))
    return [(int(row), int(column)) for row, column in found.reshape(-1, 2).tolist()]


def arrows_of(finished: Surface, boundary: FloatArray) -> tuple[Arrow, ...]:
    """Which way finished ground falls at the centres of a grid over the lot."""
    grid = _grid(boundary, ARROWS_ALONG)
    step = 0.05 * grid.cell
    shifted = {
        way: heights_at(finished, _moved(grid, way[0] * step, way[1] * step))
        for way in ((1, 0), (-1, 0), (0, 1), (0, -1))
    }
    east = (shifted[1, 0] - shifted[-1, 0]) / (2 * step)
    north = (shifted[0, 1] - shifted[0, -1]) / (2 * step)
    fall = np.hypot(east, north)
    return tuple(
        Arrow(
            place=_centre(grid, (row, column)),
            downhill=-np.array([east[row, column], north[row, column]]) / fall[row, column],
            fall=float(fall[row, column]),
        )
        for row, column in np.argwhere(np.nan_to_num(fall) > LEVEL).tolist()
    )


def _grid(boundary: FloatArray, along: int) -> Grid:
    """Square cells over the lot, so many along its longer side."""
    low, high = boundary.min(axis=0), boundary.max(axis=0)
    cell = float((high - low).max()) / along
    columns, rows = (max(math.ceil(n - 1e-9), 1) for n in (high - low) / cell)
    return Grid(west=float(low[0]), south=float(low[1]), cell=cell, rows=rows, columns=columns)


def _moved(grid: Grid, east: float, north: float) -> Grid:
    return Grid(west=grid.west + east, south=grid.south + north, cell=grid.cell, rows=grid.rows,
                columns=grid.columns)  # fmt: skip


def _centre(grid: Grid, cell: tuple[int, int]) -> FloatArray:
    row, column = cell
    return np.array([grid.west + (column + 0.5) * grid.cell, grid.south + (row + 0.5) * grid.cell])
