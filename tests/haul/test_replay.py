"""Plans replayed by an oracle that knows nothing of the planner; and the oracle itself, broken."""

import numpy as np
import pytest
import shapely

from tests.haul.made_lot import MACHINES, RECTANGLE, Asked, jogged, made, replayed
from tests.oracles.dig_plan import replay, untouched

RAMP = np.array([[24.0, 1.0], [24.0, -36.0]])


@pytest.mark.parametrize("ramp", [None, RAMP], ids=["rim", "ramp"])
@pytest.mark.parametrize("weight", MACHINES)
@pytest.mark.parametrize("corners", [RECTANGLE, jogged(20, 18)], ids=["rectangle", "jog"])
def test_every_order_can_be_dug_as_told(corners, weight, ramp):
    lot = made(Asked(corners=corners, weight=weight, ramp=ramp, size=4.0))
    whole = lot.field.work.cells.bank.sum()
    for one in lot.orders():
        machine, plot, steps = replayed(lot, one)
        assert replay(machine, plot, steps) == [], (one.order.direction, one.order.first)
        left = lot.field.work.cells.bank[one.order.left].sum()
        assert abs(untouched(plot, steps) - left) <= 1e-9 * whole


@pytest.fixture(scope="module")
def sound():
    """A plan that can be dug."""
    lot = made(Asked(corners=RECTANGLE, size=4.0))
    return replayed(lot, lot.orders()[0])


def test_the_oracle_sees_a_stand_on_dug_ground_and_a_way_cut_off(sound):
    machine, plot, steps = sound
    turned = [*steps[:4], *steps[12:], *steps[4:12]]
    said = " ".join(replay(machine, plot, turned))
    assert "on ground dug before" in said
    assert "cut off" in said


def test_the_oracle_sees_what_is_out_of_reach_or_beside_the_tracks(sound):
    machine, plot, steps = sound
    machine.reach *= 0.8
    said = " ".join(replay(machine, plot, steps))
    machine.reach /= 0.8
    assert "does not reach" in said
    machine.length *= 1.5
    said = " ".join(replay(machine, plot, steps))
    machine.length /= 1.5
    assert "beside or under its tracks" in said


def test_the_oracle_sees_a_full_place_and_a_cell_dug_twice(sound):
    machine, plot, steps = sound
    full = max(plot.piles, key=lambda name: plot.piles[name].area)
    room, plot.capacity[full] = plot.capacity[full], 1.0
    assert any("holds" in told for told in replay(machine, plot, steps))
    plot.capacity[full] = room
    busy = next(step for step in steps if step.takes)
    busy.takes.append(busy.takes[0])
    assert any("more than once" in told for told in replay(machine, plot, steps))
    busy.takes.pop()
    assert replay(machine, plot, steps) == []


def test_the_oracle_sees_a_truck_that_stands_where_it_may_not(sound):
    machine, plot, steps = sound
    step = next(step for step in reversed(steps) if step.trucks)
    truck = step.trucks[0]
    for what, change, told in (
        (truck, {"body": truck.body + 2.0 * machine.reach}, "out of reach"),
        (truck, {"side": truck.side + machine.reach}, "too high"),
        (truck, {"ground": shapely.Point(step.spot).buffer(3.0)}, "within the tail"),
        (truck, {"ground": shapely.union_all(plot.polygons)}, "on ground dug"),
        (truck, {"way": shapely.union_all(plot.polygons)}, "drives over ground dug"),
        (truck, {"way": shapely.union_all(list(plot.piles.values()))}, "on the pile"),
        (plot, {"free": shapely.union_all(plot.polygons)}, "not on free ground"),
    ):
        before = {name: getattr(what, name) for name in change}
        for name, value in change.items():
            setattr(what, name, value)
        assert told in " ".join(replay(machine, plot, steps))
        for name, value in before.items():
            setattr(what, name, value)
    assert replay(machine, plot, steps) == []


def test_the_oracle_sees_a_tail_swung_into_a_face():
    lot = made(Asked(corners=RECTANGLE, size=4.0, ramp=RAMP))
    machine, plot, steps = replayed(lot, lot.orders()[0])
    assert any(step.on_floor and step.takes for step in steps)
    machine.tail += 1.0
    assert "swings its tail into a face" in " ".join(replay(machine, plot, steps))


def test_no_stand_needs_ground_that_an_earlier_one_may_dig():
    lot = made(Asked(corners=jogged(12, 8)))
    for one in lot.orders():
        order = one.order
        number = 2 * np.arange(len(order.kind))[:, None]
        kept = (number <= order.until[None, :]) & order.digs
        assert not kept.any()


def test_every_bucket_is_emptied_over_its_place_and_within_the_machines_cast():
    lot = made(Asked(corners=RECTANGLE))
    for one in lot.orders():
        cell, place = np.nonzero(one.shipped.cast[:, :-1])
        spot = one.casting.spot[cell, place]
        assert (one.places.owner[spot] == place).all()
        stand = one.order.stands.spot[one.casting.stand[cell, place]]
        away = np.hypot(*(one.places.spot[spot] - stand).T)
        assert away.max() <= lot.field.work.machine.reach * 0.9 + 1e-9
        for k, ground in enumerate(one.places.ground):
            spots = one.places.spot[one.places.owner == k]
            assert shapely.intersects(ground.buffer(1e-6), shapely.points(spots)).all()
