"""Each cell's stand chosen so that a stand digs whole pieces of ground, not a cell here and there.

Least swing alone makes a patchwork that nobody can dig. What a stand more and a ragged edge cost is
weighed against swing; and what is asked of a stand besides, unless nothing else can dig the cell: a
working face laid back, no bucket at full stretch, the slope before the foot below it. The least is
looked for by changes of one cell, one stand, one piece at a time: no proof that none is better.
"""

from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from terrain.base.arrays import BoolArray, FloatArray, IntArray
from terrain.haul.adjoin import Adjoining
from terrain.haul.casting import Swings
from terrain.haul.field import Field
from terrain.haul.order import Order
from terrain.haul.rates import TRUCK_SWING, Rates
from terrain.haul.settling import NONE, Near, counted, settled

MOVE = 120.0 / 3600.0
"""Hours that a stand more takes: to come there, square up and find the line. Common practice, no
source."""

EDGE = 30.0 / 3600.0
"""Hours that a cell's side takes along which the ground of two stands meets. Common practice, no
source."""

STEEP, UNDERCUT = 1.0, 0.2
"""Hours that a cell counts more where the face comes too near the tracks, or where its foot is dug
before its slope: far more than swing could save."""

STRETCHED = 10.0
"""Times that the casting of a cell counts more whose far corner is a cell or more beyond reach."""

UNDUG = 100.0
"""Hours that a cell counts while it has no stand."""

TWICE = 20.0
"""Usual pushes that earth counts which its stand casts elsewhere than planned: it may have to be
moved again, and whoever casts it wants to cast it once. Common practice, no source."""

SWEEPS, ROUNDS = 8, 3

GAIN = 1e-9
"""Hours below which nothing is gained."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """For n cells and k stands in their order.

    Args:
        cost: (n, k) hours of a cell from a stand; inf where it can't be dug.
        near: which cells lie beside each other.
        edge, move: hours of a ragged edge as long as a cell, and of a stand.
    """

    cost: FloatArray
    near: Adjoining
    edge: float = EDGE
    move: float = MOVE

    @property
    def around(self) -> Near:
        """The neighbours, for the kernels."""
        return self.near.start, self.near.to, self.near.side, self.near.link


def choice_of(
    field: Field, order: Order, given: tuple[Swings, Rates], cast: FloatArray, share: float
) -> Choice:
    """The choice for an order whose cells are cast as by `cast` (n, p + 1).

    `share` is how much of the usual a stand more and a ragged edge count.
    """
    swings, rates = given
    hours = rates.swing(swings.degrees)
    hours[~np.isfinite(swings.degrees)] = np.inf
    to_bay = np.isfinite(swings.degrees[:, :, -1])
    again = float(rates.truck(np.array(TRUCK_SWING))) + rates.to_truck
    hours[:, :, -1] = np.where(to_bay, rates.truck(swings.degrees[:, :, -1]), again)
    elsewhere = hours.min(axis=2, keepdims=True) + TWICE * rates.push_usual
    cost = (cast * np.where(np.isfinite(hours), hours, elsewhere)).sum(axis=2)
    cost += STEEP * order.working.steep
    usual = float(rates.swing(np.array(TRUCK_SWING))) * cast.sum(axis=1)
    cost += STRETCHED * usual * np.minimum(order.working.beyond / field.work.cells.size, 1.0)
    cost[~swings.may] = np.inf
    return Choice(
        cost=np.ascontiguousarray(cost.T), near=field.near, edge=share * EDGE, move=share * MOVE
    )


def gathered(choice: Choice) -> IntArray:
    """(n,): the stand of each cell, `NONE` where none may dig it."""
    some = np.any(np.isfinite(choice.cost), axis=1)
    stand = _settled(choice, _from_few(choice, some), some)
    for _ in range(ROUNDS):
        before = stand
        count = np.bincount(stand[some], minlength=choice.cost.shape[1])
        for k in np.argsort(count, kind="stable").tolist():
            stand = _handed_on(choice, stand, stand == k)
            for other in np.flatnonzero(_can_stand_in(choice, stand, k)).tolist():
                stand = _handed_on(choice, stand, stand == k, other)
        pieces = _pieces(choice, stand)
        for piece in np.argsort(np.bincount(pieces), kind="stable").tolist():
            stand = _handed_on(choice, stand, pieces == piece)
        if np.array_equal(before, stand):
            break
    return stand


def hours_of(choice: Choice, stand: IntArray) -> float:
    """What a choice of stands (n,) costs in all."""
    return counted(choice.cost, choice.around, stand, (choice.edge, UNDERCUT, choice.move))


def _from_few(choice: Choice, some: BoolArray) -> IntArray:
    """A stand for each of `some` cells: stands come in while they save more than they take."""
    now = np.where(some, UNDUG, 0.0)
    used = np.zeros(choice.cost.shape[1], dtype=bool)
    while True:
        saved = np.maximum(now[:, None] - choice.cost, 0.0).sum(axis=0)
        best = int(saved.argmax())
        if used[best] or saved[best] <= choice.move:
            break
        used[best] = True
        now = np.minimum(now, choice.cost[:, best])
    own = np.where(used[None, :], choice.cost, np.inf).argmin(axis=1)
    return np.where(some, own, NONE)


def _can_stand_in(choice: Choice, stand: IntArray, k: int) -> BoolArray:
    """(k,): stands not in use that may dig most of what is dug from the k-th."""
    own = stand == k
    share = np.isfinite(choice.cost[own]).mean(axis=0) if own.any() else np.zeros(1)
    used = np.isin(np.arange(choice.cost.shape[1]), stand)
    return np.asarray(~used & (share > 0.5))


def _handed_on(choice: Choice, stand: IntArray, own: BoolArray, opened: int = NONE) -> IntArray:
    """The same with some cells dug from other stands in use than theirs, or from one `opened` for
    them, if that is better.
    """
    cells = np.flatnonzero(own)
    if not len(cells) or stand[cells[0]] == NONE or len(np.unique(stand[cells])) > 1:
        return stand
    found = _settled(choice, stand, own, (int(stand[cells[0]]), opened))
    if (found[cells] == stand[cells]).any():
        return stand
    return found if hours_of(choice, found) < hours_of(choice, stand) - GAIN else stand


def _settled(
    choice: Choice, stand: IntArray, own: BoolArray, changed: tuple[int, int] = (NONE, NONE)
) -> IntArray:
    """The same with its `own` cells dug from whichever stand in use is best beside what their
    neighbours have; `changed` are one that is shut and one that is opened.
    """
    used = np.zeros(choice.cost.shape[1], dtype=bool)
    used[stand[stand != NONE]] = True
    shut, opened = changed
    if opened != NONE:
        used[opened] = True
    cells, stand = np.flatnonzero(own), stand.copy()
    if shut != NONE:
        used[shut] = False
        cost = np.where(used[None, :], choice.cost[cells], np.inf)
        can = np.isfinite(cost).any(axis=1)
        stand[cells[can]] = cost[can].argmin(axis=1)
    settled(choice.cost, choice.around, stand, (cells, used, SWEEPS), (choice.edge, UNDERCUT))
    return stand


def _pieces(choice: Choice, stand: IntArray) -> IntArray:
    """(n,): a number for each piece of connected ground dug from one stand."""
    near = choice.near
    own = np.repeat(np.arange(len(stand)), np.diff(near.start))
    same = stand[own] == stand[near.to]
    shape = (len(stand), len(stand))
    joined = coo_array((np.ones(int(same.sum())), (own[same], near.to[same])), shape=shape)
    return np.asarray(connected_components(joined, directed=False)[1])
