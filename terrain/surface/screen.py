"""Which faces of a fine surface may stand above or below a coarse one, told without an overlay.

A grid of cells keeps the least and the greatest that the coarse surface can be over each; a face
that lies clear of that over all its cells is left out. Nothing is ever left out wrongly.
"""

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from terrain.base.arrays import BoolArray, FloatArray, IntArray
from terrain.surface.compiled import Faces, Point, compiled
from terrain.surface.overlay import surface_arrays
from terrain.surface.patches import Surface, flipped, picked

CELLS_ALONG = 192
FEWEST_FACES = 20_000
"""With fewer faces than this an overlay is over before the screening is."""

ROUNDING = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Screen:
    """A surface ready to be screened: `box` (n, 4) of first and last column and row of each face.

    `low` and `high` (n,) are the least and greatest height of each face.
    """

    surface: Surface
    origin: Point
    cell: float
    shape: tuple[int, int]
    box: IntArray
    low: FloatArray
    high: FloatArray


@compiled
def _boxes(
    faces: Faces, grid: tuple[float, float, float], box: IntArray, reach: FloatArray
) -> None:
    """Write the cells and the heights that each face spans."""
    start, ring, plane = faces
    west, south, cell = grid
    for face in range(len(start) - 1):
        e, n, u, per_e, per_n = plane[face]
        box[face] = (1 << 30, -1, 1 << 30, -1)
        reach[face] = (np.inf, -np.inf)
        for i in range(start[face], start[face + 1]):
            column, row = int((ring[i, 0] - west) / cell), int((ring[i, 1] - south) / cell)
            upward = u + per_e * (ring[i, 0] - e) + per_n * (ring[i, 1] - n)
            box[face, 0], box[face, 1] = min(box[face, 0], column), max(box[face, 1], column)
            box[face, 2], box[face, 3] = min(box[face, 2], row), max(box[face, 3], row)
            reach[face, 0] = min(reach[face, 0], upward)
            reach[face, 1] = max(reach[face, 1], upward)


@compiled
def _least(faces: Faces, grid: tuple[float, float, float], least: FloatArray) -> None:
    """Lower `least` (rows, columns) to the least that any face may be over each cell."""
    start, ring, plane = faces
    west, south, cell = grid
    rows, columns = least.shape
    for face in range(len(start) - 1):
        first, last = start[face], start[face + 1]
        low_e, low_n, high_e, high_n = np.inf, np.inf, -np.inf, -np.inf
        for i in range(first, last):
            low_e, high_e = min(low_e, ring[i, 0]), max(high_e, ring[i, 0])
            low_n, high_n = min(low_n, ring[i, 1]), max(high_n, ring[i, 1])
        e, n, u, per_e, per_n = plane[face]
        drop = (abs(per_e) + abs(per_n)) * cell / 2
        for row in range(max(int((low_n - south) / cell) - 1, 0),
                         min(int((high_n - south) / cell) + 2, rows)):  # fmt: skip
            at_n = south + (row + 0.5) * cell
            for column in range(max(int((low_e - west) / cell) - 1, 0),
                                min(int((high_e - west) / cell) + 2, columns)):  # fmt: skip
                at_e = west + (column + 0.5) * cell
                clear = False
                for i in range(first, last):
                    j = i + 1 if i + 1 < last else first
                    along_e, along_n = ring[j, 0] - ring[i, 0], ring[j, 1] - ring[i, 1]
                    off = along_e * (at_n - ring[i, 1]) - along_n * (at_e - ring[i, 0])
                    if off < -(abs(along_e) + abs(along_n)) * cell * 0.51:
                        clear = True
                        break
                if not clear:
                    upward = u + per_e * (at_e - e) + per_n * (at_n - n) - drop
                    least[row, column] = min(least[row, column], upward)


@compiled
def _reaching(box: IntArray, high: FloatArray, least: FloatArray, found: BoolArray) -> None:
    """Mark the faces that are as high as the least of any of their cells."""
    for face in range(len(box)):
        for row in range(box[face, 2], box[face, 3] + 1):
            for column in range(box[face, 0], box[face, 1] + 1):
                if high[face] >= least[row, column]:
                    found[face] = True
                    break
            if found[face]:
                break


def screen_of(surface: Surface) -> Screen:
    """A surface made ready to be screened, once for all that it is compared with."""
    low, high = surface.ring.min(axis=0), surface.ring.max(axis=0)
    cell = float((high - low).max()) / CELLS_ALONG
    columns, rows = (math.floor(n) + 1 for n in (high - low) / cell)
    box = np.empty((len(surface), 4), dtype=np.int32)
    reach = np.empty((len(surface), 2))
    _boxes(surface_arrays(surface), (float(low[0]), float(low[1]), cell), box, reach)
    np.minimum(box[:, :2], columns - 1, out=box[:, :2])
    np.minimum(box[:, 2:], rows - 1, out=box[:, 2:])
    return Screen(
        surface=surface,
        origin=(float(low[0]), float(low[1])),
        cell=cell,
        shape=(rows, columns),
        box=box,
        low=np.ascontiguousarray(reach[:, 0]),
        high=np.ascontiguousarray(reach[:, 1]),
    )


def screened(screen: Screen, other: Surface, where: Literal["above", "below"]) -> Surface:
    """The faces of the screened surface without those that are nowhere above (below) another one.

    Where the other surface is not, a face is neither.
    """
    if len(screen.surface) < FEWEST_FACES:
        return screen.surface
    facing, high = (other, screen.high) if where == "above" else (flipped(other), -screen.low)
    least = np.full(screen.shape, np.inf)
    _least(surface_arrays(facing), (*screen.origin, screen.cell), least)
    least -= ROUNDING * (1.0 + np.abs(high).max())
    found = np.zeros(len(screen.surface), dtype=np.bool_)
    _reaching(screen.box, high, least, found)
    return picked(screen.surface, np.flatnonzero(found))
