"""A side from the floor up: what DESIGN says under Side, and what the rules measure on it."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from terrain.ledger.profile import profile_to, run_just_above

STAIRS = ((0.0, 4.0), (4.0, 0.0))


def test_a_last_step_with_run_and_rise_goes_on_for_ever():
    profile = profile_to(((0.0, 3.5), (1.0, 1.0)), 9.5)
    assert (profile.run, profile.rise) == (6.0, 9.5)
    assert profile.upright == (3.5,)
    assert profile.steepest_slope == 1.0


def test_any_other_list_repeats_whole():
    profile = profile_to(STAIRS, 9.0)
    assert profile.upright == (4.0, 4.0, 1.0)
    assert profile.upright_foot == (0.0, 4.0, 8.0)
    assert profile.treads == (4.0, 4.0)
    assert profile.run == 8.0


def test_a_tread_at_the_very_top_is_ground():
    assert profile_to(STAIRS, 8.0).treads == (4.0,)
    assert profile_to(STAIRS, 8.0).run == 4.0
    assert not profile_to(STAIRS, 4.0).is_benched


def test_a_tread_at_the_bottom_is_floor():
    profile = profile_to(((3.0, 0.0), (1.0, 1.0)), 6.0)
    assert (profile.run, profile.treads) == (6.0, ())


def test_an_upright_side_is_one_upright_part_however_its_steps_repeat():
    assert profile_to(((0.0, 1.0),), 8.0).upright == (8.0,)
    assert profile_to(((0.0, 1.0), (0.0, 2.0)), 8.0).upright == (8.0,)


def test_a_slope_is_cut_at_the_top_in_proportion():
    profile = profile_to(((6.0, 4.0), (0.0, 4.0)), 2.0)
    assert (profile.run, profile.rise) == (3.0, 2.0)


def test_no_depth_has_no_profile():
    profile = profile_to(STAIRS, 0.0)
    assert (profile.run, profile.rise, profile.run_per_rise) == (0.0, 0.0, 0.0)
    assert profile.steps == ()


step = st.tuples(st.integers(0, 5), st.integers(0, 5)).filter(any)
sides = st.lists(step, min_size=1, max_size=4).filter(lambda s: any(rise for _, rise in s))


def walked(side, height):
    """Run just below a height, walking the list up in hundredths."""
    last_run, last_rise = side[-1]
    steps = list(side)
    while sum(r for _, r in steps) < height:
        steps += [side[-1]] if last_run and last_rise else side
    run = foot = 0.0
    for step_run, step_rise in steps:
        if foot >= height:
            break
        run += step_run * (min(1.0, (height - foot) / step_rise) if step_rise else 1.0)
        foot += step_rise
    return run


@given(sides, st.integers(1, 60))
def test_the_profile_goes_as_far_back_as_the_list_walked_step_by_step(side, quarters):
    height = quarters / 4
    floor_tread = 0.0
    for run, rise in side:
        if rise:
            break
        floor_tread += run
    profile = profile_to(tuple(side), height)
    assert profile.rise == pytest.approx(height)
    assert profile.run == pytest.approx(walked(side, height) - floor_tread)
    assert sum(profile.upright) + sum(r for w, r in profile.steps if w) == pytest.approx(height)


def test_run_just_above_a_height_takes_in_the_tread_there():
    profile = profile_to(STAIRS, 12.0)
    assert [run_just_above(profile, h) for h in (0.0, 3.9, 4.0, 5.0, 8.0, 11.0)] == [
        0,
        0,
        4,
        4,
        8,
        8,
    ]
    sloped = profile_to(((1.0, 2.0),), 12.0)
    assert run_just_above(sloped, 5.0) == pytest.approx(2.5)
