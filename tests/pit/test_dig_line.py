"""The dig line: walls shifted out by their own overdig, whatever becomes of their neighbours."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import Polygon

from terrain.pit.dig_line import dig_line
from terrain.pit.floor import overdig_faces
from terrain.surface.outline import STEP, ring_area
from terrain.surface.shares import core_faces

RECTANGLE = np.array([[0.0, 0.0], [48.0, 0.0], [48.0, 36.0], [0.0, 36.0]])


def corners_of(corners, overdigs):
    return dig_line(np.asarray(corners, dtype=float), overdigs, "dig").ring.corners


@pytest.mark.parametrize("overdig", [1.5, 2.0])  # common practice, no source
def test_every_wall_of_a_house_gets_its_overdig_square_to_it(overdig):
    turn = np.array([[0.8, 0.6], [-0.6, 0.8]])
    house = np.array([[0, 0], [40, 0], [40, 24], [52, 24], [52, 40], [0, 40]]) @ turn
    line = dig_line(house, [overdig] * 6, "dig")
    ends = np.roll(house, -1, axis=0)
    for wall, front in enumerate(line.ring.fronts):
        along = (ends[wall] - house[wall]) / np.hypot(*(ends[wall] - house[wall]))
        out = np.array([along[1], -along[0]])
        off = (line.ring.corners[[wall, (wall + 1) % 6]] - house[wall]) @ out
        assert front.owner == wall
        assert off == pytest.approx([overdig, overdig], abs=1e-12)


def test_unlike_overdigs_meet_at_the_crossing_of_their_own_lines():
    assert corners_of(RECTANGLE, [1, 2, 3, 0.5]) == pytest.approx(
        np.array([[-0.5, -1], [50, -1], [50, 39], [-0.5, 39]])
    )


def test_collinear_walls_with_unlike_overdig_part_at_a_square_step():
    split = [[0, 0], [20, 0], [48, 0], [48, 36], [0, 36]]
    assert corners_of(split, [1, 4, 2, 2, 2]) == pytest.approx(
        np.array([[-2, -1], [20, -1], [20, -4], [50, -4], [50, 38], [-2, 38]])
    )


def test_collinear_walls_with_one_overdig_stay_in_line():
    split = [[0, 0], [20, 0], [48, 0], [48, 36], [0, 36]]
    assert corners_of(split, [2] * 5) == pytest.approx(
        np.array([[-2, -2], [20, -2], [50, -2], [50, 38], [-2, 38]])
    )


def test_a_clip_that_shrinks_to_nought_leaves_and_its_neighbours_meet():
    clipped = np.array([[0.0, 0.0], [40, 0], [44, 4], [44, 30], [0, 30]])
    line = dig_line(clipped, [1.0, 6.0, 1.0, 1.0, 1.0], "dig")
    assert line.vanished == (1,)
    assert line.ring.corners == pytest.approx(np.array([[-1, -1], [45, -1], [45, 31], [-1, 31]]))


def test_a_jog_turned_over_by_unlike_overdigs_leaves_a_square_step_on_its_line():
    jog = np.array([[0.0, 0.0], [10, 0], [10, 2], [20, 2], [20, 20], [0, 20]])
    line = dig_line(jog, [1.0, 0.5, 5.0, 1.0, 1.0, 1.0], "dig")
    assert line.vanished == (1,)
    assert [f.owner for f in line.ring.fronts] == [0, STEP, 2, 3, 4, 5]
    assert line.ring.corners == pytest.approx(
        np.array([[-1, -1], [10.5, -1], [10.5, -3], [21, -3], [21, 21], [-1, 21]])
    )


def test_a_notch_narrower_than_its_overdigs_is_dug_through():
    notched = np.array(
        [[0, 0], [30, 0], [30, 20], [16, 20], [16, 8], [14, 8], [14, 20], [0, 20]], dtype=float
    )
    line = dig_line(notched, [2.0] * 8, "dig")
    assert line.merged
    assert Polygon(line.ring.corners).equals(Polygon([[-2, -2], [32, -2], [32, 22], [-2, 22]]))


def test_an_island_inside_the_merged_line_is_dug_too():
    ring = np.array(
        [[0, 0], [30, 0], [30, 20], [16, 20], [16, 18], [22, 18], [22, 8], [8, 8], [8, 18],
         [14, 18], [14, 20], [0, 20]], dtype=float,
    )  # fmt: skip
    overdigs = [1.5] * 12
    line = dig_line(ring, overdigs, "dig")
    assert line.merged
    assert ring_area(line.ring.corners) == pytest.approx(33 * 23)
    faces = overdig_faces(ring, overdigs, line)
    assert area(faces) == pytest.approx(33 * 23 - ring_area(ring)), "nothing left standing"


def area(faces) -> float:
    return sum(ring_area(faces.corners(i)) for i in range(len(faces)))


def test_core_and_overdig_of_a_rectangle_are_the_trapezoids_of_a_drawing():
    overdigs = [2.0, 2.0, 3.0, 1.0]
    line = dig_line(RECTANGLE, overdigs, "dig")
    core, overdig = core_faces(RECTANGLE), overdig_faces(RECTANGLE, overdigs, line)
    by_wall = np.zeros((2, 4))
    for part, faces in enumerate((core, overdig)):
        for i in range(len(faces)):
            by_wall[part, faces.label[i]] += ring_area(faces.corners(i))
    assert by_wall[0] == pytest.approx([540, 324, 540, 324])
    assert by_wall[1] == pytest.approx(
        [(48 + 51) / 2 * 2, (36 + 41) / 2 * 2, (48 + 51) / 2 * 3, (36 + 41) / 2 * 1]
    )


def test_a_wall_without_overdig_owns_none():
    line = dig_line(RECTANGLE, [2.0, 0.0, 2.0, 0.0], "dig")
    faces = overdig_faces(RECTANGLE, [2.0, 0.0, 2.0, 0.0], line)
    assert set(faces.label) == {0, 2}


@given(st.lists(st.floats(0.0, 6.0), min_size=8, max_size=8))
def test_floor_shares_cover_the_floor_of_a_notched_outline_once(overdigs):
    notched = np.array(
        [[0, 0], [30, 0], [30, 20], [19, 20], [19, 8], [14, 8], [14, 20], [0, 20]], dtype=float
    )
    line = dig_line(notched, overdigs, "dig")
    faces = overdig_faces(notched, overdigs, line)
    assert area(faces) + ring_area(notched) == pytest.approx(ring_area(line.ring.corners), rel=1e-8)
    assert area(core_faces(notched)) == pytest.approx(ring_area(notched), rel=1e-12)
