"""Thinning that keeps the volume: of all points in a cell the one of median elevation.

The lowest point of a cell lies below the ground by as much as the noise of the scan makes it, and
so would every volume; the median does not. Ties are broken by elevation, easting, northing, in
that order, so that the order of points in a file changes nothing. Of an even number the lower of
the middle two is taken.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from terrain.base.arrays import FloatArray, IntArray
from terrain.base.compiled import compiled

Ints = NDArray[np.int32]
Packed = NDArray[np.uint64]
BITS = 64


def thin(points: FloatArray, cell: float) -> IntArray:
    """The points (n, 3) that stay, as indices in order of their cells; cells lie on multiples."""
    column, row = (np.floor(points[:, k] / cell) for k in (0, 1))
    order = np.lexsort([points[:, 1], points[:, 0], points[:, 2], column, row])
    ends = np.flatnonzero(
        (np.diff(column[order], append=np.inf) != 0) | (np.diff(row[order], append=np.inf) != 0)
    )
    starts = np.concatenate([[0], ends[:-1] + 1]) if len(ends) else ends
    kept: IntArray = order[(starts + ends) // 2]
    return kept


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """How a point of whole numbers packs into 64 bits that sort by cell, z, x and y.

    Args:
        cell: side of a cell in the file's whole numbers.
        west, south: lowest column and row.
        columns: how many there are.
        low: lowest z.
        bits: of z, and of x and y within a cell.
    """

    cell: float
    west: int
    south: int
    columns: int
    low: int
    bits: tuple[int, int]


def grid_over(low: tuple[int, int, int], high: tuple[int, int, int], cell: float) -> Grid | None:
    """The grid over whole numbers from `low` to `high`, None if a point takes over 64 bits."""
    west, south = int(np.floor(low[0] / cell)), int(np.floor(low[1] / cell))
    columns = int(np.floor(high[0] / cell)) - west + 1
    rows = int(np.floor(high[1] / cell)) - south + 1
    bits = (int(high[2] - low[2]).bit_length(), (int(cell) + 1).bit_length())
    if (columns * rows).bit_length() + bits[0] + 2 * bits[1] > BITS or cell < 1.0:
        return None
    return Grid(cell=cell, west=west, south=south, columns=columns, low=low[2], bits=bits)


def pack(x: Ints, y: Ints, z: Ints, grid: Grid, into: Packed) -> None:
    """Pack points (n,) of whole numbers into 64 bits each, `into` (n,)."""
    _pack(x, y, z, (grid.cell, grid.west, grid.south, grid.columns, grid.low, *grid.bits), into)


def medians(packed: Packed, grid: Grid) -> tuple[Ints, Ints, Ints]:
    """The median points of all cells as whole numbers x, y, z; `packed` (n,) gets sorted."""
    packed.sort()
    kept = packed[_middles(packed, grid.bits[0] + 2 * grid.bits[1])]
    z_bits, own = grid.bits
    mask = np.uint64((1 << own) - 1)
    cell = (kept >> np.uint64(z_bits + 2 * own)).astype(np.int64)
    column = cell % grid.columns + grid.west
    row = cell // grid.columns + grid.south
    x = np.ceil(column * grid.cell).astype(np.int64) + ((kept >> np.uint64(own)) & mask).astype(
        np.int64
    )
    y = np.ceil(row * grid.cell).astype(np.int64) + (kept & mask).astype(np.int64)
    z_mask = np.uint64((1 << z_bits) - 1)
    z = ((kept >> np.uint64(2 * own)) & z_mask).astype(np.int64) + grid.low
    return x.astype(np.int32), y.astype(np.int32), z.astype(np.int32)


@compiled
def _pack(
    x: Ints,
    y: Ints,
    z: Ints,
    grid: tuple[float, int, int, int, int, int, int],
    into: Packed,
) -> None:
    side, west, south, columns, low, z_bits, own = grid
    for k in range(len(x)):
        column, row = np.floor(x[k] / side), np.floor(y[k] / side)
        number = (np.int64(row) - south) * columns + (np.int64(column) - west)
        packed = np.uint64(number) << np.uint64(z_bits)
        packed |= np.uint64(z[k] - low)
        packed = (packed << np.uint64(own)) | np.uint64(x[k] - np.ceil(column * side))
        into[k] = (packed << np.uint64(own)) | np.uint64(y[k] - np.ceil(row * side))


@compiled
def _middles(packed: Packed, below: int) -> IntArray:
    """Where the middle of each run of one cell stands among sorted points."""
    shift = np.uint64(below)
    count = 1
    for k in range(1, len(packed)):
        count += (packed[k] >> shift) != (packed[k - 1] >> shift)
    middle = np.empty(count if len(packed) else 0, dtype=np.int64)
    start, found = 0, 0
    for k in range(1, len(packed) + 1):
        if k == len(packed) or (packed[k] >> shift) != (packed[start] >> shift):
            middle[found] = (start + k - 1) // 2
            start, found = k, found + 1
    return middle
