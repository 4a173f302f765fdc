"""Profiles along a line and the cut between two of them: heights by hand, runs split exactly."""

import numpy as np
import pytest

from terrain.surface.cut import cut_along
from terrain.surface.patches import from_polygons
from terrain.surface.profile import lower_of, profile_along, profiles_along


def boxes(*faces):
    """Faces as (west, east, upward, per_easting, label), each 10 wide in northing from -5 to 5."""
    rings = [np.array([(w, -5.0), (e, -5.0), (e, 5.0), (w, 5.0)]) for w, e, *_ in faces]
    plane = [(w, 0.0, up, per_easting, 0.0) for w, _, up, per_easting, _ in faces]
    return from_polygons(rings, np.array(plane), np.array([f[4] for f in faces]))


ALONG = np.array([[-1.0, 0.0], [12.0, 0.0]])


def test_heights_and_stations_are_those_of_the_faces_crossed():
    profile = profile_along(boxes((0, 4, 10.0, 0.5, 7), (4, 8, 3.0, 0.0, 8)), ALONG, -1.0)
    assert profile.low == pytest.approx([0, 4])
    assert profile.high == pytest.approx([4, 8])
    assert profile.upward_low == pytest.approx([10, 3])
    assert profile.upward_high == pytest.approx([12, 3])
    assert profile.label.tolist() == [7, 8]


def test_at_a_jump_the_lower_height_holds_and_off_the_surface_there_is_none():
    profile = profile_along(boxes((0, 4, 10.0, 0.5, 7), (4, 8, 3.0, 0.0, 8)), ALONG, -1.0)
    assert profile.at(4.0) == pytest.approx(3.0)
    assert profile.at(2.0) == pytest.approx(11.0)
    assert profile.at(-0.5) is None
    assert profile.at(9.0) is None


def test_along_the_common_edge_of_two_faces_the_lower_one_holds():
    rings = [
        np.array([(0, 0), (8, 0), (8, 5), (0, 5.0)]),
        np.array([(0, -5), (8, -5), (8, 0), (0, 0.0)]),
    ]
    surface = from_polygons(
        rings, np.array([[0, 0, 9.0, 0, 0], [0, 0, 2.0, 0, 0]]), np.array([1, 2])
    )
    profile = profile_along(surface, ALONG, 0.0)
    assert len(profile) == 1
    assert profile.upward_low == pytest.approx([2.0])


def test_lines_break_at_gaps_and_run_upright_at_jumps():
    surface = boxes((0, 2, 5.0, 0.0, 1), (2, 4, 3.0, 0.0, 1), (6, 8, 3.0, 0.0, 1))
    first, second = profile_along(surface, ALONG, -1.0).lines()
    assert first == pytest.approx(np.array([(0, 5), (2, 5), (2, 3), (4, 3)]))
    assert second == pytest.approx(np.array([(6, 3), (8, 3)]))


def test_many_lines_at_once_are_as_one_by_one():
    surface = boxes((0, 4, 10.0, 0.5, 7), (4, 8, 3.0, 0.0, 8))
    lines = np.stack([ALONG, ALONG[::-1], *(ALONG + np.array([0.0, by]) for by in (2.0, 50.0))])
    together = profiles_along(surface, lines, np.array([-1.0, 0.0, 5.0, 0.0]))
    assert [len(p) for p in together] == [2, 2, 2, 0]
    assert together[1].upward_low == pytest.approx([3, 12])
    assert together[2].low == pytest.approx([6, 10])


def test_a_cut_is_split_where_ground_and_dig_cross():
    ground = profile_along(boxes((0, 10, 4.0, 0.0, 0)), ALONG, -1.0)
    dig = profile_along(boxes((0, 4, 1.0, 0.0, 5), (4, 10, 1.0, 1.0, 6)), ALONG, -1.0)
    (run,) = cut_along(ground, dig).runs
    assert (run.low, run.high) == pytest.approx((0, 7))
    assert run.top_at_high == 4.0
    assert run.bottom_line() == pytest.approx(np.array([(0, 4), (0, 1), (4, 1), (7, 4)]))
    rings = dict(run.rings())
    assert rings[5] == pytest.approx(np.array([(0, 4), (4, 4), (4, 1), (0, 1)]))
    assert rings[6] == pytest.approx(np.array([(4, 4), (7, 4), (4, 1)]))


def test_two_cuts_that_meet_on_the_ground_are_two():
    ground = profile_along(boxes((0, 10, 4.0, 0.0, 0)), ALONG, -1.0)
    dig = profile_along(boxes((0, 5, 0.0, 0.8, 1), (5, 10, 4.0, -0.8, 1)), ALONG, -1.0)
    first, second = cut_along(ground, dig).runs
    assert (first.low, first.high, second.low, second.high) == pytest.approx((0, 5, 5, 10))


def test_the_lower_of_two_profiles_is_the_least_height_wherever_the_first_is():
    one = profile_along(boxes((0, 10, 4.0, 0.0, 1)), ALONG, -1.0)
    two = profile_along(boxes((2, 8, 2.0, 0.5, 2)), ALONG, -1.0)
    lower = lower_of(one, two)
    for station in np.linspace(0.05, 9.95, 57):
        heights = [h for h in (one.at(station), two.at(station)) if h is not None]
        assert lower.at(station) == pytest.approx(min(heights))
    assert float((lower.high - lower.low).sum()) == pytest.approx(10.0)
    assert set(lower.label[lower.low > 6.01].tolist()) == {1}


def test_nothing_is_cut_where_one_profile_is_empty():
    one = profile_along(boxes((0, 10, 4.0, 0.0, 1)), ALONG, -1.0)
    none = profile_along(boxes((20, 30, 1.0, 0.0, 1)), ALONG, -1.0)
    assert cut_along(one, none).runs == ()
    assert cut_along(none, one).runs == ()
    assert lower_of(one, none).at(5.0) == 4.0
    assert len(lower_of(none, one)) == 0
