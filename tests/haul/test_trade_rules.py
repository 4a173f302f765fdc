"""The trade's rules, each measured on plans from outside: spots, headings and takings alone."""

import numpy as np
import pytest
import shapely

from terrain.base.units import FOOT
from terrain.haul import compare
from terrain.haul.bays import bays_of, usual_truck
from terrain.haul.compare import solve
from terrain.haul.order import order_of
from tests.haul.made_lot import MACHINES, RECTANGLE, Asked, jogged, made

OUTLINES = {"rectangle": RECTANGLE, "jog": jogged(20, 18), "long-l": jogged(34, 30, 72, 64)}
RAMP = np.array([[24.0, 1.0], [24.0, -36.0]])


def takings(one):
    """(k, n): loose, what each stand takes of each cell."""
    taken = np.zeros((len(one.order.kind), len(one.asked.supply)))
    for cell, place in zip(*np.nonzero(one.shipped.cast), strict=True):
        taken[one.casting.stand[cell, place], cell] += one.shipped.cast[cell, place]
    return taken


@pytest.fixture(scope="module", params=[(o, w) for o in OUTLINES for w in MACHINES], ids=str)
def lot(request):
    """A made lot with all of its orders."""
    outline, weight = request.param
    found = made(Asked(corners=OUTLINES[outline], weight=weight, size=5.0))
    return found, found.orders()


def test_along_a_wall_the_machine_backs_square_to_it_a_step_at_a_time(lot):
    found, orders = lot
    machine = found.field.work.machine
    for one in orders:
        order = one.order
        for k, kind in enumerate(order.kind):
            if kind != "wall":
                continue
            leg = order.round.legs[order.of[k]]
            spot, facing = order.stands.spot[k], order.stands.facing[k]
            away = spot - leg.start
            travel = (leg.end - leg.start) / leg.length
            assert np.allclose(facing, -travel)
            beside = abs(away[0] * travel[1] - away[1] * travel[0])
            assert np.isclose(beside, machine.track_width / 2)
            if k and order.kind[k - 1] == "wall" and order.of[k - 1] == order.of[k]:
                back = float((spot - order.stands.spot[k - 1]) @ travel)
                assert 0.0 < back <= machine.step + 1e-9


def test_what_is_dug_stays_the_setback_ahead_of_the_tracks(lot):
    found, orders = lot
    machine, cells = found.field.work.machine, found.field.work.cells
    for one in orders:
        order = one.order
        for k, cell in zip(*np.nonzero(takings(one)), strict=True):
            corners = shapely.get_coordinates(cells.shape[cell])
            ahead = (corners - order.stands.spot[k]) @ order.stands.facing[k]
            assert ahead.min() >= machine.track_length / 2 + 2.0 - 0.01


def test_the_foot_of_a_face_comes_from_in_line_with_it_or_from_the_next_walls_first_stands(lot):
    """But for what is finished at a rim corner, from the way out or from outside."""
    found, orders = lot
    machine, cells = found.field.work.machine, found.field.work.cells
    for one in orders:
        order, legs = one.order, one.order.round.legs
        lines = [shapely.LineString([leg.start, leg.end]) for leg in legs]
        middles = shapely.points(cells.middle)
        away = shapely.distance(np.array(lines, dtype=object)[:, None], middles[None, :])
        face, near = away.argmin(axis=0), away.min(axis=0)
        plain = (near <= 0.99 * machine.bucket_width) & (np.sort(away, axis=0)[1] > near + 0.01)
        plain &= ~cells.side
        first = {}
        for k, kind in enumerate(order.kind):
            if kind == "wall":
                first.setdefault(int(order.of[k]), order.stands.spot[k])
        for k, cell in zip(*np.nonzero(takings(one)), strict=True):
            if order.kind[k] != "wall" or not plain[cell]:
                continue
            of = int(order.of[k])
            if face[cell] == of:
                continue
            assert (face[cell] + 1) % len(legs) == of, (order.first, k, cell)
            back = np.hypot(*(order.stands.spot[k] - first[of]))
            assert back <= machine.track_length + 1e-9


@pytest.mark.parametrize("weight", MACHINES)
def test_the_foot_of_a_face_comes_from_the_floor_only_square_to_it_or_along_a_next_wall(weight):
    lot = made(Asked(corners=OUTLINES["jog"], weight=weight, ramp=RAMP, size=4.0))
    cells, legs, bucket = lot.field.work.cells, lot.legs, lot.field.work.machine.bucket_width
    lines = np.array([shapely.LineString([leg.start, leg.end]) for leg in legs], dtype=object)
    away = shapely.distance(lines[:, None], shapely.points(cells.middle)[None, :])
    plain = (away.min(axis=0) <= 0.99 * bucket) & ~cells.side
    checked = 0
    for one in lot.orders():
        order = one.order
        for k, cell in zip(*np.nonzero(takings(one)), strict=True):
            if order.kind[k] == "floor" and plain[cell]:
                near = np.flatnonzero(away[:, cell] <= away[:, cell].min() + 0.01)
                beside = ((near - order.of[k] + 1) % len(legs)).min() <= 2
                along = max(float(legs[n].along @ legs[order.of[k]].along) for n in near)
                assert beside or along > 0.99
                checked += 1
    assert checked > 20


def test_beside_a_side_that_needs_nothing_all_that_the_needy_sides_can_take_later_is_left():
    """Each of the others needs more than it gets and has room: to the first side goes only what
    can't be cast to them from any stand, though its stands dig first and may dig far more."""
    lot = made(Asked(corners=RECTANGLE, size=4.0, depth=1.5, needs=(0.0, 0.5, 0.6, 0.5)))
    ring = lot.rounds[0]
    one = solve(lot.field, order_of(lot.field, ring, 0), lot.places, lot.terms)
    order, asked, cast = one.order, one.asked, one.shipped.cast
    assert (asked.capacity[1:] > 1.2 * asked.need[1:]).all()
    to_needy = np.isfinite(asked.cast[:, 1:4]).any(axis=1)
    assert cast[to_needy, 0].sum() <= 1e-9 * asked.supply.sum()
    first = (np.array(order.kind) == "wall") & (order.of == 0)
    left = order.digs[first].any(axis=0) & (takings(one)[first].sum(axis=0) == 0.0)
    assert left.sum() > 20


def test_a_side_that_needs_a_little_gets_that_much_and_no_more():
    lot = made(Asked(corners=RECTANGLE, size=4.0, depth=3.0, needs=(0.15, 0.25, 0.35, 0.25)))
    one = solve(lot.field, order_of(lot.field, lot.rounds[0], 0), lot.places, lot.terms)
    assert one.shipped.cast[:, 0].sum() == pytest.approx(lot.terms.need[0])
    assert one.rehandled <= 1e-9 * one.asked.supply.sum()


@pytest.mark.parametrize("weight", [20.0, 25.0])
def test_the_bucket_is_emptied_no_higher_and_no_farther_out_than_the_machine_lifts(weight):
    """An ellipse of 0.78 of the reach over a pile's crest and a truck's side, 0.8 of it out at most
    over a truck; from the floor of a deep dig that leaves piles near the edge alone."""
    lot = made(Asked(corners=RECTANGLE, weight=weight, ramp=RAMP, size=4.0, depth=6.0))
    machine, floor, checked = lot.field.work.machine, 94.0, 0
    for one in lot.orders():
        for cell, place in zip(*np.nonzero(one.shipped.cast), strict=True):
            k = one.casting.stand[cell, place]
            level = floor if one.order.kind[k] == "floor" else 100.0
            if place < len(one.places):
                at = one.places.spot[one.casting.spot[cell, place]]
                inside = one.places.ground[place].boundary.distance(shapely.Point(at))
                top, most = 100.0 + min(inside * np.tan(np.radians(35.0)), 6.0), 0.9
            elif one.casting.bay[cell] >= 0:
                at = one.loading.bays.body[one.casting.bay[cell]]
                top, most = 100.0 + 2.7 / 0.3048, 0.8
            else:
                continue
            away = np.hypot(*(at - one.order.stands.spot[k])) / machine.reach
            assert away <= most + 1e-9
            assert top - level <= 0.78 * machine.reach * np.sqrt(1.0 - away**2) + 0.1
            checked += one.order.kind[k] == "floor"
    assert checked > 20


def test_no_truck_stands_or_drives_on_the_ramp_or_in_the_way_up_to_it():
    lot = made(Asked(corners=RECTANGLE, ramp=RAMP, size=4.0, needs=(0.05, 0.05, 0.05, 0.05)))
    half, loaded = lot.field.work.machine.track_width / 2, 0
    lane = shapely.box(24.0 - half, -90.0, 24.0 + half, 0.0)
    every = bays_of(lot.field.work, lot.legs, usual_truck(FOOT), lot.places)
    assert shapely.intersects(lane, every.ground()).any()
    assert not shapely.intersects(lane, lot.field.bays.ground()).any()
    for one in lot.orders():
        loads = (one.shipped.cast[:, -1] > 0) & (one.casting.bay >= 0)
        for bay in np.unique(one.casting.bay[loads]):
            ring = shapely.Polygon(one.loading.bays.ring[bay])
            assert not lane.intersects(ring.union(one.loading.bays.way[bay]))
            loaded += 1
    assert loaded > 8


def test_a_gap_for_a_truck_is_left_only_where_it_saves_hours(monkeypatch):
    """The plain plans, before stands are chosen for whole pieces."""
    monkeypatch.setattr(compare, "_in_pieces", lambda field, one, given: one)
    lot = made(Asked(corners=RECTANGLE, size=5.0, needs=(0.1, 0.1, 0.1, 0.1)))
    ring, told = lot.rounds[0], []
    order = order_of(lot.field, ring, 0)
    for most in range(5):
        monkeypatch.setattr(compare, "MOST_GAPS", most)
        one = solve(lot.field, order, lot.places, lot.terms)
        assert one.loading.gaps <= most
        told.append((one.hours, one.loading.gaps))
    assert told == sorted(told, key=lambda each: -each[0])
    assert len({hours for hours, _ in told}) == len({gaps for _, gaps in told}) > 1
    assert told[0][1] == 0


def test_where_there_is_room_a_lane_along_the_lot_line_stays_free_of_earth():
    for wide, kept in ((30.0, True), (13.0, False)):
        lot = shapely.box(-2.0 - wide, -2.0 - wide, 50.0 + wide, 38.0 + wide)
        found = made(Asked(corners=RECTANGLE, free=lot, depth=6.0))
        lane = found.field.work.machine.track_width
        for ground in found.places.ground:
            assert ground.difference(lot).area < 1e-6
            assert (ground.distance(lot.exterior) >= lane) == kept
