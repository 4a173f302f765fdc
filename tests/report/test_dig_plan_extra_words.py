"""Ramps, pits and trenches in words: where, how wide, how deep, who digs them, the rod on them."""

from dataclasses import replace

import numpy as np
from shapely.geometry import MultiPolygon

from terrain.job.dig_plan_ground_record import ExtraTold
from terrain.report.card import card_html
from terrain.report.dig_plan_extra_words import breaks_words, extra_words
from terrain.report.dig_plan_page import dig_plan_html
from tests.report.made_dig_plan import box, made_dig_plan

PIT = ExtraTold(
    name="well", kind="pit", width=None, spots=np.array([[10.0, 30.0], [16.0, 30.0], [16.0, 38.0]]),
    floor=np.full(3, 97.25), ground=np.array([102.25, 102.5, 102.25]), dug=MultiPolygon(),
    steps=((1.0, 1.0),), highest=5.25, upright=0.0, stands=(),
)  # fmt: skip
DRAIN = ExtraTold(
    name="drain", kind="trench", width=1.5, spots=np.array([[0.0, -10.0], [0.0, -40.0]]),
    floor=np.full(2, 98.0), ground=np.array([101.0, 101.0]), dug=MultiPolygon(), stands=(2, 3),
    steps=((0.0, 1.0),), highest=3.0, upright=3.0,
)  # fmt: skip


def with_extras(*extras):
    plan = made_dig_plan()
    return replace(plan, ground=replace(plan.ground, extras=extras))


def test_a_ramp_is_told_by_where_it_leaves_the_wall_its_width_and_its_climb():
    (ramp,) = extra_words(made_dig_plan())
    text = " ".join(ramp["lines"])
    assert "Its middle leaves the wall line B–C 15.0 ft (15′ 0″) north of B." in text
    assert "10.0 ft (10′ 0″) wide" in text
    assert (
        "climbs from 96.00 at its foot, 6.0 ft (6′ 0″) below the ground, to the top edge at "
        "101.00, 20.0 ft (20′ 0″) on by its middle"
    ) in text
    assert "4 out : 1 up" in text
    assert [stake.split(":")[0] for stake in ramp["stakes"]] == [
        "Middle at the foot", "Middle at the top",
    ]  # fmt: skip
    assert ramp["rods"] == [
        {"where": "at its foot", "floor": "96.0"}, {"where": "at its top", "floor": "101.0"},
    ]  # fmt: skip


def test_a_pit_no_stand_digs_says_so_and_a_trench_tells_its_ends():
    pit, drain = extra_words(with_extras(PIT, DRAIN))
    assert pit["lines"] == [
        "Floor 97.25, 5.0 to 5.2 ft below the ground as it is.",
        "Its sides: 1 out : 1 up; the highest 5.2 ft (5′ 3″), floor to ground as it is.",
        "No stand of this plan digs it: it is a job of its own.",
    ]
    assert pit["stakes"][0].startswith("Corner 1: ")
    assert "10.0 ft (10′ 0″) from D" in pit["stakes"][0]
    assert drain["lines"][0] == "1.5 ft (1′ 6″) wide, half to each hand of its middle."
    assert "narrower than your bucket, 4.0 ft (4′ 0″)" in drain["lines"][1]
    assert drain["lines"][-1] == "Dug from stands 2–3."
    assert [stake.split(":")[0] for stake in drain["stakes"]] == [
        "Middle, first end", "Middle, other end",
    ]  # fmt: skip


def test_card_and_page_hold_them_by_name_with_the_floor_for_the_rod():
    plan = with_extras(PIT)
    card, page = card_html(plan), dig_plan_html(plan)
    assert 'class="rod-at" data-floor="97.25" hidden' in card
    for text in (card, page):
        assert '<span class="name">well</span>' in text
        assert "No stand of this plan digs it" in text
    assert "Ramps, pits, trenches" not in card_html(with_extras())


def test_the_paint_of_an_edge_stops_where_an_extra_breaks_it():
    plan = made_dig_plan()
    assert "no paint" in card_html(plan)
    assert "no paint" not in card_html(with_extras())


def test_a_ramp_that_ends_below_the_ground_says_that_nothing_drives_out_by_it():
    plan = made_dig_plan()
    (ramp,) = plan.ground.extras
    deep = replace(ramp, ground=np.array([102.0, 105.0]))
    text = " ".join(extra_words(with_extras(deep))[0]["lines"])
    assert "ends there 4.0 ft (4′ 0″) below the ground: as drawn nothing drives out by it" in text
    assert "nothing drives out" not in " ".join(extra_words(plan)[0]["lines"])


def test_a_ramp_whose_foot_is_above_the_ground_is_not_dug_and_has_no_rod():
    (ramp,) = made_dig_plan().ground.extras
    high = replace(ramp, spots=ramp.spots[:1], floor=np.array([103.0]), ground=np.array([102.0]))
    (told,) = extra_words(with_extras(high))
    assert told["lines"] == ["Its foot is above the ground as it is: nothing is dug for it."]
    assert told["rods"] == []


def test_a_ramp_with_a_bend_has_the_rod_at_the_bend_too():
    (ramp,) = made_dig_plan().ground.extras
    bent = replace(
        ramp,
        spots=np.array([[42.0, 15.0], [50.0, 15.0], [50.0, 27.0]]),
        floor=np.array([96.0, 98.0, 101.0]),
        ground=np.array([101.0, 101.0, 101.0]),
    )
    (told,) = extra_words(with_extras(bent))
    assert [(rod["where"], rod["floor"]) for rod in told["rods"]] == [
        ("at its foot", "96.0"), ("at its bend 1", "98.0"), ("at its top", "101.0"),
    ]  # fmt: skip
    assert told["stakes"][1].startswith("Middle at bend 1: ")


def test_in_metres_tapes_widths_and_breaks_are_told_without_feet():
    plan = replace(with_extras(*made_dig_plan().ground.extras, PIT, DRAIN), length_unit="m")
    told = extra_words(plan)
    text = " ".join(line for extra in told for line in (*extra["lines"], *extra["stakes"]))
    assert "1.50 m wide, half to each hand of its middle." in text
    assert "Floor 97.250, 5.00 to 5.25 m below the ground as it is." in text
    assert "10.00 m from D" in told[1]["stakes"][0]
    breaks = [breaks_words(plan, wall) for wall in range(4)]
    assert [each is None for each in breaks] == [True, False, True, True]
    assert breaks[1].startswith("Measured along the wall from B, no paint from 10.00 m to 20.00 m")
    assert "′" not in text + breaks[1]
    assert " ft" not in text + breaks[1]


def test_a_pit_inside_the_painted_edge_says_that_the_paint_runs_on():
    """Along the front, the edge is some feet out of the wall; one pit is 1 ft out, one 40 ft."""
    said = "It lies inside the painted edge: the paint runs on past it."
    near = replace(PIT, dug=box(10.0, -1.0, 16.0, 0.0))
    far = replace(PIT, dug=box(10.0, -40.0, 16.0, 0.0))
    told = [extra_words(with_extras(pit))[0]["lines"] for pit in (near, far, PIT)]
    assert [said in lines for lines in told] == [True, False, False]


def test_sides_that_stand_straight_up_are_for_a_competent_person_and_laid_back_ones_are_told():
    steps = ((0.0, 3.5), (1.0, 1.0))
    nobody, below = "Nobody goes in before a competent person", "before anybody works below it"
    for high, upright, said in ((3.0, 3.0, below), (3.9, 3.5, below), (4.0, 4.0, nobody),
                                (4.0, 0.0, None)):  # fmt: skip
        (told,) = extra_words(with_extras(replace(DRAIN, highest=high, upright=upright)))
        text = " ".join(told["lines"])
        assert f"Its sides: straight up; the highest {high:.1f} ft" in text
        assert [word in text for word in (nobody, below)] == [said == nobody, said == below]
    (told,) = extra_words(with_extras(replace(DRAIN, steps=steps)))
    assert "Its sides: 3.5 ft straight up, then 1 out : 1 up; the" in " ".join(told["lines"])
    metric = replace(with_extras(replace(DRAIN, highest=1.2, upright=1.2)), length_unit="m")
    assert nobody in " ".join(extra_words(metric)[0]["lines"])
