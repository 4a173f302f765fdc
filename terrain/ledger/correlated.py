"""The variance of a weighted sum of errors that shots near one another share.

Two shots at distance d share rho(d) = 1 - 1.5 d/R + 0.5 (d/R)^3 of the variance up to the range R,
nothing beyond: the spherical model of geostatistics (from memory), taken because its range is what
the word says. It is positive definite in the plan, so no variance comes out negative.
"""

from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray
from scipy.fft import irfft2, next_fast_len, rfft2

from terrain.base.arrays import FloatArray, IntArray
from terrain.surface.compiled import compiled

PAIRS_ONE_BY_ONE = 100_000_000
"""So many pairs or fewer are summed exactly, in about half a second; more by cells."""
CELLS_A_RANGE = 32
"""Cells along a range: with bilinear shares the variance is then within ACCURACY of itself."""
MOST_CELLS = 16_000_000
ACCURACY = 0.005
"""Share of the variance within which a sum by cells is that by pairs; the tests hold it."""

Cells: TypeAlias = tuple[int, int]


def correlated_variance(plan: FloatArray, weight: FloatArray, reach: float) -> float:
    """The sum of w_i w_j rho(d_ij) over all pairs, in the weights' unit squared: for an error of 1.

    Exact up to PAIRS_ONE_BY_ONE pairs within the range and somewhat beyond, else by cells, within
    ACCURACY of it. A range of 0 leaves each shot its own error.

    Args:
        plan: (n, 2), the shots, in length units.
        weight: (n,), of each shot, of either sign.
        reach: the range R, >= 0, in length units.
    """
    alone = float(weight @ weight)
    if reach <= 0.0 or len(weight) < 2:
        return alone
    place, shape = _cells(plan, reach)
    counts = np.bincount(place, minlength=shape[0] * shape[1]).reshape(shape)
    if _candidates(counts) > PAIRS_ONE_BY_ONE:
        return by_cells(plan, weight, reach)
    order = np.argsort(place, kind="stable")
    start = np.concatenate([[0], np.cumsum(counts.ravel())]).astype(np.int64)
    apart = _pairs(plan[order], weight[order], start, shape, float(reach))
    return max(alone + 2.0 * apart, 0.0)


def by_cells(plan: FloatArray, weight: FloatArray, reach: float) -> float:
    """The same sum with every weight shared out to the four nearest cell centres, by FFT."""
    low = plan.min(axis=0)
    extent = plan.max(axis=0) - low
    cell = min(reach, float(extent.max()) or reach) / CELLS_A_RANGE
    cell = max(cell, float(np.sqrt(np.prod(extent + 2 * cell) / MOST_CELLS)))
    at = (plan - low) / cell
    held = _shared_out(at, weight)
    shape = tuple(next_fast_len(n + int(np.ceil(reach / cell)), real=True) for n in held.shape)
    away = [cell * np.minimum(np.arange(n), n - np.arange(n)) for n in shape]
    rho = spherical(np.hypot(away[0][:, None], away[1]), reach)
    spread = irfft2(rfft2(held, shape) * rfft2(rho), shape)[: held.shape[0], : held.shape[1]]
    # what a weight shares with itself is put right: spread over four centres it came out too low
    itself = weight @ (weight * (1.0 - _with_itself(at, cell, reach)))
    return max(float(np.sum(held * spread) + itself), 0.0)


def spherical(distance: FloatArray, reach: float) -> FloatArray:
    """What shots so far apart share of the variance, 1 at no distance, 0 from the range on."""
    near = np.minimum(distance / reach, 1.0)
    return np.asarray(1.0 - near * (1.5 - 0.5 * near * near))


def _with_itself(at: FloatArray, cell: float, reach: float) -> FloatArray:
    """What the four shares of each weight have in common with one another, for a weight of 1."""
    part = at - np.floor(at)
    apart = 2 * part * (1 - part)  # that two shares stand a cell apart in easting, in northing
    both = apart.prod(axis=1)
    straight, aslant = (float(spherical(np.array(d), reach)) for d in (cell, cell * np.sqrt(2.0)))
    one = apart.sum(axis=1) - 2 * both
    return np.asarray(1.0 - one * (1 - straight) - both * (1 - aslant))


def _shared_out(at: FloatArray, weight: FloatArray) -> FloatArray:
    """A grid (columns, rows) at least as large as any range, weights at `at` (n, 2) in cells."""
    first = np.floor(at).astype(np.int64)
    part = at - first
    columns, rows = (int(c) + 2 for c in first.max(axis=0))
    grid = np.zeros(columns * rows)
    for right in (0, 1):
        for upper in (0, 1):
            share = np.where(right, part[:, 0], 1 - part[:, 0]) * np.where(
                upper, part[:, 1], 1 - part[:, 1]
            )
            place = (first[:, 0] + right) * rows + first[:, 1] + upper
            grid += np.bincount(place, share * weight, len(grid))
    return grid.reshape(columns, rows)


def _cells(plan: FloatArray, reach: float) -> tuple[IntArray, Cells]:
    """The cell of each shot, cells being no smaller than the range, and how many there are."""
    low = plan.min(axis=0)
    extent = plan.max(axis=0) - low
    side = max(reach, float(np.sqrt(np.prod(extent) / (4 * len(plan)))), float(extent.max()) / 4e6)
    columns, rows = (int(n) + 1 for n in extent // side)
    at = np.minimum(((plan - low) / side).astype(np.int64), [columns - 1, rows - 1])
    return at[:, 0] * rows + at[:, 1], (columns, rows)


def _candidates(counts: NDArray[Any]) -> int:
    """How many pairs lie in cells that touch."""
    padded = np.pad(counts.astype(np.float64), 1)
    columns, rows = counts.shape
    around = sum(padded[i : i + columns, j : j + rows] for i in range(3) for j in range(3))
    return int(np.sum(counts * around) / 2)


@compiled
def _pairs(
    plan: FloatArray, weight: FloatArray, start: NDArray[np.int64], shape: Cells, reach: float
) -> float:
    """Half the sum over unlike shots, which stand cell by cell; `start` where each cell begins."""
    columns, rows = shape
    total = 0.0
    for column in range(columns):
        for row in range(rows):
            here = column * rows + row
            for i in range(start[here], start[here + 1]):
                own = 0.0
                # the rest of the cell, then the half of the cells around that come after it
                for k in range(5):
                    right, up = (0, k) if k < 2 else (1, k - 3)
                    first = i + 1 if k == 0 else 0
                    if column + right >= columns or row + up < 0 or row + up >= rows:
                        continue
                    there = (column + right) * rows + row + up
                    for j in range(max(first, start[there]), start[there + 1]):
                        east, north = plan[j, 0] - plan[i, 0], plan[j, 1] - plan[i, 1]
                        squared = east * east + north * north
                        if squared < reach * reach:
                            near = np.sqrt(squared) / reach
                            own += weight[j] * (1.0 - near * (1.5 - 0.5 * near * near))
                total += weight[i] * own
    return total
