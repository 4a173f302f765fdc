"""Thinning that keeps the volume: of all points in a cell the one of median elevation.

The lowest point of a cell lies below the ground by as much as the noise of the scan makes it, and
so would every volume; the median does not. Ties are broken by elevation, easting, northing, in
that order, so that the order of points in a file changes nothing. Of an even number the lower of
the middle two is taken.

A point far off its cell's median is thinned like the others, and so does no harm; how many there
are is told, for many of them say that a scan is not what it seems.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from terrain.base.arrays import FloatArray, IntArray
from terrain.base.compiled import compiled
from terrain.base.units import LengthUnit

Ints = NDArray[np.int32]
Bools = NDArray[np.bool_]
Packed = NDArray[np.uint64]
Took = tuple[int, int, int, int]
"""How many points were taken at front and back, lay outside the crop, lay beyond the ends."""
BITS = 64
MOST_UNTHINNED = 1_000_000
USUAL_CELL_M = 0.05
"""Metres, of cells where the job says nothing: finer than ground is graded, and as fine as a
million points over a lot of 50 m; our choice."""
FAR_M = 0.3
"""Metres off the median of its cell from which a point is told of; common practice, no source."""


def cell_of(asked: float | None, count: int, unit: LengthUnit) -> tuple[float | None, list[str]]:
    """The side of the cells for a scan of so many points, None to keep all, and words on it.

    `asked` is what the job says: nought keeps all, None all of up to `MOST_UNTHINNED` points.
    """
    if asked is not None or count <= MOST_UNTHINNED:
        return asked or None, []
    cell = USUAL_CELL_M / float(unit.metres)
    return cell, [
        f"holds over {MOST_UNTHINNED:,} points and the job says nothing of thin: cells of "
        f"{cell:.2g} {unit.name} taken; existing.thin = 0 keeps all."
    ]


Far = tuple[int, int]
"""How many points lie far below, and how many far above, the median of their cell."""


def thin(points: FloatArray, cell: float, far: float) -> tuple[IntArray, Far]:
    """The points (n, 3) that stay, as indices in order of their cells; cells lie on multiples.

    With them, how many points lie farther off their cell's median than `far`.
    """
    column, row = (np.floor(points[:, k] / cell) for k in (0, 1))
    order = np.lexsort([points[:, 1], points[:, 0], points[:, 2], column, row])
    ends = np.flatnonzero(
        (np.diff(column[order], append=np.inf) != 0) | (np.diff(row[order], append=np.inf) != 0)
    )
    starts = np.concatenate([[0], ends[:-1] + 1]) if len(ends) else ends
    kept: IntArray = order[(starts + ends) // 2]
    above = points[order, 2] - np.repeat(points[kept, 2], ends - starts + 1)
    return kept, (int((above < -far).sum()), int((above > far).sum()))


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """How a point of whole numbers packs into 64 bits that sort by cell, z, x and y.

    Args:
        cell: side of a cell in the file's whole numbers.
        west, south: lowest column and row.
        columns: how many there are.
        low: lowest z.
        bits: of z, and of x and y within a cell.
        half: number of the first cell that is packed at the back, so that both halves are sorted
            at once.
    """

    cell: float
    west: int
    south: int
    columns: int
    low: int
    bits: tuple[int, int]
    half: int


def grid_over(low: tuple[int, int, int], high: tuple[int, int, int], cell: float) -> Grid | None:
    """The grid over whole numbers from `low` to `high`, None if a point takes over 64 bits."""
    west, south = int(np.floor(low[0] / cell)), int(np.floor(low[1] / cell))
    columns = int(np.floor(high[0] / cell)) - west + 1
    rows = int(np.floor(high[1] / cell)) - south + 1
    bits = (int(high[2] - low[2]).bit_length(), (int(cell) + 1).bit_length())
    if (columns * rows).bit_length() + bits[0] + 2 * bits[1] > BITS or cell < 1.0:
        return None
    half = columns * (rows // 2)
    return Grid(
        cell=cell, west=west, south=south, columns=columns, low=low[2], bits=bits, half=half
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """Whole numbers that points must lie within: `crop` in plan, `ends` as the header states.

    `crop` is west, south, east, north; `ends` are the lowest x, y, z and the highest.
    """

    crop: tuple[float, float, float, float]
    ends: tuple[tuple[int, int, int], tuple[int, int, int]]


def pack(
    points: tuple[Ints, Ints, Ints], wanted: Bools, grid: Grid, box: Box, into: Packed
) -> Took:
    """Pack the wanted points inside the box into 64 bits each, from both ends of `into`.

    `points` are x, y, z (n,); the last figure of the answer is nought unless a point lies beyond
    the ends, for which the grid has no room.
    """
    how = (grid.cell, grid.west, grid.south, grid.columns, grid.low, *grid.bits)
    ends = (*box.ends[0], *box.ends[1])
    took: Took = _pack(*points, wanted, how, grid.half, box.crop, ends, into)
    return took


def medians(packed: Packed, grid: Grid, far: int) -> tuple[Packed, Far]:
    """The median points of cells, still packed (m,); `packed` (n,) is sorted and written over.

    With them, how many points lie farther off their cell's median than `far`. Front and back of
    what was packed may be asked one by one, and at once: no cell lies in both.
    """
    packed.sort()
    found, below, above = _medians(packed, grid.bits, far)
    return packed[:found], (below, above)


def unpack(packed: Packed, grid: Grid) -> Ints:
    """The points (n, 3) that were packed, as whole numbers."""
    how = (grid.cell, grid.west, grid.south, grid.columns, grid.low, *grid.bits)
    points: Ints = _unpack(packed, how)
    return points


@compiled
def _pack(
    x: Ints,
    y: Ints,
    z: Ints,
    wanted: Bools,
    grid: tuple[float, int, int, int, int, int, int],
    half: int,
    crop: tuple[float, float, float, float],
    ends: tuple[int, int, int, int, int, int],
    into: Packed,
) -> Took:
    side, west, south, columns, low, z_bits, own = grid
    front, back, outside, beyond = 0, 0, 0, 0
    for k in range(len(x)):
        if not wanted[k]:
            continue
        if not (crop[0] <= x[k] <= crop[2] and crop[1] <= y[k] <= crop[3]):
            outside += 1
            continue
        if not (
            ends[0] <= x[k] <= ends[3] and ends[1] <= y[k] <= ends[4] and ends[2] <= z[k] <= ends[5]
        ):
            beyond += 1
            continue
        column, row = np.floor(x[k] / side), np.floor(y[k] / side)
        number = (np.int64(row) - south) * columns + (np.int64(column) - west)
        packed = np.uint64(number) << np.uint64(z_bits)
        packed |= np.uint64(z[k] - low)
        packed = (packed << np.uint64(own)) | np.uint64(x[k] - np.ceil(column * side))
        packed = (packed << np.uint64(own)) | np.uint64(y[k] - np.ceil(row * side))
        if number < half:
            into[front] = packed
            front += 1
        else:
            back += 1
            into[len(into) - back] = packed
    return front, back, outside, beyond


@compiled
def _medians(packed: Packed, bits: tuple[int, int], far: int) -> tuple[int, int, int]:
    """Bring the middle point of each run of one cell among sorted points to the front.

    How many these are, and how many points are far below and far above theirs.
    """
    z_bits, own = bits
    up, shift = np.uint64(2 * own), np.uint64(z_bits + 2 * own)
    z_mask = np.uint64((1 << z_bits) - 1)
    start, found, below, above = 0, 0, 0, 0
    for k in range(1, len(packed) + 1):
        if k < len(packed) and (packed[k] >> shift) == (packed[start] >> shift):
            continue
        middle = packed[(start + k - 1) // 2]
        height = np.int64((middle >> up) & z_mask)
        first, last = start, k - 1
        while height - np.int64((packed[first] >> up) & z_mask) > far:
            first += 1
        while np.int64((packed[last] >> up) & z_mask) - height > far:
            last -= 1
        below, above = below + first - start, above + k - 1 - last
        packed[found] = middle
        start, found = k, found + 1
    return found, below, above


@compiled
def _unpack(packed: Packed, grid: tuple[float, int, int, int, int, int, int]) -> Ints:
    side, west, south, columns, low, z_bits, own = grid
    own_mask, z_mask = np.uint64((1 << own) - 1), np.uint64((1 << z_bits) - 1)
    point = np.empty((len(packed), 3), dtype=np.int32)
    for k in range(len(packed)):
        cell = np.int64(packed[k] >> np.uint64(z_bits + 2 * own))
        column, row = cell % columns + west, cell // columns + south
        point[k, 0] = np.ceil(column * side) + np.int64((packed[k] >> np.uint64(own)) & own_mask)
        point[k, 1] = np.ceil(row * side) + np.int64(packed[k] & own_mask)
        point[k, 2] = np.int64((packed[k] >> np.uint64(2 * own)) & z_mask) + low
    return point
