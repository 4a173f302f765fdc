"""The moving outline: laws, known events, and a count of cover by random points."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon

from terrain.surface.outline import Ring, outline_area, ring_area, ring_through
from terrain.surface.sweep import Swept, advance

RECTANGLE = np.array([[0.0, 0.0], [48.0, 0.0], [48.0, 36.0], [0.0, 36.0]])
U_SHAPE = np.array(
    [[0, 0], [30, 0], [30, 20], [20, 20], [20, 8], [14, 8], [14, 20], [0, 20]], dtype=float
)


def swept_from(corners, runs, rise=10.0):
    swept = Swept()
    rings = advance([ring_through(corners, range(len(corners)))], runs, 0.0, rise, swept)
    return rings, swept


def area_by_owner(swept: Swept) -> dict[int, float]:
    areas: dict[int, float] = {}
    for polygon, owner in zip(swept.polygons, swept.owners, strict=True):
        areas[owner] = areas.get(owner, 0.0) + ring_area(polygon)
    return areas


def test_each_wall_of_a_rectangle_sweeps_its_trapezoid():
    rings, swept = swept_from(RECTANGLE, [10.0, 5.0, 0.0, 20.0])
    assert np.allclose(rings[0].corners, [[-20, -10], [53, -10], [53, 36], [-20, 36]], atol=1e-12)
    areas = area_by_owner(swept)
    assert areas == pytest.approx({0: (48 + 73) / 2 * 10, 1: (36 + 46) / 2 * 5, 3: 20 * 41})
    assert 2 not in areas, "a vertical side sweeps no ground"


def test_a_swept_plane_rises_by_run_per_rise_from_its_front():
    _, swept = swept_from(RECTANGLE, [10.0, 10.0, 10.0, 10.0], rise=4.0)
    surface = swept.surface()
    away = np.array([[0.0, -1.0], [1.0, 0.0], [0.0, 1.0], [-1.0, 0.0]])
    for face, owner in enumerate(surface.label):
        corners = surface.corners(face)
        out = (corners - RECTANGLE[owner]) @ away[owner]
        assert np.allclose(surface.upward_at(face, corners), out * 0.4, atol=1e-12)


def test_the_skeleton_of_a_rectangle_has_two_triangles_and_two_trapezoids():
    swept = Swept()
    left = advance([ring_through(RECTANGLE[::-1], [2, 1, 0, 3])], [48.0] * 4, 0.0, 0.0, swept)
    assert left == []
    assert area_by_owner(swept) == pytest.approx({0: 540.0, 1: 324.0, 2: 540.0, 3: 324.0})


def test_opposite_sides_of_a_notch_meet_and_merge():
    rings, swept = swept_from(U_SHAPE, [10.0] * 8)
    assert [f.owner for f in rings[0].fronts] == [0, 1, 2, 6, 7]
    assert outline_area(rings) == pytest.approx(50 * 40, rel=1e-14)
    assert area_by_owner(swept)[4] == pytest.approx(9.0), "the end of the notch sweeps a triangle"


def test_a_clipped_corner_drops_out_and_its_neighbours_meet_on_their_own_seam():
    corners = np.array([[0.0, 0.0], [40, 0], [44, 4], [44, 30], [0, 30]])
    rings, swept = swept_from(corners, [2.5, 15.0, 2.5, 2.5, 2.5])
    assert np.allclose(
        rings[0].corners, [[-2.5, -2.5], [46.5, -2.5], [46.5, 32.5], [-2.5, 32.5]], atol=1e-12
    )
    # an end of a front draws back by (own run x cos 45 - neighbour's run) / sin 45 a unit of time
    gone = 4 * math.sqrt(2) / (2 * (15 - 2.5 * math.sqrt(2)))
    assert gone < 1
    assert area_by_owner(swept)[1] == pytest.approx(4 * math.sqrt(2) * 15 * gone / 2)


def test_collinear_walls_with_unlike_runs_part_at_a_square_step():
    corners = np.array([[0.0, 0.0], [20, 0], [40, 0], [40, 30], [0, 30]])
    rings, swept = swept_from(corners, [2.0, 8.0, 0.0, 0.0, 0.0])
    assert np.allclose(
        rings[0].corners, [[0, -2], [20, -2], [20, -8], [40, -8], [40, 30], [0, 30]], atol=1e-12
    )
    assert area_by_owner(swept) == pytest.approx({0: 40.0, 1: 160.0})
    rings = advance(rings, [10.0, 1.0, 0.0, 0.0, 0.0], 10.0, 5.0, Swept())
    assert np.allclose(rings[0].corners[1:3], [[20, -12], [20, -9]]), "the step turns round"


def test_fronts_that_close_a_mouth_leave_an_island_that_then_vanishes():
    corners = np.array(
        [[0, 0], [30, 0], [30, 20], [17, 20], [17, 18], [22, 18], [22, 8], [8, 8], [8, 18],
         [13, 18], [13, 20], [0, 20]], dtype=float,
    )  # fmt: skip
    rings, swept = swept_from(corners, [3.0] * 12)
    assert sorted(np.sign([ring_area(r.corners) for r in rings])) == [-1.0, 1.0]
    assert outline_area(rings) == pytest.approx(36 * 26 - (14 - 6) * (10 - 6))
    left = advance(rings, [5.0] * 12, 0.0, 1.0, swept)
    assert len(left) == 1
    assert outline_area(left) == pytest.approx(46 * 36)


def test_treads_at_one_height_move_together_and_stay_level():
    rings, swept = swept_from(RECTANGLE, [4.0, 0.0, 2.0, 0.0], rise=0.0)
    assert outline_area(rings) == pytest.approx(48 * 42)
    assert all(plane[2:] == (0.0, 0.0, 0.0) for plane in swept.planes)


@st.composite
def outlines(draw: st.DrawFn) -> np.ndarray:
    """Simple outlines, counter-clockwise: star-shaped ones and unions of whole-number boxes."""
    if draw(st.booleans()):
        n = draw(st.integers(3, 12))
        jitter = draw(st.lists(st.floats(0.1, 0.9), min_size=n, max_size=n))
        radius = draw(st.lists(st.floats(3.0, 20.0), min_size=n, max_size=n))
        angle = (np.arange(n) + np.array(jitter)) * 2 * math.pi / n
        corners = np.stack([radius * np.cos(angle), radius * np.sin(angle)], axis=1)
        return corners if ring_area(corners) > 0 else corners[::-1]
    boxes = draw(
        st.lists(
            st.tuples(st.integers(0, 12), st.integers(0, 12), st.integers(1, 9), st.integers(1, 9)),
            min_size=1,
            max_size=5,
        )
    )
    shape = shapely.union_all([shapely.box(e, n, e + w, n + h) for e, n, w, h in boxes])
    part = max(shapely.get_parts(shape), key=lambda p: p.area)
    corners = np.array(shapely.simplify(Polygon(part.exterior), 0.0).exterior.coords)[:-1]
    return corners if ring_area(corners) > 0 else corners[::-1]


def count_inside(polygons: list[np.ndarray], points: np.ndarray) -> np.ndarray:
    """How many convex counter-clockwise polygons hold each point."""
    count = np.zeros(len(points), dtype=int)
    for polygon in polygons:
        edge = np.roll(polygon, -1, axis=0) - polygon
        away = points[:, None, :] - polygon[None]
        count += np.all(edge[:, 0] * away[..., 1] - edge[:, 1] * away[..., 0] > 0, axis=1)
    return count


def winding(rings: list[Ring], points: np.ndarray) -> np.ndarray:
    total = np.zeros(len(points))
    for ring in rings:
        inside = shapely.contains_xy(Polygon(ring.corners), points[:, 0], points[:, 1])
        total += np.sign(ring_area(ring.corners)) * inside
    return total


@settings(max_examples=150, deadline=None)
@given(outlines(), st.data())
def test_every_spot_between_first_and_last_outline_is_swept_once(corners, data):
    n = len(corners)
    runs = data.draw(
        st.lists(st.one_of(st.integers(0, 6).map(float), st.floats(0, 9)), min_size=n, max_size=n)
    )
    rings, swept = swept_from(corners, runs)
    low = min(r.corners.min() for r in rings)
    high = max(r.corners.max() for r in rings)
    points = np.random.default_rng(n).uniform(low, high, (200, 2))
    inside = shapely.contains_xy(Polygon(corners), points[:, 0], points[:, 1]).astype(int)
    assert np.array_equal(inside + count_inside(swept.polygons, points), winding(rings, points))


@settings(max_examples=60, deadline=None)
@given(outlines())
def test_the_skeleton_covers_the_inside_once(corners):
    n = len(corners)
    swept = Swept()
    owners = [(n - 2 - i) % n for i in range(n)]
    assert advance([ring_through(corners[::-1], owners)], [40.0] * n, 0.0, 0.0, swept) == []
    points = np.random.default_rng(n).uniform(corners.min(axis=0), corners.max(axis=0), (200, 2))
    inside = shapely.contains_xy(Polygon(corners), points[:, 0], points[:, 1]).astype(int)
    assert np.array_equal(count_inside(swept.polygons, points), inside)


def test_uniform_runs_agree_with_a_mitred_buffer():
    rings, _ = swept_from(U_SHAPE, [2.5] * 8)
    buffered = Polygon(U_SHAPE).buffer(2.5, join_style="mitre", mitre_limit=100)
    assert outline_area(rings) == pytest.approx(buffered.area, rel=1e-12)


def test_turning_and_moving_the_outline_turns_and_moves_what_it_sweeps():
    turn = math.radians(37.0)
    rotation = np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]])
    runs = [1.0, 2.0, 3.0, 2.0, 1.0, 3.0, 0.5, 2.0]
    plain, swept = swept_from(U_SHAPE, runs)
    turned, other = swept_from(U_SHAPE @ rotation + [300.0, -70.0], runs)
    assert outline_area(turned) == pytest.approx(outline_area(plain), rel=1e-13)
    assert area_by_owner(other) == pytest.approx(area_by_owner(swept), rel=1e-11)


@pytest.mark.parametrize(("corners", "decimals"), [(30, 3), (44, 3), (44, 6), (60, 4)])
def test_a_star_whose_fronts_crowd_in_its_middle_is_followed_to_the_end(corners, decimals):
    """Once it came to no rest: corners of many fronts were just too far apart to be one."""
    angle = np.arange(corners) * 2 * math.pi / corners
    radius = np.where(np.arange(corners) % 2, 40.0, 60.0)
    star = np.round(np.stack([radius * np.cos(angle), radius * np.sin(angle)], 1), decimals)
    swept = Swept()
    owners = [(corners - 2 - i) % corners for i in range(corners)]
    assert advance([ring_through(star[::-1], owners)], [120.0] * corners, 0.0, 0.0, swept) == []
    assert swept.area() == pytest.approx(ring_area(star), rel=1e-9)
