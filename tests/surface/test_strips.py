"""Trenches and ramps as outlines: square at their ends, mitred at their bends."""

import itertools

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from shapely import LineString, Polygon, union_all

from terrain.base.arrays import FloatArray
from terrain.surface.strips import (
    climb_planes,
    straightened,
    strip_outline,
    strip_pieces,
    strip_problems,
)


def buffered(line: FloatArray, width: float) -> Polygon:
    """The same strip by GEOS: flat caps, mitred joins."""
    return LineString(line).buffer(width / 2, cap_style="flat", join_style="mitre", mitre_limit=50)


def signed_area(ring: FloatArray) -> float:
    east, north = ring.T
    return float(np.sum(east * np.roll(north, -1) - np.roll(east, -1) * north) / 2)


bends = st.lists(st.tuples(st.floats(5, 30), st.floats(-100, 100)), min_size=1, max_size=4)


def line_of(legs: list[tuple[float, float]]) -> FloatArray:
    heading = np.radians(np.cumsum([turn for _, turn in legs]))
    steps = np.array([length for length, _ in legs])[:, None] * np.column_stack(
        [np.cos(heading), np.sin(heading)]
    )
    return np.concatenate([[[0.0, 0.0]], np.cumsum(steps, axis=0)])


@given(bends, st.floats(0.5, 4.0))
def test_a_strip_is_the_line_widened_with_flat_ends_and_mitres(
    legs: list[tuple[float, float]], width: float
) -> None:
    line = line_of(legs)
    assume(not strip_problems(line, width))
    ring = strip_outline(line, width)
    assert signed_area(ring) > 0.0
    assert Polygon(ring).symmetric_difference(buffered(line, width)).area < 1e-5
    length = np.hypot(*np.diff(line, axis=0).T).sum()
    assert signed_area(ring) == pytest.approx(width * length, rel=1e-9)


@given(bends, st.floats(0.5, 4.0))
def test_the_pieces_of_a_strip_share_their_mitres_and_make_the_whole(
    legs: list[tuple[float, float]], width: float
) -> None:
    line = line_of(legs)
    assume(not strip_problems(line, width))
    pieces = strip_pieces(line, width)
    assert all(signed_area(p) > 0.0 for p in pieces)
    for one, other in itertools.pairwise(pieces):
        assert_allclose(one[1:3], other[[0, 3]], atol=0.0)
    whole = Polygon(strip_outline(line, width))
    assert sum(map(signed_area, pieces)) == pytest.approx(whole.area, rel=1e-9)
    assert union_all([Polygon(p) for p in pieces]).symmetric_difference(whole).area < 1e-6


def test_a_ramp_climbs_along_its_line_through_a_bend() -> None:
    line = np.array([[0.0, 0.0], [20.0, 0.0], [20.0, 12.0]])
    planes = climb_planes(line, 92.5, 4.0)
    assert_allclose(planes[0], [0, 0, 92.5, 0.25, 0])
    assert_allclose(planes[1], [20, 0, 97.5, 0, 0.25], atol=1e-15)


@pytest.mark.parametrize(
    ("line", "width", "words"),
    [
        ([[0, 0], [0, 0]], 1.0, "points 1 and 2"),
        ([[0, 0], [5, 0], [5, 0], [9, 0]], 1.0, "points 2 and 3"),
        ([[0, 0], [10, 0], [1, 1]], 1.0, "doubles back at its point 2"),
        ([[0, 0], [10, 0], [10, 1], [20, 1]], 4.0, None),
        ([[0, 0], [10, 0], [10, 2], [0, 2]], 4.0, "segment 2 is 2 long"),
        ([[0, 0], [1, 0], [1, 20]], 4.0, "segment 1 is 1 long"),
        ([[0, 0], [30, 0], [30, 20], [15, 20], [15, -9]], 2.0, "runs into itself"),
        ([[0, 0], [30, 0], [30, 20], [0, 20], [0, 0]], 2.0, "runs into itself"),
    ],
)
def test_a_strip_that_folds_over_itself_is_refused(
    line: list[list[float]], width: float, words: str | None
) -> None:
    problems = strip_problems(np.array(line, dtype=float), width)
    if words is None:
        assert problems == []
    else:
        assert words in problems[0]


def test_a_point_that_the_line_passes_straight_through_is_left_out() -> None:
    line = np.array([[0.0, 0.0], [5.0, 0.0], [10.0, 0.0], [10.0, 5.0]])
    assert_allclose(straightened(line), line[[0, 2, 3]])
