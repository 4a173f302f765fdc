"""Outlines from bearings, lengths and stakes; what a tape would measure of them."""

import re
from math import cos, radians, sin

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy.linalg import orthogonal_procrustes
from shapely import Polygon

from terrain.base.arrays import FloatArray
from terrain.pit.foundation import (
    counter_clockwise,
    dimensions,
    fit_to_stakes,
    outline_problems,
    signed_area,
    traverse,
)

RECTANGLE = np.array([[0.0, 0.0], [40.0, 0.0], [40.0, 30.0], [0.0, 30.0]])
L_PLAN = np.array([[0.0, 0.0], [40.0, 0.0], [40.0, 20.0], [25.0, 20.0], [25.0, 35.0], [0.0, 35.0]])
NAMES = ("front", "right", "back", "left")
SQUARE_TURNS = np.full(4, 90.0)


def turned(corners: FloatArray, degrees: float) -> FloatArray:
    c, s = cos(radians(degrees)), sin(radians(degrees))
    return corners @ np.array([[c, s], [-s, c]])


def test_a_bearing_of_90_runs_east_and_turns_of_90_go_counter_clockwise() -> None:
    closed = traverse(np.zeros(2), 90.0, np.array([40.0, 30.0, 40.0, 30.0]), SQUARE_TURNS)
    assert_allclose(closed.corners, RECTANGLE, atol=1e-13)
    assert_allclose(closed.misclosure, 0.0, atol=1e-13)


def test_a_bearing_of_0_runs_north_and_negative_turns_go_clockwise() -> None:
    closed = traverse(np.array([5.0, 7.0]), 0.0, np.array([30.0, 40.0, 30.0, 40.0]), -SQUARE_TURNS)
    wanted = np.array([[5.0, 7.0], [5.0, 37.0], [45.0, 37.0], [45.0, 7.0]])
    assert_allclose(closed.corners, wanted, atol=1e-13)


def test_the_last_turn_moves_no_corner() -> None:
    lengths = np.array([40.0, 20.0, 15.0, 15.0, 25.0, 35.0])
    turns = np.array([90.0, 90.0, -90.0, 90.0, 90.0, 90.0])
    with_last = traverse(np.zeros(2), 90.0, lengths, turns)
    without = traverse(np.zeros(2), 90.0, lengths, turns[:-1])
    assert_allclose(with_last.corners, L_PLAN, atol=1e-13)
    assert_allclose(without.corners, with_last.corners, atol=0.0)


def test_a_misclosure_is_where_the_last_wall_ends_and_is_spread_by_length_run() -> None:
    # The back wall is 0.20 long: ends 0.20 west of the first corner. By the compass rule each
    # corner moves east by 0.20 x (length run so far) / (perimeter 140.2). Worked by hand.
    closed = traverse(np.zeros(2), 90.0, np.array([40.0, 30.0, 40.2, 30.0]), SQUARE_TURNS)
    assert_allclose(closed.misclosure, [-0.2, 0.0], atol=1e-13)
    moved = closed.corners - np.array([[0, 0], [40, 0], [40, 30], [-0.2, 30]])
    run = np.array([0.0, 40.0, 70.0, 110.2])
    assert_allclose(moved[:, 0], 0.2 * run / 140.2, atol=1e-13)
    assert_allclose(moved[:, 1], 0.0, atol=1e-13)


@given(st.floats(-360, 360), st.floats(-1000, 1000), st.floats(-1000, 1000))
def test_turning_or_moving_a_traverse_turns_and_moves_its_corners(
    bearing: float, east: float, north: float
) -> None:
    lengths = np.array([40.0, 30.0, 40.1, 30.2])
    plain = traverse(np.zeros(2), 0.0, lengths, SQUARE_TURNS)
    other = traverse(np.array([east, north]), bearing, lengths, SQUARE_TURNS)
    assert_allclose(
        other.corners, turned(plain.corners, -bearing) + np.array([east, north]), atol=1e-9
    )


@given(
    st.lists(st.tuples(st.floats(-0.2, 0.2), st.floats(-0.2, 0.2)), min_size=6, max_size=6),
    st.floats(-180, 180),
)
def test_a_fit_to_stakes_is_the_least_squares_turn_and_shift(
    off: list[tuple[float, float]], degrees: float
) -> None:
    # Reference: scipy's orthogonal Procrustes, on centred points; for small misses its best
    # orthogonal matrix is a turn.
    stakes = turned(L_PLAN, degrees) + np.array([2_000.0, 700.0]) + np.array(off)
    fit = fit_to_stakes(L_PLAN, stakes)
    own, seen = L_PLAN - L_PLAN.mean(axis=0), stakes - stakes.mean(axis=0)
    rotation, _ = orthogonal_procrustes(own, seen)
    assert_allclose(fit.corners, own @ rotation + stakes.mean(axis=0), atol=1e-9)
    assert_allclose(fit.residuals, stakes - fit.corners, atol=1e-12)


def test_a_fit_keeps_the_figures_size_so_stakes_set_too_wide_show_as_residuals() -> None:
    stakes = RECTANGLE * 1.01
    fit = fit_to_stakes(RECTANGLE, stakes)
    assert_allclose(dimensions(fit.corners).lengths, [40.0, 30.0, 40.0, 30.0], rtol=1e-13)
    # each corner is half the diagonal of 50 from the middle: 25 x 0.01
    assert_allclose(fit.misses, 0.25, rtol=1e-9)


def test_a_fit_never_mirrors() -> None:
    mirrored = L_PLAN * np.array([-1.0, 1.0])
    fit = fit_to_stakes(L_PLAN, mirrored)
    assert signed_area(fit.corners) > 0.0
    assert fit.misses.max() > 1.0


def test_an_outline_drawn_clockwise_keeps_each_number_on_its_own_face() -> None:
    clockwise = L_PLAN[::-1]
    ring, number = counter_clockwise(clockwise)
    assert signed_area(ring) == pytest.approx(Polygon(L_PLAN).area, rel=1e-15)
    assert sorted(number) == list(range(6))
    for i, own in enumerate(number):
        face = {tuple(ring[i]), tuple(ring[(i + 1) % 6])}
        assert face == {tuple(clockwise[own]), tuple(clockwise[(own + 1) % 6])}


def test_an_outline_drawn_counter_clockwise_is_left_as_it_is() -> None:
    ring, number = counter_clockwise(RECTANGLE)
    assert ring is RECTANGLE
    assert number == (0, 1, 2, 3)


def names(count: int) -> tuple[str, ...]:
    return tuple(f"wall {i + 1}" for i in range(count))


@pytest.mark.parametrize("ring", [RECTANGLE, L_PLAN, L_PLAN[::-1], RECTANGLE + 2e6])
def test_a_sound_outline_has_no_problem(ring: FloatArray) -> None:
    assert outline_problems(ring, names(len(ring))) == []


@pytest.mark.parametrize(
    ("ring", "words"),
    [
        ([[0, 0], [0, 0], [4, 0], [4, 3]], 'corners 1 and 2 .* "wall 1" has no length'),
        ([[0, 0], [4, 0], [4, 3], [0, 0]], "corners 1 and 4 .* closes by itself"),
        ([[0, 0], [4, 0], [2, 2], [4, 4], [0, 4], [2, 2]], "corners 3 and 6 .* once"),
        ([[0, 0], [4, 3], [4, 0], [0, 3]], '"wall 1" and "wall 3" cross'),
        ([[0, 0], [4, 0], [4, 3], [2, 0], [0, 3]], '"wall 1" and "wall 3" cross or touch'),
        ([[0, 0], [4, 0], [2, 0], [2, 2]], '"wall 1" and "wall 2" fold back .* corner 2'),
        ([[0, 0], [1, 1], [2, 2]], "^the corners lie on one line"),
    ],
)
def test_an_outline_that_cannot_be_names_its_walls(ring: list[list[float]], words: str) -> None:
    problems = outline_problems(np.array(ring, dtype=float), names(len(ring)))
    assert problems
    assert any(re.search(words, p) for p in problems), problems


def test_where_walls_cross_is_told_in_the_jobs_coordinates() -> None:
    ring = np.array([[0.0, 0.0], [4.0, 3.0], [4.0, 0.0], [0.0, 3.0]]) + np.array([6e5, 8e5])
    [said] = outline_problems(ring, names(4))
    assert "(600002.000, 800001.500)" in said


def test_a_3_4_5_rectangle_has_its_diagonals_and_square_corners() -> None:
    own = dimensions(RECTANGLE)
    assert_allclose(own.lengths, [40.0, 30.0, 40.0, 30.0])
    assert own.diagonals == ((0, 2, 50.0), (1, 3, 50.0))
    assert_allclose(own.angles, 90.0)
    assert_allclose(own.out_of_square, 0.0, atol=1e-12)
    assert (own.area, own.perimeter) == (1200.0, 140.0)


def test_out_of_square_is_the_angle_over_a_right_one_inside_or_outside() -> None:
    skew = L_PLAN + np.column_stack([np.tan(radians(2.0)) * L_PLAN[:, 1], np.zeros(6)])
    own = dimensions(skew)
    assert_allclose(own.out_of_square, [-2, 2, -2, 2, -2, 2], atol=1e-9)
    assert_allclose(own.angles, [88, 92, 88, 272, 88, 92], atol=1e-9)
    assert_allclose(dimensions(skew[::-1]).out_of_square, own.out_of_square[::-1], atol=1e-9)


def test_a_corner_not_meant_square_has_no_out_of_square() -> None:
    clipped = np.array([[0.0, 0.0], [40.0, 0.0], [40.0, 26.0], [36.0, 30.0], [0.0, 30.0]])
    own = dimensions(clipped)
    assert np.isnan(own.out_of_square[[2, 3]]).all()
    assert_allclose(own.angles[[2, 3]], 135.0)
    assert [d[:2] for d in own.diagonals] == [(0, 2), (0, 3), (1, 3), (1, 4)]
