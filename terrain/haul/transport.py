"""Earth from cells to places at the least machine-hours: one linear program, solved by HiGHS.

Every cell is cast once. What a place holds beyond its need is pushed to another, or loaded; what a
place lacks in the end is brought in. The truck is the last column of what is cast and moved.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.optimize import linprog
from scipy.sparse import coo_array

from terrain.base.arrays import FloatArray, IntArray
from terrain.base.errors import SurfaceError

WITHIN = 1e-9
"""Share of a capacity that is left free, so that rounding never fills a place beyond it."""

NOUGHT = 1e-9
"""Shares of a usual cell smaller than this are rounding."""

TIGHT = 1e-10
"""How far HiGHS may break a limit, as a share of a usual cell: its least."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """A transport problem; volumes in one unit, costs in hours a unit.

    Args:
        supply: (n,) of each cell.
        cast: (n, p + 1) cost of casting to each place and, last, to the truck; inf where it can't.
        need: (p,) what each place is to hold in the end.
        capacity: (p,) what it holds at most while digging.
        already: (p,) what lies there before.
        push: (p, p + 1) cost of moving on from place to place and, last, into the truck; inf where
            it can't.
        bring: cost of bringing in what is lacking in the end.
        must_leave: what must go by truck at the least.
    """

    supply: FloatArray
    cast: FloatArray
    need: FloatArray
    capacity: FloatArray
    already: FloatArray
    push: FloatArray
    bring: float
    must_leave: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Shipped:
    """What goes where: `cast` (n, p + 1), `moved` (p, p + 1), `brought` (p,); `hours` in all."""

    cast: FloatArray
    moved: FloatArray
    brought: FloatArray
    hours: float

    @property
    def hauled(self) -> float:
        """What leaves by truck."""
        return float(self.cast[:, -1].sum() + self.moved[:, -1].sum())


def ship(asked: Asked) -> Shipped:
    """The cheapest way to put all earth where it is needed.

    Raises:
        SurfaceError: there is none, which is a fault of ours: a truck takes what no place can.
    """
    cell, to = np.nonzero(np.isfinite(asked.cast))
    source, target = np.nonzero(np.isfinite(asked.push))
    places = len(asked.need)
    cost = np.concatenate(
        [asked.cast[cell, to], asked.push[source, target], np.full(places, asked.bring)]
    )
    equal, right = _equalities(asked, (cell, to), (source, target))
    upper, most = _limits(asked, (cell, to), target)
    shipped = _least(cost, (upper, most), (equal, right))
    cast = np.zeros_like(asked.cast)
    cast[cell, to] = shipped[: len(cell)]
    cast = _whole(cast, asked.supply)
    moved = np.zeros_like(asked.push)
    moved[source, target] = shipped[len(cell) : len(cell) + len(source)]
    return _told(asked, cast, moved, shipped[len(cell) + len(source) :])


def settle(asked: Asked, cast: FloatArray) -> Shipped:
    """The cheapest way to move on what is cast already, (n, p + 1)."""
    source, target = np.nonzero(np.isfinite(asked.push))
    places = len(asked.need)
    cost = np.concatenate([asked.push[source, target], np.full(places, asked.bring)])
    none = np.zeros(0, dtype=np.int64)
    equal, right = _equalities(asked, (none, none), (source, target))
    right = right[len(asked.supply) :] - cast[:, :places].sum(axis=0)
    leaves = (target == places).astype(np.float64)
    upper = -np.concatenate([leaves, np.zeros(places)])[None, :]
    most = np.array([cast[:, -1].sum() - asked.must_leave])
    shipped = _least(cost, (upper, most), (equal.tocsr()[len(asked.supply) :], right))
    moved = np.zeros_like(asked.push)
    moved[source, target] = shipped[: len(source)]
    return _told(asked, cast, moved, shipped[len(source) :])


def _least(
    cost: FloatArray, upper: tuple[Any, FloatArray], equal: tuple[Any, FloatArray]
) -> FloatArray:
    """The non-negative figures of least cost with `A x <= b` and `C x = d`."""
    scale = max(float(np.abs(equal[1]).mean()), 1e-300)
    found = linprog(
        cost, A_ub=upper[0], b_ub=upper[1] / scale, A_eq=equal[0], b_eq=equal[1] / scale,
        method="highs-ds", options={"primal_feasibility_tolerance": TIGHT},
    )  # fmt: skip
    if found.status != 0:
        raise SurfaceError(f"no way to place the earth was found ({found.message}); please report")
    share = np.asarray(found.x, dtype=np.float64)
    return np.asarray(np.where(share > NOUGHT, share, 0.0) * scale)


def _whole(share: FloatArray, supply: FloatArray) -> FloatArray:
    """The same, each row made to sum to its supply exactly.

    What is too little for the program to tell from nothing goes into the truck.
    """
    share[(share.sum(axis=1) == 0.0) & (supply > 0.0), -1] = 1.0
    total = share.sum(axis=1)
    share = np.where(share > NOUGHT * total[:, None], share, 0.0)
    total = share.sum(axis=1)
    return np.asarray(
        share * np.divide(supply, total, out=np.zeros_like(total), where=total > 0)[:, None]
    )


def _told(asked: Asked, cast: FloatArray, moved: FloatArray, brought: FloatArray) -> Shipped:
    hours = float((np.where(cast > 0, asked.cast, 0.0) * cast).sum())
    hours += float((np.where(moved > 0, asked.push, 0.0) * moved).sum())
    hours += asked.bring * float(brought.sum())
    return Shipped(cast=cast, moved=moved, brought=brought, hours=hours)


def _equalities(
    asked: Asked, casts: tuple[IntArray, IntArray], moves: tuple[IntArray, IntArray]
) -> tuple[coo_array, FloatArray]:
    """Each cell is cast as a whole; each place ends with what it needs."""
    cells, places = len(asked.supply), len(asked.need)
    cell, to = casts
    source, target = moves
    first, second = len(cell), len(cell) + len(source)
    side, stays = to < places, target < places
    number = np.arange(first)
    onward = first + np.arange(len(source))
    rows = [cell, cells + to[side], cells + source, cells + target[stays],
            cells + np.arange(places)]  # fmt: skip
    columns = [number, number[side], onward, onward[stays], second + np.arange(places)]
    signs = [1.0, 1.0, -1.0, 1.0, 1.0]
    values = [np.full(len(row), sign) for row, sign in zip(rows, signs, strict=True)]
    matrix = coo_array(
        (np.concatenate(values), (np.concatenate(rows), np.concatenate(columns))),
        shape=(cells + places, second + places),
    )
    return matrix, np.concatenate([asked.supply, asked.need - asked.already])


def _limits(
    asked: Asked, casts: tuple[IntArray, IntArray], target: IntArray
) -> tuple[coo_array, FloatArray]:
    """No place holds more than it can; the truck takes at least what must leave."""
    cell, to = casts
    places = len(asked.need)
    side = to < places
    number = np.arange(len(cell))
    gone = np.concatenate([number[~side], len(cell) + np.flatnonzero(target == places)])
    rows = np.concatenate([to[side], np.full(len(gone), places)])
    columns = np.concatenate([number[side], gone])
    values = np.concatenate([np.ones(int(side.sum())), np.full(len(gone), -1.0)])
    matrix = coo_array(
        (values, (rows, columns)), shape=(places + 1, len(cell) + len(target) + places)
    )
    room = np.maximum(asked.capacity * (1.0 - WITHIN) - asked.already, 0.0)
    return matrix, np.append(room, -asked.must_leave)
