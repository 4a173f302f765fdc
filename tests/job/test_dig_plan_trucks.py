"""Where trucks are loaded, told: in reach of who loads there, off cut and piles, by two tapes."""

import math
from dataclasses import replace

import pytest
import shapely

from terrain.job.dig_plan import plan
from terrain.job.dig_plan_set_out import clear_of_piles, corners_gone
from terrain.job.dig_plan_truck_out import truck_from, trucks_out, waiting
from terrain.job.load import load_job
from terrain.report.dig_plan_stand_words import loads_told

BODY = 2.2 / 0.3048
LENGTH, WIDTH = 8.0 / 0.3048, 3.0 / 0.3048


@pytest.fixture(scope="module")
def told():
    """The demo's plan, which hauls off."""
    return plan(load_job("terrain/cli/demo_job/job.toml"))


def loads(told):
    """Each cast into the truck with its stand."""
    return [(one, cast) for one in told.passes for cast in one.to if cast.place == "truck"]


def test_trucks_are_numbered_as_they_are_first_loaded_and_hold_what_is_cast_there(told):
    first = list(dict.fromkeys(c.truck for _, c in loads(told) if c.truck is not None))
    assert first == [truck.number for truck in told.trucks] == list(range(1, len(first) + 1))
    assert first
    for truck in told.trucks:
        own = [(p.stand.number, c.loose) for p, c in loads(told) if c.truck == truck.number]
        assert truck.stands == tuple(stand for stand, _ in own)
        assert truck.loose == pytest.approx(sum(loose for _, loose in own))
    placed = sum(truck.loose for truck in told.trucks)
    without = sum(c.loose for _, c in loads(told) if c.truck is None)
    truck = next(place for place in told.places if place.kind == "truck")
    assert placed + without == pytest.approx(truck.cast)
    assert without < 0.25 * told.haul_loose  # from the floor no truck on the rim is loaded


def test_a_truck_stands_in_reach_of_its_stands_off_the_cut_the_piles_and_the_tail(told):
    clear = told.machine.tail_swing + 0.5 / 0.3048
    for truck in told.trucks:
        ground = shapely.Polygon(truck.ring)
        assert ground.area == pytest.approx(LENGTH * WIDTH)
        assert ground.distance(told.site.daylight) >= told.spoil.setback - 0.01
        assert shapely.Polygon(told.site.boundary).buffer(0.01).covers(ground)
        for place in told.places:
            assert place.ground.intersection(ground.union(truck.way)).area < 0.01
        for one, cast in loads(told):
            if cast.truck == truck.number:
                assert cast.spot == truck.body
                assert math.dist(one.stand.spot, truck.body) <= 0.9 * told.machine.reach + 1e-9
                assert ground.distance(shapely.Point(one.stand.spot)) >= clear - 1e-9
    assert any(truck.between for truck in told.trucks)
    assert any("a gap for the truck takes some of its ground" in p.why for p in told.places)


def test_two_tapes_find_the_tail_and_the_front_and_the_body_lies_near_the_tail(told):
    corners = told.site.corners
    for out in trucks_out(told):
        ring = out.truck.ring
        for (left, right), tapes in (((3, 2), out.tail), ((0, 1), out.front)):
            at = [(ring[left][k] + ring[right][k]) / 2 for k in (0, 1)]
            for tape in tapes:
                assert tape.length == pytest.approx(math.dist(corners[tape.corner], at))
        assert (out.length, out.width) == (pytest.approx(LENGTH), pytest.approx(WIDTH))
        tail = (ring[2] + ring[3]) / 2
        assert math.dist(tail, out.truck.body) == pytest.approx(BODY)
        turn = math.radians(out.truck.heading)
        ahead = [tail[0] + LENGTH * math.sin(turn), tail[1] + LENGTH * math.cos(turn)]
        assert ahead == pytest.approx(((ring[0] + ring[1]) / 2).tolist())
        stake = next(s for s in told.stakes if s.point == f"T{out.truck.number}")
        assert stake.easting - told.frame.easting == pytest.approx(tail[0], abs=1e-3)
        assert stake.northing - told.frame.northing == pytest.approx(tail[1], abs=1e-3)


def test_a_stand_sees_its_truck_to_the_right_where_it_lies_to_the_right(told):
    one, cast = next((one, cast) for one, cast in loads(told) if cast.truck == 1)
    turn = math.radians(one.stand.heading)
    for ahead, right in ((12.0, 5.0), (-9.0, 12.0), (-9.0, -12.0), (8.0, -6.0)):
        east = ahead * math.sin(turn) + right * math.cos(turn)
        north = ahead * math.cos(turn) - right * math.sin(turn)
        body = (one.stand.spot[0] + east, one.stand.spot[1] + north)
        moved = replace(told, trucks=(replace(told.trucks[0], body=body),))
        seen = truck_from(moved, one, cast)
        assert seen.away == pytest.approx(math.hypot(ahead, right))
        assert seen.right == pytest.approx(math.degrees(math.atan2(right, ahead)))


def test_what_waits_in_a_truck_is_the_rest_of_whole_loads_and_the_next_stand_is_told(told):
    so_far, casts = 0.0, loads(told)
    seen = []
    for at, (one, cast) in enumerate(casts):
        so_far += cast.loose
        left = waiting(told, one, cast)
        rest = so_far - 14.0 * math.floor(so_far / 14.0)
        assert (left is None) == (not 0.7 < rest < 13.3)
        if left is None:
            continue
        assert (left.held, left.load) == (pytest.approx(rest), 14.0)
        rows = [(p, c) for p, c in casts[at + 1 :] if c.buckets > 0]
        if not rows:
            assert (left.stand, left.after, left.same) == (None, 0, False)
            continue
        assert left.stand == rows[0][0].stand.number
        assert left.after == left.stand - one.stand.number
        assert left.same == (rows[0][1].truck == cast.truck)
        seen.append(left.same)
    assert set(seen) == {True, False}


def test_every_corner_that_a_stand_digs_away_is_told_with_the_first_that_does(told):
    gone = dict(corners_gone(told))
    for number, corner in enumerate(told.site.corners):
        stake = shapely.Point(corner).buffer(0.04)
        stands = [one.stand.number for one in told.passes if one.dug.intersects(stake)]
        assert gone.get(number) == (min(stands) if stands else None)
    assert len(gone) == len(told.site.corners)


def test_offset_stakes_are_clear_of_the_piles_farther_out_than_told(told):
    clear, house = clear_of_piles(told), shapely.Polygon(told.site.corners)
    piles = [p.ground for p in told.places if p.kind == "side" and p.cast > 0.0]
    around = house.buffer(clear + 0.01, quad_segs=64)
    assert all(around.covers(pile) for pile in piles)
    assert not all(house.buffer(clear - 0.5, quad_segs=64).covers(pile) for pile in piles)


def test_the_soil_the_sides_are_for_is_said_as_the_job_says_it(told):
    (said,) = [caution.message for caution in told.cautions if caution.code == "plan-soil"]
    assert "“common earth”, class B" in said


def test_loads_while_digging_are_of_what_stands_load_and_the_others_of_piles(told):
    dug = sum(cast.loose for _, cast in loads(told))
    assert told.loads_dug == math.ceil(dug / 14.0 - 1e-9)
    assert told.loads == math.ceil(told.haul_loose / 14.0 - 1e-9)
    assert loads_told(replace(told, loads_dug=told.loads)) == f"{told.loads} loads in all"
    some = replace(told, loads_dug=told.loads - 2)
    assert f"{told.loads - 2} while digging, the others later" in loads_told(some)
