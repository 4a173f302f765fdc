"""Laws of the overlay: signs, common footprint, split faces, whatever the two surfaces cover."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial import Delaunay

from terrain.surface.overlay import overlay
from terrain.surface.patches import Surface, from_polygons
from tests.oracles import faces as slow
from tests.oracles.ground import tin_faces


def tin(points: np.ndarray, corners: np.ndarray) -> Surface:
    """Triangles (m, 3) of points (n, 3) as a surface."""
    at = points[corners]
    first, second = at[:, 1] - at[:, 0], at[:, 2] - at[:, 0]
    normal = np.cross(first, second)
    slope = -normal[:, :2] / normal[:, 2:]
    polygons = [np.ascontiguousarray(t[:, :2]) for t in at]
    return from_polygons(polygons, np.column_stack([at[:, 0], slope]), np.arange(len(corners)))


def cloud(seed: int, count: int, reach: float = 10.0) -> tuple[np.ndarray, np.ndarray]:
    """A bumpy TIN of random points."""
    random = np.random.default_rng(seed)
    points = np.column_stack([random.uniform(-reach, reach, (count, 2)), random.normal(size=count)])
    return points, Delaunay(points[:, :2]).simplices


def plan_of(points: np.ndarray, corners: np.ndarray) -> shapely.Geometry:
    """The ground that triangles cover, one by one."""
    body = shapely.Polygon()
    for triangle in corners:
        body = body.union(shapely.Polygon(points[triangle, :2]))
    return body


@settings(max_examples=25, deadline=None, derandomize=True)
@given(st.integers(0, 10_000), st.integers(0, 10_000))
def test_swapping_the_surfaces_swaps_cut_and_fill(one, other):
    first, second = tin(*cloud(one, 25)), tin(*cloud(other, 40))
    there, back = overlay(first, second), overlay(second, first)
    gross = there.volume_above.sum() + there.volume_below.sum()
    assert there.volume_above.sum() == pytest.approx(back.volume_below.sum(), abs=1e-12 * gross)
    assert there.volume_below.sum() == pytest.approx(back.volume_above.sum(), abs=1e-12 * gross)
    assert there.area.sum() == pytest.approx(back.area.sum(), rel=1e-12)


@settings(max_examples=15, deadline=None, derandomize=True)
@given(st.integers(0, 10_000), st.integers(0, 10_000))
def test_cut_and_fill_of_two_tins_are_the_slow_sums(one, other):
    mine, theirs = cloud(one, 20), cloud(other, 20)
    seen = overlay(tin(*mine), tin(*theirs))
    upper = tin_faces(*mine)
    lower = tin_faces(*theirs)
    cut = slow.volume_by_label(upper, lower)
    fill = slow.volume_by_label(lower, upper)
    gross = sum(cut.values()) + sum(fill.values())
    assert seen.volume_above.sum() == pytest.approx(sum(cut.values()), abs=1e-12 * gross)
    assert seen.volume_below.sum() == pytest.approx(sum(fill.values()), abs=1e-12 * gross)


def test_splitting_every_face_keeps_every_sum():
    points, corners = cloud(3, 40)
    other = tin(*cloud(4, 60))
    middles = points[corners].mean(axis=1)
    new = len(points) + np.arange(len(corners))
    sides = [corners[:, [k, (k + 1) % 3]] for k in range(3)]
    split = np.concatenate([np.column_stack([side, new]) for side in sides])
    whole = overlay(tin(points, corners), other)
    parted = overlay(tin(np.concatenate([points, middles]), split), other)
    gross = whole.volume_above.sum() + whole.volume_below.sum()
    for field in ("volume_above", "volume_below", "area", "area_above"):
        one, many = getattr(whole, field).sum(), getattr(parted, field).sum()
        assert many == pytest.approx(one, abs=1e-12 * gross), field


def holed(points: np.ndarray, corners: np.ndarray) -> np.ndarray:
    """The triangles less those with their middle within 4 of nought."""
    middles = points[corners, :2].mean(axis=1)
    return corners[np.hypot(*middles.T) > 4.0]


def bitten(points: np.ndarray, corners: np.ndarray) -> np.ndarray:
    """The triangles less those in one quarter: a hull that isn't convex."""
    middles = points[corners, :2].mean(axis=1)
    return corners[~((middles > 1.0).all(axis=1))]


def whole(points: np.ndarray, corners: np.ndarray) -> np.ndarray:
    return corners


@pytest.mark.parametrize("first", [whole, holed, bitten])
@pytest.mark.parametrize("second", [whole, holed, bitten])
@pytest.mark.parametrize("reach", [4.0, 10.0, 25.0])
def test_covered_area_is_the_common_footprint(first, second, reach):
    one, corners = cloud(11, 60)
    corners = first(one, corners)
    two, others = cloud(12, 80, reach)
    others = second(two, others)
    seen = overlay(tin(one, corners), tin(two, others)).area.sum()
    wanted = plan_of(one, corners).intersection(plan_of(two, others)).area
    assert seen == pytest.approx(wanted, rel=1e-11, abs=1e-12)


def test_faces_without_area_share_nothing():
    """A face shrunk to a point or a line was once counted as the whole triangle under it."""
    triangle = tin(np.array([[0.0, 0, 1], [1, 0, 1], [0, 1, 1]]), np.array([[0, 1, 2]]))
    for ring in ([[0.3, 0.3]] * 4, [[0.1, 0.1], [0.4, 0.4], [0.1, 0.1]]):
        nothing = from_polygons([np.array(ring)], np.zeros((1, 5)), np.array([0]))
        assert overlay(triangle, nothing).area.sum() == 0.0
        assert overlay(nothing, triangle).volume_below.sum() == 0.0
