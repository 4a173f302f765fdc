"""How many corners an order leaves to be finished from the rim, with machines of three sizes."""

import numpy as np
import pytest

from terrain.haul.order import order_of
from tests.haul.made_lot import MACHINES, RECTANGLE, Asked, jogged, made

RAMP = np.array([[24.0, 1.0], [24.0, -36.0]])
JOGS = [jogged(12, 8), jogged(24, 12), jogged(16, 14, 56, 40)]


def corners_by_order(asked):
    """The numbers of rim corners of all orders, without placing any earth."""
    lot = made(asked)
    return {
        (ring.direction, first): order_of(lot.field, ring, first).corners
        for ring in lot.rounds
        for first in range(len(ring.legs))
    }


@pytest.mark.parametrize("weight", MACHINES)
@pytest.mark.parametrize("side", [0.0, 1.0])
def test_a_rectangle_always_leaves_the_corner_where_the_round_ends(weight, side):
    for (direction, first), corners in corners_by_order(
        Asked(corners=RECTANGLE, weight=weight, side=side)
    ).items():
        assert [corner.leg for corner in corners] == [(first - 1) % 4], (direction, first)


@pytest.mark.parametrize("weight", MACHINES)
def test_a_turned_rectangle_does_not_differ(weight):
    turn = np.radians(27.0)
    matrix = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    found = corners_by_order(Asked(corners=RECTANGLE @ matrix.T, weight=weight))
    assert {len(corners) for corners in found.values()} == {1}


@pytest.mark.parametrize("weight", MACHINES)
@pytest.mark.parametrize("outline", range(len(JOGS)))
def test_one_jog_is_left_with_one_corner_by_the_best_order_and_two_by_some(weight, outline):
    lot = made(Asked(corners=JOGS[outline], weight=weight))
    solved = lot.orders()
    counts = [len(one.order.corners) for one in solved]
    assert counts[0] == min(counts) == 1
    assert 2 in counts


def test_a_jog_too_short_to_stand_along_is_lost_the_way_that_meets_its_inside_corner_first():
    lot = made(Asked(corners=jogged(24, 12)))
    for ring in lot.rounds:
        jog = next(k for k, leg in enumerate(ring.legs) if leg.wall == 3)
        inside_first = ring.legs[jog - 1].turn < 0
        for first in range(6):
            order = order_of(lot.field, ring, first)
            lost = {corner.leg for corner in order.corners}
            if (first - 1) % 6 in (jog, (jog - 1) % 6, (jog + 1) % 6):
                continue  # the round ends here: that corner is lost either way
            assert ((jog - 1) % 6 in lost) == inside_first
            assert jog not in lost


@pytest.mark.parametrize("weight", MACHINES)
@pytest.mark.parametrize("corners", [RECTANGLE, jogged(24, 12)], ids=["rectangle", "jog"])
def test_with_a_ramp_to_leave_by_none_is_left(weight, corners):
    lot = made(Asked(corners=corners, weight=weight, ramp=RAMP))
    best = lot.orders()[0]
    assert best.order.corners == ()
    assert not best.order.left.any()
