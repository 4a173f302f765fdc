"""The TIN of the shots: laws, scipy's Delaunay beside it, and input that makes no surface."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial import Delaunay

from terrain.base.errors import SurfaceError
from terrain.base.frame import LocalFrame
from terrain.surface.hilbert import hilbert_keys, hilbert_order
from terrain.surface.tin import Line, LineKind, PlanLine, TinOptions, build_tin, tin_surface
from tests.surface.made_ground import (
    on_plane,
    plan_area,
    plane_at,
    scattered,
    sound_tin,
    triangle_set,
    turned,
    volume_above,
)


@pytest.mark.parametrize("seed", range(5))
def test_triangles_are_those_of_scipys_delaunay(seed):
    shots = scattered(seed, count=400)
    expected = {tuple(sorted(t)) for t in Delaunay(shots[:, :2]).simplices.tolist()}
    assert triangle_set(sound_tin(shots)) == expected


def test_order_turn_and_shift_of_the_shots_change_no_triangle():
    shots = scattered(7)
    expected = triangle_set(sound_tin(shots))
    assert triangle_set(sound_tin(turned(shots, 37.0))) == expected
    assert triangle_set(sound_tin(shots + np.array([5000.0, -3000.0, 10.0]))) == expected
    order = np.random.default_rng(3).permutation(len(shots))
    again = {tuple(sorted(order[list(t)])) for t in triangle_set(sound_tin(shots[order]))}
    assert again == expected


def test_three_shots_make_one_triangle():
    tin = sound_tin(np.array([[0.0, 0, 1], [0, 4, 2], [3, 0, 3]]))
    assert len(tin) == 1
    assert plan_area(tin) == 6.0
    assert (tin.neighbours == -1).all()


def test_a_plane_comes_back_as_one_plane():
    shots = on_plane(scattered(1)[:, :2])
    plane = tin_surface(sound_tin(shots)).plane
    np.testing.assert_allclose(plane[:, 3:], [[0.3, -0.2]] * len(plane), atol=1e-9)


def test_each_face_of_the_surface_passes_through_its_three_corners():
    tin = sound_tin(scattered(2))
    surface = tin_surface(tin)
    np.testing.assert_array_equal(surface.label, np.arange(len(tin)))
    for face in range(len(tin)):
        corners = tin.points[tin.triangles[face]]
        np.testing.assert_array_equal(surface.corners(face), corners[:, :2])
        off = np.abs(surface.upward_at(face, corners[:, :2]) - corners[:, 2])
        assert off.min() == 0.0, "one corner is met exactly"
        assert off.max() < 1e-10


def test_a_grid_of_shots_is_covered_once():
    """Every four neighbours lie on a circle, every row on a line."""
    east, north = np.meshgrid(np.arange(12.0), np.arange(9.0))
    shots = on_plane(np.column_stack([east.ravel(), north.ravel()]))
    for degrees in (0.0, 37.0, 90.0):
        tin = sound_tin(turned(shots, degrees))
        assert len(tin) == 2 * 11 * 8
        assert abs(plan_area(tin) - 88.0) < 1e-9


def test_shots_in_a_row_on_the_rim_make_no_sliver():
    rim = np.array([[t, 0.0] for t in np.linspace(0, 100, 60)])
    inside = scattered(4, count=50)[:, :2]
    inside[:, 1] += 1.0
    shots = on_plane(np.concatenate([rim, inside]))
    for degrees in (0.0, 12.0, 37.0, 61.0):
        tin = sound_tin(turned(shots, degrees))
        gradient = tin_surface(tin).plane[:, 3:]
        assert np.hypot(*gradient.T).max() < 0.361, "a rounding sliver would be far steeper"


def test_a_truly_bulging_rim_keeps_its_thin_triangles():
    """Shots on a line rounded to thousandths: the hull is covered to its last bulge."""
    t = np.linspace(0, 1, 40)[:, None]
    rim = np.round(t * [80.0, 31.7], 3)
    shots = on_plane(np.concatenate([rim, [[10.0, 60.0], [50.0, 70.0]]]))
    assert len(sound_tin(shots)) > 40


def test_points_and_triangles_come_in_hilbert_order():
    tin = sound_tin(scattered(5, count=2000))
    assert (np.diff(hilbert_keys(tin.points[:, :2])) >= 0).all()
    assert (np.diff(tin.triangles.min(axis=1)) >= 0).all()


def test_steps_along_the_curve_are_short():
    """On a full grid of 2^k by 2^k squares each step of the curve is one square (Hilbert 1891)."""
    east, north = np.meshgrid(np.arange(32.0), np.arange(32.0))
    # corners pin the extent, so that each grid point falls into a square of its own
    plan = np.column_stack([east.ravel(), north.ravel()]) * (1 + 2**-10)
    steps = np.abs(np.diff(plan[hilbert_order(plan)], axis=0)).sum(axis=1) / (1 + 2**-10)
    np.testing.assert_allclose(steps, 1.0)


def test_volume_of_a_frustum_of_known_size():
    """Flat pad 10 x 10 at 5 in a square 30 x 30 at 0, ridges fixed: (A + a + sqrt(A a)) h / 3."""
    outer = [(0, 0, 0), (30, 0, 0), (30, 30, 0), (0, 30, 0)]
    inner = [(10, 10, 5), (20, 10, 5), (20, 20, 5), (10, 20, 5)]
    lines = [Line(name="pad", shots=np.array([4, 5, 6, 7, 4]))]
    lines += [Line(name=f"ridge {i}", shots=np.array([i, 4 + i])) for i in range(4)]
    tin = sound_tin(np.array(outer + inner, dtype=float), lines)
    assert float(volume_above(tin, 0.0)) == pytest.approx((900 + 100 + 300) * 5 / 3, rel=1e-14)


@pytest.mark.parametrize(
    ("shots", "said"),
    [
        (np.zeros((0, 3)), "at least 3 shots; there are 0"),
        (np.array([[0.0, 0, 0], [1, 1, 1]]), "at least 3 shots; there are 2"),
        (np.array([[5.0, 5, 1]] * 4), "in one place"),
        (np.array([[0.0, 0, 1], [1, 1, 1], [2, 2, 5], [9, 9, 0]]), "on one straight line"),
        (np.array([[0.0, 0, 1], [100, 1e-7, 1], [50, 0, 5]]), "on one straight line"),
        (np.array([[0.0, 0, 1], [1, np.nan, 1], [2, 0, 5]]), "no finite number"),
        (np.array([[0.0, 0, 1], [1, np.inf, 1], [2, 0, 5]]), "no finite number"),
        (np.array([[0.0, 0, 1], [9, 0, 2], [5, 5, 5], [9, 0, 4]]), "stand on one spot"),
    ],
)
def test_shots_that_make_no_surface_are_refused_with_what_to_do(shots, said):
    with pytest.raises(SurfaceError, match=said):
        build_tin(shots)


def test_two_shots_on_one_spot_are_named_on_the_site():
    shots = np.array([[0.0, 0, 1], [9, 0, 2], [5, 5, 5], [9, 0, 4]])
    frame = LocalFrame(easting=2_000_000.0, northing=500.0)
    with pytest.raises(SurfaceError, match=r"easting 2000009.000, northing 500.000.*2.000 and 4.0"):
        build_tin(shots, frame=frame)


def test_a_line_through_shots_that_are_not_there_is_refused():
    shots = scattered(1)
    with pytest.raises(SurfaceError, match='breakline "ditch" names a shot'):
        build_tin(shots, [Line(name="ditch", shots=np.array([0, 200]))])
    with pytest.raises(SurfaceError, match='breakline "ditch" has a coordinate'):
        build_tin(shots, plan_lines=[PlanLine(name="ditch", plan=np.array([[0, np.nan]]))])


@st.composite
def _lot(draw):
    """Shots on a coarse lattice, so that rows, circles, crossings and overlaps abound."""
    spots = draw(
        st.lists(
            st.tuples(st.integers(0, 7), st.integers(0, 7)), min_size=4, max_size=30, unique=True
        )
    )
    index = st.integers(0, len(spots) - 1)
    runs = draw(st.lists(st.lists(index, min_size=2, max_size=5), max_size=4))
    spot = st.tuples(st.floats(-1, 8), st.floats(-1, 8))
    plans = draw(st.lists(st.lists(spot, min_size=2, max_size=4), max_size=2))
    degrees = draw(st.sampled_from([0.0, 37.0, 123.4]))
    return np.array(spots, dtype=float), runs, plans, degrees


@given(lot=_lot())
@settings(max_examples=150, deadline=None)
def test_any_lines_over_a_plane_leave_a_sound_tin_and_the_plane(lot):
    plan, runs, plans, degrees = lot
    if np.linalg.matrix_rank(plan - plan[0]) < 2:
        return
    shots = turned(np.column_stack([plan, np.zeros(len(plan))]), degrees)
    shots[:, 2] = plane_at(shots[:, :2])
    lines = [Line(name=str(i), shots=np.array(run)) for i, run in enumerate(runs)]
    over = [
        PlanLine(
            name=f"over {i}", plan=turned(np.column_stack([p, np.zeros(len(p))]), degrees)[:, :2]
        )
        for i, p in enumerate(plans)
    ]
    tin = sound_tin(shots, lines, over)
    np.testing.assert_allclose(tin.points[:, 2], plane_at(tin.points[:, :2]), atol=1e-8)


def test_options_that_cut_back_nothing_change_nothing():
    shots = scattered(8)
    plain = build_tin(shots)
    ring = np.array([[-9.0, -9], [109, -9], [109, 109], [-9, 109]])
    line = PlanLine(name="lot", plan=ring, kind=LineKind.BOUNDARY)
    cut = build_tin(shots, plan_lines=[line], options=TinOptions(max_edge=1e6))
    np.testing.assert_array_equal(cut.triangles, plain.triangles)
    assert [note.code for note in cut.notes] == ["line_outside_ground"]
