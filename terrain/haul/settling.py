"""Compiled: stands for cells, changed cell by cell as long as that is better beside the others."""

from typing import TypeAlias

import numpy as np

from terrain.base.arrays import BoolArray, FloatArray, IntArray
from terrain.base.compiled import compiled

Near: TypeAlias = tuple[IntArray, IntArray, FloatArray, IntArray]
"""Start, to, side and link of `Adjoining`."""

NONE = -1


@compiled
def settled(
    cost: FloatArray,
    near: Near,
    stand: IntArray,
    changing: tuple[IntArray, BoolArray, int],
    hours: tuple[float, float],
) -> None:
    """Change `stand` (n,) in place to less `counted` hours, cell by cell.

    `cost` is (n, k); `near` as in `Adjoining`; `changing` the cells that may change, the (k,)
    stands they may change to, and how many times over; `hours` of a ragged edge and an undercut.
    """
    start, to, side, link = near
    cells, used, sweeps = changing
    edge, undercut = hours
    total = np.empty(cost.shape[1])
    for _ in range(sweeps):
        same = True
        for cell in cells:
            for k in range(len(total)):
                total[k] = cost[cell, k] if used[k] else np.inf
            for at in range(start[cell], start[cell + 1]):
                other = stand[to[at]]
                if other == NONE:
                    continue
                total[other] -= edge * side[at]
                if link[at] == 1:
                    total[other + 1 :] += undercut
                elif link[at] == -1:
                    total[:other] += undercut
            best = np.argmin(total)
            if np.isfinite(total[best]) and best != stand[cell]:
                stand[cell] = best
                same = False
        if same:
            break


@compiled
def counted(
    cost: FloatArray,
    near: Near,
    stand: IntArray,
    hours: tuple[float, float, float],
) -> float:
    """Hours of stands (n,) for cells: theirs, and those of a ragged edge, an undercut, a stand."""
    start, to, side, link = near
    edge, undercut, move = hours
    used = np.zeros(cost.shape[1], dtype=np.bool_)
    total = 0.0
    for cell in range(len(stand)):
        own = stand[cell]
        if own == NONE:
            continue
        used[own] = True
        total += cost[cell, own]
        for at in range(start[cell], start[cell + 1]):
            other = stand[to[at]]
            if other != own:
                total += edge * side[at] / 2.0
            if link[at] == 1 and other != NONE and own > other:
                total += undercut
    return float(total + move * used.sum())
