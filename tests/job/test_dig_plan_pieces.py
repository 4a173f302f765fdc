"""What is dug from a stand is told by the measures it was made from, all by hand."""

from dataclasses import replace

import numpy as np
import pytest
import shapely

from terrain.job.dig_plan import plan
from terrain.job.dig_plan_buckets import filled, trim_of
from terrain.job.dig_plan_pieces import dug_now
from terrain.job.load import load_job
from terrain.ledger.entries import LooseVolume
from tests.job.made_job import small, write_job
from tests.report.made_dig_plan import CORNERS, box, made_dig_plan

ELL = shapely.union_all([shapely.box(18, 6, 24, 9), shapely.box(18, 9, 21, 15)])
FAR = shapely.box(4, -6, 14, 3)


def digging(*parts, **changes):
    """The made plan whose first stand, at (30, 4) facing west, digs these parts."""
    plan = made_dig_plan(**changes)
    first, second, *rest = plan.passes
    first = replace(first, dug=shapely.MultiPolygon(parts))
    second = replace(second, dug=box(12, -2, 29, 10))
    return replace(plan, passes=(first, second, *rest))


def now_of(*parts, **changes):
    plan = digging(*parts, **changes)
    return dug_now(plan, plan.passes[0])


def test_two_pieces_are_told_apart_the_nearer_first():
    near, far = now_of(FAR, ELL).pieces
    assert (near.number, far.number) == (1, 2)
    for piece, part in ((near, ELL), (far, FAR)):
        assert shapely.symmetric_difference(piece.ground, part).area < 0.1


@pytest.mark.parametrize(
    ("part", "wall"),
    [
        (shapely.box(10, -2, 20, 3), 0),
        (shapely.box(10, 2, 20, 9), 0),
        (shapely.box(10, 4, 20, 9), None),
        (shapely.box(10, -2, 20, 16), None),
        (shapely.box(10, -3, 20, 16), 0),
        (shapely.box(10, -6, 20, -3), 0),
        (shapely.box(10, -60, 20, -50), 0),
        (shapely.box(36, 2, 40, 22), 1),
        (shapely.box(14, 25, 40, 30), 2),
        (shapely.box(-4, 10, 2, 14), 3),
    ],
)
def test_a_piece_is_by_a_wall_within_a_bucket_and_the_overdig_of_it_or_as_slope_beside_it(
    part, wall
):
    """Walls front, right, back, left of 40 by 30; bucket 4 wide, overdig 2: 6 from the line."""
    assert now_of(part).pieces[0].wall == wall


@pytest.mark.parametrize("wall", range(4))
@pytest.mark.parametrize("clockwise", [False, True])
def test_the_wall_is_found_whichever_way_round_the_house_is_drawn_and_turned(wall, clockwise):
    turn = np.radians(31.0)
    spin = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    corners = (CORNERS[::-1] if clockwise else CORNERS) @ spin
    start, end = corners[wall], corners[(wall + 1) % 4]
    along = (end - start) / np.hypot(*(end - start))
    inward = np.array([-along[1], along[0]]) * (-1 if clockwise else 1)
    ring = [start + s * along + o * inward for s, o in ((8, -1.5), (20, -1.5), (20, 4), (8, 4))]
    plan = made_dig_plan()
    first = replace(plan.passes[0], dug=shapely.MultiPolygon([shapely.Polygon(ring)]))
    site = replace(plan.site, corners=corners, dig_line=corners)
    (piece,) = dug_now(replace(plan, site=site, passes=(first,)), first).pieces
    assert piece.wall == wall


def test_pieces_are_as_far_from_the_middle_of_the_machine_as_their_corners_are():
    near, far = now_of(FAR, ELL).pieces
    assert (near.near, near.far) == pytest.approx((np.hypot(6, 2), np.hypot(12, 11)), abs=0.01)
    assert (far.near, far.far) == pytest.approx((np.hypot(16, 1), np.hypot(26, 10)), abs=0.01)
    assert (near.bearing, far.bearing) == pytest.approx((30.5, -14.7), abs=0.1)


def test_what_is_floor_and_what_is_slope_is_told_by_the_dig_line():
    near, far = now_of(FAR, ELL).pieces
    assert (near.floor, near.slope, far.floor, far.slope) == (True, False, True, True)
    slope = now_of(shapely.box(4, -6, 14, -3)).pieces[0]
    assert (slope.floor, slope.slope) == (False, True)


def seen(box):
    return box.near, box.far, box.left, box.right


def test_the_same_ground_is_told_from_the_seat_the_nearer_box_first():
    """From (30, 4) facing west: ahead is 30 - x, to the right y - 4."""
    near, far = now_of(FAR, ELL).pieces
    assert [seen(box) for box in near.ahead] == [
        pytest.approx((6, 9, 2, 5), abs=0.01),
        pytest.approx((9, 12, 2, 11), abs=0.01),
    ]
    (only,) = far.ahead
    assert seen(only) == pytest.approx((16, 26, -10, -1), abs=0.01)
    assert (near.is_square, far.is_square) == (True, True)
    slant = shapely.Polygon([(18, 6), (24, 6), (18, 18)])
    assert not now_of(slant).pieces[0].is_square


STEPS = [shapely.box(18 - 3 * k, 4, 21 - 3 * k, 7 + 4 * k) for k in range(5)]
"""Steps 3 wide, each 4 deeper: seen from (30, 4) facing west they begin 9 ahead."""


@pytest.mark.parametrize(("steps", "boxes"), [(1, 1), (2, 2), (3, 3), (4, 3), (5, 3)])
def test_a_flight_of_steps_is_told_in_as_few_boxes_as_it_fills(steps, boxes):
    piece = now_of(shapely.union_all(STEPS[:steps])).pieces[0]
    assert (len(piece.ahead), piece.is_square) == (boxes, True)


@pytest.mark.parametrize(("highs", "boxes"), [((3, 12, 3, 12), 4), ((2, 12, 2, 12, 2, 12), 2)])
def test_a_fourth_box_is_told_only_where_the_piece_is_whole_with_it(highs, boxes):
    parts = [shapely.box(21 - 3 * k, 4, 24 - 3 * k, 4 + high) for k, high in enumerate(highs)]
    piece = now_of(shapely.union_all(parts)).pieces[0]
    assert (len(piece.ahead), piece.is_square) == (boxes, boxes == 4)


@pytest.mark.parametrize(("long", "boxes"), [(0.9, 1), (1.1, 2), (0.5, 1)])
def test_no_box_beside_another_is_shorter_than_a_quarter_of_a_bucket(long, boxes):
    parts = shapely.box(20, 4, 20 + long, 16), shapely.box(17, 4, 20, 7)
    piece = now_of(shapely.union_all(parts)).pieces[0]
    assert len(piece.ahead) == boxes
    (alone,) = now_of(shapely.box(20, 4, 20 + long, 16)).pieces
    assert len(alone.ahead) == 1


def test_a_slant_that_is_the_paint_s_is_told_from_one_that_is_not():
    slant = shapely.Polygon([(4, -6), (14, -6), (14, 4)])
    plan = digging(slant)
    (piece,) = dug_now(plan, plan.passes[0]).pieces
    assert (piece.is_square, piece.to_paint) == (False, False)
    cut = plan.site.daylight.difference(shapely.Polygon([(4, -6), (14, 4), (4, 4)]))
    site = replace(plan.site, daylight=shapely.MultiPolygon([cut]))
    (piece,) = dug_now(replace(plan, site=site), plan.passes[0]).pieces
    assert (piece.is_square, piece.to_paint) == (False, True)


def test_a_side_at_the_edge_of_the_cut_is_the_paint_and_the_other_is_not():
    near, far = now_of(FAR, ELL).pieces
    assert not now_of(shapely.box(4, -5, 14, 3)).pieces[0].ahead[0].left_paint
    assert [(box.left_paint, box.right_paint) for box in near.ahead] == [(False, False)] * 2
    assert [(box.left_paint, box.right_paint) for box in far.ahead] == [(True, False)]
    plan = digging(shapely.box(4, -6, 14, 3))
    turned = replace(plan.passes[0].stand, heading=90.0, spot=(0.0, 0.0))
    first = replace(plan.passes[0], stand=turned)
    (piece,) = dug_now(replace(plan, passes=(first, *plan.passes[1:])), first).pieces
    assert [seen(box) for box in piece.ahead] == [pytest.approx((4, 14, -3, 6), abs=0.01)]
    assert [(box.left_paint, box.right_paint) for box in piece.ahead] == [(False, True)]


def test_what_stays_in_front_is_named_by_the_stands_that_take_it():
    now = now_of(FAR, ELL)
    assert [each.stand for each in now.later] == [2, 3, 4, 5]
    assert sum(each.ground.area for each in now.later if each.stand == 3) == pytest.approx(24.0)
    assert (now.under, now.never) == (2, True)
    plan = digging(FAR, left=shapely.MultiPolygon())
    last = dug_now(plan, plan.passes[-1])
    assert (last.later, last.under, last.never) == ((), None, False)


def test_slivers_are_no_pieces_but_are_not_kept_quiet():
    now = now_of(FAR, shapely.box(20, 6, 20.5, 9))
    assert (len(now.pieces), now.slivers) == (1, True)
    alone = now_of(shapely.box(20, 6, 20.5, 9))
    assert (len(alone.pieces), alone.slivers) == (1, False)


def test_cells_that_touch_at_a_side_are_one_piece():
    assert len(now_of(shapely.box(18, 6, 21, 9), shapely.box(21, 6, 24, 9)).pieces) == 1


def test_ground_of_a_ramp_alone_is_told_as_the_ramp_s():
    assert now_of(shapely.box(44, 12, 50, 18)).pieces[0].extra == "way in"
    assert now_of(shapely.box(36, 12, 50, 18)).pieces[0].extra is None


def test_a_pile_and_the_truck_have_got_what_earlier_stands_gave_and_need_the_rest():
    plan = made_dig_plan()
    one, two = plan.passes[:2]
    truck = [next(c for c in each.to if c.place == "truck") for each in (one, two)]
    first, second = filled(plan, one, truck[0]), filled(plan, two, truck[1])
    assert (first.before, first.after, first.whole, first.full, first.to_come) == (0, 12, 22, 0, 2)
    assert (second.before, second.after, second.full, second.to_come) == (10, 0, 0, 1)
    pile = filled(plan, two, two.to[0])
    assert (pile.before, pile.after, pile.whole, pile.full, pile.to_come) == (15, 0, 33, None, None)


def test_all_that_places_get_is_what_they_have_then_and_what_is_to_come():
    plan = made_dig_plan()
    for one in plan.passes:
        for cast in one.to:
            if cast.swing is not None:
                got = filled(plan, one, cast)
                assert got.before + cast.buckets + got.after == got.whole


@pytest.mark.parametrize(
    ("buckets", "trim"), [((0,), 0), ((2,), 2), ((1, 1), 2), ((2, 1), None), ((3,), None)]
)
def test_a_stand_of_up_to_two_buckets_in_all_is_a_trim(buckets, trim):
    first = made_dig_plan().passes[0]
    casts = zip(first.to, buckets, strict=False)
    to = tuple(replace(cast, loose=LooseVolume(b), buckets=b) for cast, b in casts)
    assert trim_of(replace(first, to=to)) == trim


SAID_OF = {
    "wall": "A stand along a wall is on ground not dug yet",
    "rim": "A stand on the rim",
    "extra": "A stand over the line of a ramp, pit or trench",
    "floor": "A stand on the floor has no edge in front of it",
}
RAMP = {"name": "in", "line": [[148.0, 218.0], [180.0, 218.0]], "width": 12.0, "run_per_rise": 3.0}


@pytest.mark.parametrize("ramps", [[], [RAMP]])
def test_of_each_kind_of_stand_that_digs_and_of_no_other_it_is_said_what_is_true(tmp_path, ramps):
    job = small() | {"machine": {"weight_tonnes": 14.0}}
    job["dig"] = job["dig"] | ({"ramps": ramps} if ramps else {})
    answer = plan(load_job(write_job(tmp_path, job)))
    kinds = {one.stand.kind for one in answer.passes}
    assert ("floor" in kinds) == bool(ramps)
    (said,) = [c.message for c in answer.cautions if c.code == "plan-undermined"]
    assert {kind for kind, words in SAID_OF.items() if words in said} == kinds


def test_a_pit_beside_the_wall_s_own_ground_is_a_piece_of_its_own():
    """One block of ground, 10 by 4, of which the ramp of the made plan, from 42 on, is 6 by 4."""
    now = now_of(shapely.box(38, 11, 48, 15))
    shares = sorted((piece.extra or "", round(piece.ground.area)) for piece in now.pieces)
    assert shares == [("", 16), ("way in", 24)]
