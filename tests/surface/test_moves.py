"""Side lists: what DESIGN says under Side, move by move."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from terrain.surface.moves import Move, moves, run_to_climb

STAIRCASE = ((0.0, 4.0), (4.0, 0.0))


def test_a_plain_slope_is_one_move():
    assert list(moves([((1.5, 1.0),)], 8.0)) == [Move(runs=(12.0,), low=0.0, rise=8.0)]


def test_a_staircase_repeats_its_whole_list():
    found = list(moves([STAIRCASE], 9.0))
    assert found == [
        Move(runs=(0.0,), low=0.0, rise=4.0),
        Move(runs=(4.0,), low=4.0, rise=0.0),
        Move(runs=(0.0,), low=4.0, rise=4.0),
        Move(runs=(4.0,), low=8.0, rise=0.0),
        Move(runs=(0.0,), low=8.0, rise=1.0),
    ]


def test_a_last_step_with_run_and_rise_goes_on_for_ever():
    found = list(moves([((0.0, 3.5), (1.0, 1.0))], 10.0))
    assert found == [
        Move(runs=(0.0,), low=0.0, rise=3.5),
        Move(runs=(6.5,), low=3.5, rise=6.5),
    ]


def test_unlike_lists_are_cut_at_the_union_of_their_step_heights():
    found = list(moves([STAIRCASE, ((1.0, 2.0),)], 6.0))
    assert [(m.low, m.rise) for m in found] == [(0.0, 4.0), (4.0, 0.0), (4.0, 2.0)]
    assert [m.runs for m in found] == [(0.0, 2.0), (4.0, 0.0), (0.0, 1.0)]


def test_step_heights_that_are_equal_in_decimals_meet_exactly():
    tenths = tuple([(0.0, 0.1)] * 3 + [(1.0, 0.0)])
    once = ((0.0, 0.3), (2.0, 0.0))
    treads = [m for m in moves([tenths, once], 0.31) if m.rise == 0.0]
    assert treads == [Move(runs=(1.0, 2.0), low=0.3, rise=0.0)]


def test_treads_in_a_row_are_one_tread_and_a_list_may_begin_with_one():
    found = list(moves([((2.0, 0.0), (1.0, 0.0), (1.0, 1.0))], 2.0))
    assert found == [Move(runs=(3.0,), low=0.0, rise=0.0), Move(runs=(2.0,), low=0.0, rise=2.0)]


def test_no_height_needs_no_move():
    assert list(moves([STAIRCASE], 0.0)) == []


@given(
    st.lists(st.tuples(st.integers(0, 5), st.integers(0, 5)).filter(any), min_size=1, max_size=5),
    st.floats(0.1, 40.0),
)
def test_climbs_sum_to_the_height_and_runs_follow_the_list(steps, height):
    if not any(rise for _, rise in steps):
        return
    side = tuple((float(run), float(rise)) for run, rise in steps)
    found = list(moves([side], height))
    assert sum(m.rise for m in found) == pytest.approx(height)
    assert run_to_climb(side, height) == pytest.approx(slow_run(side, height))


def slow_run(side, height: float) -> float:
    """The run at a height by walking the list step by step, as one would with a tape."""
    run = climbed = 0.0
    last_goes_on = side[-1][0] > 0 and side[-1][1] > 0
    i = 0
    while climbed < height - 1e-12:
        step_run, step_rise = side[-1] if last_goes_on and i >= len(side) else side[i % len(side)]
        share = 1.0 if step_rise == 0 else min(1.0, (height - climbed) / step_rise)
        run, climbed, i = run + share * step_run, climbed + share * step_rise, i + 1
    return run
