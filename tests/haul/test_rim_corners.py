"""How many corners an order leaves to be finished from the rim, with machines of three sizes."""

import numpy as np
import pytest

from terrain.haul.order import order_of
from tests.haul.made_lot import MACHINES, RECTANGLE, Asked, jogged, made

RAMP = np.array([[24.0, 1.0], [24.0, -36.0]])
JOGS = [jogged(12, 8), jogged(24, 12), jogged(6, 6), jogged(3, 3), jogged(50, 10, 80, 40)]
LONG = [jogged(26, 24, 60, 54), jogged(34, 30, 72, 64), jogged(50, 24, 80, 54), jogged(21, 19)]


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
    assert max(counts) == 2


@pytest.mark.parametrize(
    ("outline", "degrees", "weight"),
    [(k, turn, weight) for k, turn in ((0, 0.0), (1, 27.0), (2, 0.0)) for weight in MACHINES]
    + [(3, 0.0, 14.0)],
)
def test_a_jog_with_room_to_stand_along_both_its_walls_leaves_one_whatever_the_order(
    outline, degrees, weight
):
    """Both ways there is ground in line with every next wall: only the round's end is lost. The
    last outline's neck is so narrow that the machine nears the wall across it."""
    turn = np.radians(degrees)
    matrix = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    for (direction, first), corners in corners_by_order(
        Asked(corners=LONG[outline] @ matrix.T, weight=weight, size=3.0)
    ).items():
        assert [corner.leg for corner in corners] == [(first - 1) % 6], (direction, first)


@pytest.mark.parametrize("weight", MACHINES)
def test_a_wall_is_too_short_below_tracks_setback_and_bucket(weight):
    """A machine as typical of 14 t: 12.0 + 2 + 3.9 ft; the corner before a wall that short is lost
    coming to it from the inside corner, whatever of it the cells' grid happens to cut."""
    machine = made(Asked(corners=RECTANGLE, weight=weight)).field.work.machine
    least = machine.track_length + 2.0 + machine.bucket_width
    for down, lost in ((least - 0.2, 1), (least + 0.2, 0)):
        for share in (0.6, 0.83, 1.0):
            size = share * machine.bucket_width
            lot = made(Asked(corners=jogged(50, down, 80, 40 + down), weight=weight, size=size))
            found = order_of(lot.field, lot.rounds[0], 0).corners
            inside = [c.leg for c in found if lot.rounds[0].legs[c.leg].turn < 0]
            assert len(inside) == lost, (down, size)
            assert len(found) == 1 + lost


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
