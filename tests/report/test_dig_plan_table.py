"""The dig plan on a terminal: what its lines say, in the order they are read."""

import io
from dataclasses import replace

from rich.console import Console

from terrain.report.dig_plan_order_words import before_words, first_pass
from terrain.report.dig_plan_start_words import first_words
from terrain.report.dig_plan_table import show_dig_plan
from terrain.report.dig_plan_truck_words import truck_at_words
from tests.report.made_dig_plan import made_dig_plan


def printed(plan):
    console = Console(file=io.StringIO(), width=80)
    show_dig_plan(plan, console)
    return " ".join(console.file.getvalue().split())


def test_the_working_day_is_said_before_the_buckets_hours():
    plan = made_dig_plan()
    said = printed(plan)
    day = said.index(f"Hours to plan the day by: {plan.hoe_hours:.0f}, an estimating book's rate")
    assert day < said.index("of them the bucket is at work: 4.0 to 6.0")


def test_topsoil_without_a_place_is_said_with_both_choices():
    said = printed(made_dig_plan())
    assert "Not yet placed: 2.0 yd³ topsoil loose, of 5.0 that come off" in said
    assert "another place for it, or haul it, 1 truck load more on top of the 2." in said


def test_the_elevation_to_dig_to_is_said_by_its_drop_below_the_mark():
    said = printed(made_dig_plan())
    assert "Dig down to elevation 92.50: what the bucket leaves" in said
    assert "11.85 ft below BM1 (104.35)" in said


def test_a_trench_dug_first_is_said_before_the_first_wall_and_is_no_wall_of_the_round():
    plan = made_dig_plan()
    assert before_words(plan) is None
    first = plan.passes[0]
    stand = replace(first.stand, kind="extra", wall="drain", number=0)
    ahead = replace(first, stand=stand, wall="drain")
    changed = replace(plan, passes=(ahead, *plan.passes))
    assert before_words(changed) == (
        "before that stand 0 over drain, from the top, while the ground about it is whole"
    )
    assert first_pass(changed) is plan.passes[0]
    assert first_words(changed) == first_words(plan)
    alone = replace(plan, passes=(ahead,))
    assert (before_words(alone), first_pass(alone)) == (None, ahead)


def test_earth_that_no_truck_is_in_reach_of_is_told_where_it_is_loaded_from():
    plan = made_dig_plan()
    casts = [(one, cast) for one in plan.passes for cast in one.to if cast.place == "truck"]
    (one, cast), *others = casts

    def loading(*, numbers):
        return replace(
            plan,
            passes=tuple(
                replace(each, to=tuple(
                    replace(c, buckets=3, truck=1 if each.stand.number in numbers else None)
                    if c.place == "truck" else c
                    for c in each.to
                ))
                for each in plan.passes
            ),
        )  # fmt: skip

    later = others[0][0].stand.number
    told = loading(numbers={later})
    assert truck_at_words(told, one, replace(cast, truck=None)) == (
        "no place for a truck in reach: heap it where stand "
        f"{later} reaches it, and load it from there at T1"
    )
    last, its = casts[-1]
    back = truck_at_words(loading(numbers={later}), last, replace(its, truck=None))
    assert f"towards the spot of stand {later}; when all else is dug go back to that spot" in back
    none = truck_at_words(loading(numbers=set()), one, replace(cast, truck=None))
    assert (
        none == "no place for a truck in reach: heap it in reach, and load it where a truck "
        "gets to it"
    )
