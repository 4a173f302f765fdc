"""Lots and machines that can't do it all: a plan that says so, never a failure."""

import numpy as np
import shapely

from tests.haul.made_lot import RECTANGLE, Asked, jogged, made, replayed
from tests.oracles.dig_plan import replay


def sound(lot, one):
    """Whether what is planned can be dug as told."""
    return replay(*replayed(lot, one)) == []


def test_a_machine_too_small_to_reach_the_middle_leaves_it_and_nothing_else():
    lot = made(Asked(corners=RECTANGLE * 1.4, weight=3.0, depth=7.0, side=0.0))
    best = lot.orders()[0]
    cells = lot.field.work.cells
    left = best.order.left
    assert best.left_bank > 0.1 * cells.bank.sum()
    middle = RECTANGLE.mean(axis=0) * 1.4
    assert np.hypot(*(cells.middle[left] - middle).T).mean() < 0.6 * np.hypot(*middle)
    assert not (left & lot.rounds[0].faces.foot).any()
    assert sound(lot, best)


def test_a_dig_deeper_than_the_machine_digs_is_left_whole():
    lot = made(Asked(corners=RECTANGLE, weight=5.0, depth=14.0, side=0.0))
    best = lot.orders()[0]
    assert lot.field.deep.all()
    assert best.order.left.all()
    assert best.order.corners == ()
    assert best.shipped.cast.sum() == 0.0


def test_a_lot_without_room_for_earth_hauls_what_it_can_not_hold():
    cramped = shapely.box(-13.0, -13.0, 61.0, 49.0)
    lot = made(Asked(corners=RECTANGLE, free=cramped))
    best = lot.orders()[0]
    assert lot.places.capacity.sum() < 0.1 * lot.terms.need.sum()
    assert best.shipped.hauled > 0.9 * best.asked.supply.sum()
    short = best.asked.need.sum() - best.shipped.cast[:, :-1].sum()
    assert np.isclose(best.shipped.brought.sum(), short)


def test_against_the_lot_line_no_earth_and_no_machine_stands_beyond_it():
    beside = shapely.box(-60.0, -60.0, 60.0, 100.0)  # the cut's own edge on the east
    lot = made(Asked(corners=RECTANGLE, free=beside))
    orders = lot.orders()
    best = orders[0]
    assert not best.order.shut_in
    assert any(one.order.shut_in for one in orders)
    for one in orders:
        assert all(ground.difference(beside).area < 1e-9 for ground in one.places.ground)
        assert sound(lot, one)
    east = next(k for k, leg in enumerate(lot.legs) if leg.wall == 1)
    assert best.places.capacity[east] == 0.0
    assert best.places.why[east]


def test_with_no_free_ground_at_all_every_order_is_shut_in_and_says_so():
    lot = made(Asked(corners=RECTANGLE, free=shapely.box(-10.0, -10.0, 58.0, 46.0)))
    orders = lot.orders()
    assert all(one.order.shut_in for one in orders)
    assert all(one.left_bank > 0 for one in orders)


def test_orders_are_ranked_by_rim_corners_then_hours_unless_they_leave_earth():
    """A rectangle whose middle a machine of 5 t does not reach, and a jog that is dug whole."""
    for asked in (
        Asked(corners=RECTANGLE * 1.2, weight=5.0, depth=7.0),
        Asked(corners=jogged(12, 8), weight=20.0),
        Asked(corners=jogged(24, 26, 60, 52), size=4.0),
    ):
        lot = made(asked)
        orders = lot.orders()
        whole = lot.field.work.cells.bank.sum()
        more = [(one.left_bank - min(o.left_bank for o in orders)) / whole for one in orders]
        told = [
            (one.order.shut_in, left // 0.02, len(one.order.corners), left // 0.005, one.hours)
            for one, left in zip(orders, more, strict=True)
        ]
        assert told == sorted(told)
        assert len({hours for *_, hours in told}) > 3


def test_a_side_kept_open_gets_no_earth_and_is_filled_from_the_others():
    lot = made(Asked(corners=RECTANGLE, bare=(2,), needs=(0.05, 0.05, 0.3, 0.05)))
    best = lot.orders()[0]
    assert best.shipped.cast[:, 2].sum() == 0.0
    assert np.isclose(best.shipped.moved[:, 2].sum() + best.shipped.brought[2], lot.terms.need[2])
    assert best.shipped.moved[:, 2].sum() > 0


def test_earth_goes_to_the_side_that_needs_it():
    lot = made(Asked(corners=RECTANGLE, weight=25.0, needs=(0.02, 0.02, 0.12, 0.02)))
    best = lot.orders()[0]
    cast = best.shipped.cast.sum(axis=0)
    assert (cast[:-1] >= 0.95 * lot.terms.need).all()  # a gap for the truck takes some room
    assert best.rehandled <= 0.02 * best.asked.supply.sum()


def test_a_ramp_takes_its_own_width_of_the_place_beside_its_wall_and_no_more():
    way_in = np.array([[24.0, 1.0], [24.0, -36.0]])
    plain, lot = made(Asked(corners=RECTANGLE)), made(Asked(corners=RECTANGLE, ramp=way_in))
    front = next(k for k, leg in enumerate(lot.legs) if leg.wall == 0)
    whole, ground = plain.places.ground[front], lot.places.ground[front]
    rooms = [np.delete(one.places.capacity, front) for one in (plain, lot)]
    assert np.allclose(*rooms)
    assert ground.difference(whole.buffer(0.05)).area < 1e-6
    ramp = shapely.box(18.0, -36.0, 30.0, 0.0)
    assert ground.distance(ramp) >= 2.0 - 0.02
    assert ground.area > whole.area - 17.0 * 20.0
    west = ground.intersection(shapely.box(-99.0, -99.0, 24.0, 99.0)).area
    east = ground.area - west
    assert west > 100.0
    assert np.isclose(west, east, rtol=0.02)


HALF = shapely.box(-2.0, -2.0, 20.0, 38.0)


def test_a_hole_begun_is_planned_on_from_as_it_is():
    lot = made(Asked(corners=RECTANGLE, hole=HALF, needs=(0.1, 0.1, 0.1, 0.1)))
    cells = lot.field.work.cells
    rest = lot.whole.volume_above.sum()
    assert abs(cells.bank.sum() - rest) <= 1e-12 * rest
    orders = lot.orders()
    assert not orders[0].order.shut_in
    assert orders[0].left_bank <= 0.05 * rest
    for one in orders:
        if not one.order.shut_in:
            assert sound(lot, one)
        for k, tracks in enumerate(one.order.stands.tracks(lot.field.work.machine)):
            if one.order.digs[k].any():
                assert shapely.Polygon(tracks).distance(HALF) >= 2.0 - 0.01


def test_no_stand_is_made_for_a_shovelful():
    """Nearly all was dug: what is left lies in rims a few inches wide."""
    dug = shapely.box(-1.9, -1.9, 49.9, 37.8)
    lot = made(Asked(corners=RECTANGLE, side=0.0, hole=dug, size=4.0))
    work = lot.field.work
    shovel = 0.1 * work.machine.bucket_capacity
    for one in lot.orders():
        own = [d & ~one.order.left for d in one.order.digs]
        rim = [k for k, kind in enumerate(one.order.kind) if kind == "rim"]
        assert all(work.cells.bank[own[k]].sum() > shovel for k in rim)
        reach = np.any(lot.field.outside.rim.digs, axis=0)
        alone = (lot.field.outside.rim.digs & one.order.left) @ work.cells.bank
        assert alone.max() <= shovel
        assert reach.any()


def test_earth_that_lies_there_already_counts_towards_the_need_and_the_room():
    needs = (0.1, 0.1, 0.1, 0.1)
    bare = made(Asked(corners=RECTANGLE, needs=needs)).orders()[0]
    lot = made(Asked(corners=RECTANGLE, needs=needs, already=(20.0, 0.0, 0.0, 0.0)))
    one = lot.orders()[0]
    cast = one.shipped.cast[:, 0].sum()
    held = cast + 20.0 * 27.0
    assert held <= one.asked.capacity[0] * (1 + 1e-9)
    over = [each.shipped.hauled - each.shipped.brought.sum() for each in (one, bare)]
    assert over[0] >= over[1] + 20.0 * 27.0 - 1e-6
