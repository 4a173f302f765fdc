"""The face a stand digs towards: as far off as a side as drawn would run in its depth."""

import numpy as np
import pytest

from terrain.haul.cells import lay_of
from tests.haul.made_lot import RECTANGLE, Asked, jogged, made, replayed
from tests.oracles.dig_plan import too_near

RAMP = np.array([[24.0, 1.0], [24.0, -36.0]])
OUTLINES = {"rectangle": RECTANGLE, "jog": jogged(20, 18), "long-l": jogged(34, 30, 72, 64)}


@pytest.mark.parametrize("outline", OUTLINES)
def test_with_a_ramp_and_room_on_the_floor_every_face_is_laid_back(outline):
    """A machine of 14 t, 5 ft deep, sides at 1:1."""
    lot = made(Asked(corners=OUTLINES[outline], depth=5.0, ramp=RAMP, size=4.0))
    orders = lot.orders()
    assert too_near(*replayed(lot, orders[0]), run=1.0) == []
    told = [too_near(*replayed(lot, one), run=1.0) for one in orders]
    assert sum(not each for each in told) > 0.6 * len(orders)


@pytest.mark.parametrize("weight", [14.0, 25.0])
def test_without_a_ramp_a_face_is_steeper_only_where_no_stand_may_dig_it_from_farther_off(weight):
    lot = made(Asked(corners=OUTLINES["jog"], weight=weight, size=4.0))
    cells, half = lot.field.work.cells, lot.field.work.machine.track_length / 2
    near = 0
    for one in lot.orders():
        order, whole = one.order, cells.bank.sum()
        told = too_near(*replayed(lot, one), run=1.0)
        near += len(told)
        assert cells.bank[[cell for _, cell in told]].sum() < 0.35 * whole
        for _, cell in told:
            for k in np.flatnonzero(order.digs[:, cell]):
                ahead = (lot.field.work.corners[cell] - order.stands.spot[k]) @ order.stands.facing[
                    k
                ]
                assert ahead.min() - half < 2.0 + 100.0 - cells.bottom[cell]
    assert near > 0


def test_sides_that_stand_upright_ask_for_no_more_than_the_setback():
    lot = made(Asked(corners=RECTANGLE, side=0.0, size=4.0))
    for one in lot.orders():
        assert too_near(*replayed(lot, one), run=0.0) == []
        assert too_near(*replayed(lot, one), run=1.0) != []


def test_the_run_of_a_bench_counts_as_far_up_as_the_cell_is_deep():
    """4 ft upright, a bench of 3 ft, then 3/4:1: at 8 ft deep 3 + 0.75 x 4 = 6 ft in 8; ramps by
    the flattest side."""
    lot = made(Asked(corners=RECTANGLE, ramp=RAMP, size=6.0))
    cells = lot.field.work.cells
    side = ((0.0, 4.0), (3.0, 0.0), (0.75, 1.0))
    upright = ((0.0, 1.0),)
    lay = lay_of(cells, np.full(len(cells), 8.0), (side, upright, ((1.0, 1.0),), upright))
    for row, told in enumerate((6.0 / 8.0, 0.0, 1.0, 0.0, 1.0)):
        assert (cells.row == row).any()
        assert lay[cells.row == row] == pytest.approx(told, abs=1e-12)
    shallow = lay_of(cells, np.full(len(cells), 3.9), (side,) * 4)
    assert shallow == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize("outline", OUTLINES)
def test_hardly_a_foot_is_dug_before_the_slope_above_it(outline):
    """The cells outside the dig line come from the same stand as those beside them within, or from
    one before."""
    lot = made(Asked(corners=OUTLINES[outline], depth=5.0, ramp=RAMP, size=4.0))
    near, cells = lot.field.near, lot.field.work.cells
    own = np.repeat(np.arange(len(cells)), np.diff(near.start))
    pairs = np.flatnonzero(cells.side[own] & ~cells.side[near.to] & (near.link == 1))
    undercut = total = 0
    for one in lot.orders():
        cast = one.shipped.cast
        stand = one.casting.stand[np.arange(len(cells)), cast.argmax(axis=1)]
        both = pairs[(cast.sum(axis=1)[own[pairs]] > 0) & (cast.sum(axis=1)[near.to[pairs]] > 0)]
        undercut += int((stand[own[both]] > stand[near.to[both]]).sum())
        total += len(both)
    assert total > 200
    assert undercut <= 0.02 * total
