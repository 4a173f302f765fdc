"""A trench outside is dug first, from over its line, while the ground about it is whole."""

import numpy as np
import pytest

from tests.haul.made_lot import MACHINES, RECTANGLE, Asked, jogged, made, replayed
from tests.oracles.dig_plan import replay

RAMP = np.array([[24.0, 1.0], [24.0, -36.0]])
STRAIGHT = np.array([[12.0, 44.0], [12.0, 66.0]])
BENT = np.array([[30.0, 44.0], [30.0, 54.0], [42.0, 54.0]])


def takings(one):
    """(k, n): loose, what each stand takes of each cell."""
    taken = np.zeros((len(one.order.kind), len(one.asked.supply)))
    for cell, place in zip(*np.nonzero(one.shipped.cast), strict=True):
        taken[one.casting.stand[cell, place], cell] += one.shipped.cast[cell, place]
    return taken


@pytest.mark.parametrize("ramp", [None, RAMP], ids=["rim", "ramp"])
@pytest.mark.parametrize("trench", [STRAIGHT, BENT], ids=["straight", "bent"])
@pytest.mark.parametrize("weight", MACHINES[1:])
def test_all_of_it_comes_from_stands_before_any_wall_and_they_dig_nothing_else(
    weight, trench, ramp
):
    lot = made(Asked(corners=RECTANGLE, weight=weight, trench=trench, ramp=ramp, depth=6.0))
    row = 4 if ramp is None else 5
    cells = lot.field.work.cells
    out = (cells.row == row) & (cells.middle[:, 1] > 48.0)
    assert cells.bank[out].sum() > 50.0
    count = sum(len(each.table) for each in lot.field.ahead)
    assert 1 <= count <= 3
    whole = 0
    for one in lot.orders():
        taken = takings(one)
        assert (np.array(one.order.kind)[:count] == "extra").all()
        free = out & (one.order.until < 2 * count - 1)  # the rest is driven over later
        whole += bool((free == out).all())
        assert taken[count:][:, free].sum() <= 1e-9 * taken.sum()
        assert taken[:count][:, cells.row != row].sum() == 0.0
        assert replay(*replayed(lot, one)) == []
    assert whole >= 2


def test_it_leaves_as_many_rim_corners_as_there_are_without_it():
    for corners in (RECTANGLE, jogged(24, 12)):
        counts = []
        for trench in (None, STRAIGHT):
            lot = made(Asked(corners=corners, trench=trench, size=4.0))
            counts.append(sorted(len(one.order.corners) for one in lot.orders()))
        assert counts[0] == counts[1]


def test_earth_of_a_trench_is_cast_clear_of_the_machine_that_digs_it():
    lot = made(Asked(corners=RECTANGLE, trench=BENT, depth=6.0, needs=(0.1, 0.1, 0.4, 0.1)))
    machine = lot.field.work.machine
    for one in lot.orders():
        cell, place = np.nonzero(one.shipped.cast[:, :-1])
        spot = one.places.spot[one.casting.spot[cell, place]]
        stand = one.order.stands.spot[one.casting.stand[cell, place]]
        assert np.hypot(*(spot - stand).T).min() >= machine.tail_swing
