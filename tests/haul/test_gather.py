"""Stands chosen so that each digs whole pieces: against every choice there is, and on made lots."""

import itertools

import numpy as np
import pytest

from terrain.haul import gather
from terrain.haul.adjoin import Adjoining, adjoining
from terrain.haul.casting import casting_of, swings_of
from terrain.haul.compare import solve
from terrain.haul.gather import EDGE, MOVE, UNDERCUT, Choice, choice_of, gathered, hours_of
from terrain.haul.order import order_of
from tests.haul.made_lot import RECTANGLE, Asked, jogged, made, replayed
from tests.oracles.dig_plan import replay


def strip(count):
    """Cells in a row, the first of them the slope above the second."""
    pairs = [(a, b) for a in range(count) for b in (a - 1, a + 1) if 0 <= b < count]
    link = {(0, 1): 1, (1, 0): -1}
    return pairs, Adjoining(
        start=np.searchsorted([a for a, _ in pairs], np.arange(count + 1)),
        to=np.array([b for _, b in pairs]),
        side=np.ones(len(pairs)),
        link=np.array([link.get(pair, 0) for pair in pairs]),
    )


def told(choice, pairs, stand):
    """The same hours, added up one by one."""
    total = sum(choice.cost[cell, k] for cell, k in enumerate(stand))
    total += choice.move * len(set(stand))
    for a, b in pairs:
        total += choice.edge / 2 * (stand[a] != stand[b])
    return total + UNDERCUT * (stand[0] > stand[1])


@pytest.mark.parametrize("seed", range(40))
def test_the_hours_are_those_added_up_and_near_the_least_of_all_choices(seed):
    """Seven cells and four stands: 16,384 choices at most."""
    rng = np.random.default_rng(seed)
    pairs, near = strip(7)
    cost = rng.uniform(0.0, 0.05, (7, 4))
    cost[rng.random((7, 4)) < 0.25] = np.inf
    cost[np.arange(7), rng.integers(4, size=7)] = 0.02
    choice = Choice(cost=cost, near=near, edge=rng.uniform(0, 2 * EDGE), move=rng.uniform(0, MOVE))
    allowed = [np.flatnonzero(np.isfinite(row)) for row in cost]
    least = min(told(choice, pairs, one) for one in itertools.product(*allowed))
    found = gathered(choice)
    assert np.isfinite(cost[np.arange(7), found]).all()
    assert hours_of(choice, found) == pytest.approx(told(choice, pairs, found.tolist()), rel=1e-12)
    assert least <= hours_of(choice, found) + 1e-12
    assert hours_of(choice, found) <= 1.2 * least
    by_swing = np.argmin(cost, axis=1)
    assert hours_of(choice, found) <= hours_of(choice, by_swing) + 1e-12


def test_cells_are_neighbours_along_a_side_and_not_at_a_corner_and_extras_of_their_own_only():
    ramp = np.array([[24.0, 1.0], [24.0, -36.0]])
    cells = made(Asked(corners=RECTANGLE, ramp=ramp, size=6.0)).field.work.cells
    near = adjoining(cells, 4)
    own = np.repeat(np.arange(len(cells)), np.diff(near.start))
    assert set(zip(own.tolist(), near.to.tolist(), strict=True)) == set(
        zip(near.to.tolist(), own.tolist(), strict=True)
    )
    extra = np.where(cells.row >= 4, cells.row, -1)
    rings = [shape.buffer(0).boundary for shape in cells.shape]
    wide = [shape.buffer(1e-4) for shape in cells.shape]
    expected = {}
    for a, b in itertools.permutations(range(len(cells)), 2):
        shared = rings[a].intersection(wide[b]).length / 6.0
        if shared > 0.11 and extra[a] == extra[b]:
            expected[a, b] = shared
    got = dict(zip(zip(own.tolist(), near.to.tolist(), strict=True), near.side, strict=True))
    assert set(expected) <= set(got)
    for pair, shared in expected.items():
        assert got[pair] == pytest.approx(shared, rel=1e-2)
    assert set(got) - set(expected) <= {pair for pair, side in got.items() if side < 0.11}
    link = cells.side[own].astype(int) - cells.side[near.to]
    assert (near.link == link).all()


@pytest.mark.parametrize(
    "asked",
    [
        Asked(corners=jogged(12, 8), topsoil=0.5),
        Asked(corners=jogged(20, 18), weight=20.0, size=4.0),
    ],
    ids=["small jog", "large jog"],
)
def test_whole_pieces_come_from_fewer_stands_than_least_swing_alone_and_can_be_dug(asked):
    lot = made(asked)
    fewer = 0
    for one in lot.orders():
        assert replay(*replayed(lot, one)) == []
        swings = swings_of(lot.field.work, one.order, one.places, one.loading)
        cast = one.shipped.cast
        choice = choice_of(lot.field, one.order, (swings, lot.terms.rates), cast, 1.0)
        dug = cast.sum(axis=1) > 0
        chosen = one.casting.stand[np.arange(len(cast)), cast.argmax(axis=1)]
        alone = casting_of(swings).stand[np.arange(len(cast)), cast.argmax(axis=1)]
        fewer += len(np.unique(alone[dug])) - len(np.unique(chosen[dug]))
        both = np.where(dug, chosen, -1), np.where(dug, alone, -1)
        assert hours_of(choice, both[0]) <= hours_of(choice, both[1]) + 1e-9
    assert fewer > len(lot.orders())


def test_no_plan_is_made_dearer_by_it_than_casting_to_the_nearest_side():
    lot = made(Asked(corners=jogged(20, 18), weight=25.0, size=4.0))
    for ring in lot.rounds:
        one = solve(lot.field, order_of(lot.field, ring, 0), lot.places, lot.terms)
        assert one.hours <= one.nearest * (1 + 1e-9)


def test_less_is_dug_at_full_stretch_than_where_that_counts_for_nothing(monkeypatch):
    """Earth whose cell's far corner is beyond the reach at its depth, over all orders."""
    beyond = {}
    for times in (gather.STRETCHED, 0.0):
        monkeypatch.setattr(gather, "STRETCHED", times)
        lot = made(Asked(corners=RECTANGLE, size=5.0, depth=5.0))
        machine, plots = lot.field.work.machine, 0.0
        for one in lot.orders():
            excavator, plot, steps = replayed(lot, one)
            for step in steps:
                for cell, _, bank in step.takes:
                    corners = np.array(plot.polygons[cell].envelope.exterior.coords)
                    far = np.hypot(*(corners - step.spot).T).max()
                    below = max(step.level - plot.bottom[cell], 0.0)
                    share = (1.0 - 0.45**2) * (below / excavator.depth) ** 2
                    plots += bank * (far > machine.reach * np.sqrt(1.0 - share) + 0.1)
        beyond[times] = plots
    assert beyond[10.0] < 0.8 * beyond[0.0]
