"""Order of points along a Hilbert curve, so that neighbours on the ground are near in memory.

The curve's steps are those of D. Hilbert, *Ueber die stetige Abbildung einer Linie auf ein
Flaechenstueck*, Math. Ann. 38 (1891), here bit by bit from the coarsest square down.
"""

import numpy as np
from numpy.typing import NDArray

from terrain.base.arrays import FloatArray
from terrain.surface.kernel import compiled

BITS = 20


@compiled
def _fill_keys(
    plan: FloatArray, low: FloatArray, per_cell: float, bits: int, keys: NDArray[np.int64]
) -> None:
    last = (1 << bits) - 1
    for i in range(plan.shape[0]):
        column = min(max(int((plan[i, 0] - low[0]) * per_cell), 0), last)
        row = min(max(int((plan[i, 1] - low[1]) * per_cell), 0), last)
        key = 0
        half = 1 << (bits - 1)
        while half > 0:
            right = (column & half) != 0
            upper = (row & half) != 0
            quarter = (2 if upper else 3) if right else (1 if upper else 0)
            key = 4 * key + quarter
            if not upper:
                if right:
                    column, row = last - column, last - row
                column, row = row, column
            half >>= 1
        keys[i] = key


def hilbert_keys(plan: FloatArray) -> NDArray[np.int64]:
    """How far along the curve each plan point (n, 2) lies, in cells of a 2^20 square grid."""
    keys = np.zeros(len(plan), dtype=np.int64)
    if len(plan):
        low = plan.min(axis=0)
        extent = float((plan.max(axis=0) - low).max())
        if extent > 0:
            _fill_keys(plan, low, (1 << BITS) / extent, BITS, keys)
    return keys


def hilbert_order(plan: FloatArray) -> NDArray[np.int64]:
    """The indices (n,) that sort plan points (n, 2) along the curve; ties keep their order."""
    return np.argsort(hilbert_keys(plan), kind="stable")
