"""Order of points along a Hilbert curve, so that neighbours on the ground are near in memory.

The curve's steps are those of D. Hilbert, *Ueber die stetige Abbildung einer Linie auf ein
Flaechenstueck*, Math. Ann. 38 (1891), here bit by bit from the coarsest square down.
"""

import numpy as np
from numpy.typing import NDArray

from terrain.base.arrays import FloatArray
from terrain.surface.compiled import compiled

BITS = 20
AT_A_TIME = 256


@compiled
def _fill_keys(
    plan: FloatArray, low: FloatArray, per_cell: float, bits: int, keys: NDArray[np.int64]
) -> None:
    """Write the keys, many points at a time and without branches: so the machine does several at
    once, and does not guess at bits that are noise.
    """
    last = (1 << bits) - 1
    column, row = np.empty(AT_A_TIME, np.int64), np.empty(AT_A_TIME, np.int64)
    for first in range(0, len(keys), AT_A_TIME):
        key = keys[first : first + AT_A_TIME]
        for i in range(len(key)):
            column[i] = min(max(int((plan[first + i, 0] - low[0]) * per_cell), 0), last)
            row[i] = min(max(int((plan[first + i, 1] - low[1]) * per_cell), 0), last)
            key[i] = 0
        for bit in range(bits - 1, -1, -1):
            for i in range(len(key)):
                right, upper = (column[i] >> bit) & 1, (row[i] >> bit) & 1
                key[i] = 4 * key[i] + ((3 * right) ^ upper)
                turned = -(right & ~upper) & last
                swapped = (upper - 1) & (column[i] ^ row[i])
                column[i] = column[i] ^ turned ^ swapped
                row[i] = row[i] ^ turned ^ swapped


def hilbert_keys(plan: FloatArray) -> NDArray[np.int64]:
    """How far along the curve each plan point (n, 2) lies, in cells of a 2^20 square grid."""
    keys = np.zeros(len(plan), dtype=np.int64)
    if len(plan):
        # column by column: along the rows of so narrow an array numpy is many times slower
        low = np.array([column.min() for column in plan.T])
        extent = float(max(column.max() - least for column, least in zip(plan.T, low, strict=True)))
        if extent > 0:
            _fill_keys(plan, low, (1 << BITS) / extent, BITS, keys)
    return keys


def hilbert_order(plan: FloatArray) -> NDArray[np.int64]:
    """The indices (n,) that sort plan points (n, 2) along the curve; ties keep their order."""
    return np.argsort(hilbert_keys(plan), kind="stable")
