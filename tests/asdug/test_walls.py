"""A wall as dug by its shots: known lines give known figures, a boulder turns none of them."""

import math

import numpy as np
import pytest

from terrain.asdug.walls import WallLine, on_line, wall_dug

LINE = WallLine(start=np.array([0.0, 0.0]), end=np.array([48.0, 0.0]))
NONE = np.zeros((0, 3))


def toes(out, count=9):
    """Shots along the wall, `out` a function of how far along; outward is south."""
    along = np.linspace(0.0, 48.0, count)
    return np.column_stack([along, -np.array([out(s) for s in along]), np.zeros(count)])


def slanting(s):
    return 2.0 - math.tan(math.radians(0.5)) * s


def test_a_slanting_wall_turns_counter_clockwise_where_its_end_stands_nearer():
    wall = wall_dug(LINE, toes(slanting), NONE, None)
    assert wall.turn_degrees.value == pytest.approx(0.5, abs=1e-12)
    assert wall.bow.value == pytest.approx(0.0, abs=1e-12)
    assert wall.most.value == pytest.approx(2.0, abs=1e-12)
    assert wall.mean.value == pytest.approx(slanting(24.0), abs=1e-12)


def test_the_mean_is_over_the_length_not_over_the_shots():
    # ten shots crowd at one end of a wall that is 1 there and 3 at the other
    along = np.concatenate([np.linspace(0, 1, 10), [48.0]])
    shots = np.column_stack([along, -(1.0 + 2.0 * along / 48.0), np.zeros(11)])
    assert wall_dug(LINE, shots, NONE, None).mean.value == pytest.approx(2.0, abs=1e-12)


def test_a_boulder_turns_no_line_but_is_the_least():
    shots = toes(slanting)
    shots[7, 1] += 0.9
    wall = wall_dug(LINE, shots, NONE, 0.05)
    assert wall.left_out == 1
    assert wall.turn_degrees.value == pytest.approx(0.5, abs=1e-9)
    assert wall.least.value == pytest.approx(slanting(42.0) - 0.9, abs=1e-9)
    assert abs(wall.bow.value) == pytest.approx(0.9, abs=1e-2)


def test_a_steady_bow_leaves_no_shot_out():
    wall = wall_dug(LINE, toes(lambda s: 2.0 + 0.4 * 4 * s * (48 - s) / 48**2), NONE, None)
    assert wall.left_out == 0
    assert wall.bow.value == pytest.approx(0.4, abs=1e-12)
    assert wall.bow_at == pytest.approx(24.0)
    assert wall.turn_degrees.value == pytest.approx(0.0, abs=1e-12)


def test_noise_hardly_ever_leaves_a_shot_out():
    generator = np.random.default_rng(3)
    along = np.linspace(0, 48, 9)
    left = [(~on_line(along, generator.normal(0, 0.05, 9), 0.05)).sum() for _ in range(2000)]
    # two-sided beyond four deviations: 6 in 100,000 shots, and the median line adds a few
    assert np.sum(left) <= 15


@pytest.mark.parametrize("count", [0, 1, 2])
def test_two_shots_make_no_wall(count):
    assert wall_dug(LINE, toes(slanting)[:count], NONE, None) is None


def test_faces_stand_in_where_no_toe_was_shot():
    wall = wall_dug(LINE, NONE, toes(slanting), None)
    assert wall.turn_degrees.value == pytest.approx(0.5, abs=1e-12)


@pytest.mark.parametrize("lean", [0.0, 0.25, 1.0, -0.1])
def test_batter_is_run_per_rise_on_a_wall_that_slants(lean):
    foot = toes(slanting)
    faces = [foot + np.array([0.0, -lean * high, high]) for high in (2.0, 5.0)]
    wall = wall_dug(LINE, foot, np.concatenate(faces), None)
    assert wall.batter.value == pytest.approx(lean, abs=1e-12)


def test_toes_alone_tell_no_batter():
    assert wall_dug(LINE, toes(slanting), NONE, None).batter is None
