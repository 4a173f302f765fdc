"""The drive down to the floor of the dig and out of it again, as it is said to the driver."""

from dataclasses import replace

import numpy as np
import pytest
import shapely

from terrain.job.dig_plan_drive import drive_of, way_out
from terrain.job.dig_plan_record import TruckSpot
from terrain.job.dig_plan_set_out import set_out
from terrain.job.dig_plan_shallow import shallow_side
from terrain.ledger.entries import LooseVolume
from terrain.report.card import card_html
from terrain.report.dig_plan_drive_words import way_out_words, way_words
from terrain.report.dig_plan_page import dig_plan_html
from tests.report.made_dig_plan import box, made_dig_plan
from tests.report.test_page import Reader

WAY = [[4.0, 31.0], [4.0, 60.0], [75.0, 60.0], [75.0, 15.0], [55.0, 15.0], [30.0, 15.0]]
"""North out by the back wall, east and south round the pile there, west down the ramp."""


def truck(number, west, south, east, north):
    ring = np.array([[west, north], [east, north], [east, south], [west, south]])
    return TruckSpot(number=number, body=((west + east) / 2, (south + north) / 2), heading=0.0,
                     ring=ring, way=shapely.MultiPolygon(), stands=(1,), loose=LooseVolume(5.0),
                     between=())  # fmt: skip


def driven(way=WAY, **changes):
    """The made plan whose last stand is on the floor, come to by a way."""
    plan = made_dig_plan(**changes)
    *before, last = plan.passes
    stand = replace(last.stand, kind="floor", spot=tuple(way[-1]), way=np.array(way))
    return replace(plan, passes=(*before, replace(last, stand=stand)))


def test_a_drive_is_the_way_s_own_stretches_up_to_the_ramp_and_which_way_round_they_go():
    drive = drive_of(driven(), set_out(driven())[-1])
    assert [(s.heading, s.length) for s in drive.stretches] == [
        pytest.approx(told) for told in ((0.0, 29.0), (90.0, 71.0), (180.0, 45.0), (270.0, 15.0))
    ]
    assert (drive.before, drive.by, drive.direction) == (5, 2, "clockwise")
    assert drive.piles == ("back", "right")  # not the left one, 13 ft off
    assert (drive.ramp, drive.down) == ("way in", pytest.approx(270.0))
    other = [[x, 30.0 - y] for x, y in WAY]  # the same way mirrored: by the front wall
    drive = drive_of(driven(other), set_out(driven(other))[-1])
    assert (drive.by, drive.direction) == (0, "counter-clockwise")


def test_only_ground_that_no_stand_before_has_dug_is_called_so():
    assert drive_of(driven(), set_out(driven())[-1]).undug
    over = [[4.0, 18.0], *WAY[1:]]
    dug = driven(over).passes[4].dug
    assert dug.intersection(shapely.LineString(over)).length > 8.0
    assert not drive_of(driven(over), set_out(driven(over))[-1]).undug
    assert "not dug yet" not in way_words(driven(over), set_out(driven(over))[-1])


def test_every_truck_in_the_way_is_named_and_none_that_is_not():
    trucks = (truck(1, 78.0, 20.0, 86.0, 40.0), truck(2, -60.0, 0.0, -50.0, 20.0),
              truck(3, 50.0, 12.0, 58.0, 18.0))  # fmt: skip
    plan = driven(trucks=trucks)
    assert drive_of(plan, set_out(plan)[-1]).trucks == (1, 3)
    assert way_out(plan).trucks == (3,)
    ahead = replace(trucks[1], way=box(-60.0, 20.0, -0.5, 65.0))
    plan = driven(trucks=(ahead,))
    assert drive_of(plan, set_out(plan)[-1]).trucks == ()
    plan = driven(trucks=(replace(ahead, way=box(-60.0, 20.0, 0.5, 65.0)),))
    assert drive_of(plan, set_out(plan)[-1]).trucks == (2,)


def test_card_and_page_say_the_drive_at_its_stand_and_the_way_out_after_the_last():
    plan = driven(trucks=(truck(1, 50.0, 12.0, 58.0, 18.0),))
    way = (
        "Way there: First T1 empty, no truck there or coming; the way and the ramp free. Then "
        "from stand 5 out of the dig by wall C–D back, over ground not dug yet, then clockwise "
        "round the dig past the piles at back and right: about 29 ft north, 71 ft east, 45 ft "
        "south, 15 ft west, then west down the ramp “way in” (10.0 ft wide, 4 out : 1 down)"
    )
    out = (
        "out up the ramp “way in”, east. First T1 empty, no truck there or coming; the "
        "way and the ramp free."
    )
    assert way_words(plan, set_out(plan)[-1]).startswith(way)
    assert way_out_words(plan) == out
    card, page = (
        " ".join(Reader(made(plan)).said().split()) for made in (card_html, dig_plan_html)
    )
    assert card.count(way) == card.count(out) == 1
    assert page.count(way) == page.count(out) == 2  # at the step, and below the passes on paper
    assert way_out_words(made_dig_plan()) == "out of the dig."
    assert "up the ramp" not in Reader(card_html(made_dig_plan())).said()


def test_a_way_that_stays_by_the_ramp_goes_round_nothing_and_leaves_by_no_wall():
    for start in (70.0, 55.0):  # before its top, and on it already
        plan = driven([[start, 15.0], [50.0, 15.0], [30.0, 15.0]])
        drive = drive_of(plan, set_out(plan)[-1])
        assert (drive.by, drive.direction) == (None, None)
        said = way_words(plan, set_out(plan)[-1])
        assert "First see that the way and the ramp are free." in said
        assert "out of the dig" not in said


def with_low_cuts(plan, **deep):
    """The plan with cuts of 0.5 ft to so many at the walls named; the others stay 8 to 10 ft."""
    cuts = tuple(
        replace(cut, depth=(0.5, deep[cut.wall])) if cut.wall in deep else cut
        for cut in plan.ground.cuts
    )
    return replace(plan, ground=replace(plan.ground, cuts=cuts))


def test_a_low_side_is_named_as_another_way_in_with_its_depth_and_a_deep_one_is_not():
    """0.35 m is 1.148 ft. Piles lie all along the front; those of the left side are moved off."""
    plan = driven()
    said = way_words(with_low_cuts(plan, front=1.1), set_out(plan)[-1])
    assert "The short way, once no pile or truck is in the way there: in over the side at" in said
    assert "at wall A–B front, where the cut is only 0.5 to 1.1 ft deep, if" in said
    assert "a competent person agrees. Else by the ramp: First" in said
    open_left = replace(plan, places=tuple(p for p in plan.places if p.name != "left"))
    both = way_words(with_low_cuts(open_left, front=1.1, left=1.0), set_out(plan)[-1])
    assert "The short way: in over the side at wall D–A left, where the cut is only 0.5" in both
    for none in (plan, with_low_cuts(plan, front=1.2)):
        assert "The short way" not in way_words(none, set_out(plan)[-1])
    wide = replace(plan, machine=replace(plan.machine, track_width=41.0))
    assert shallow_side(with_low_cuts(wide, front=1.1)) is None
