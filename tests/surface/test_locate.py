"""Heights at plan points: scipy's interpolation and brute force beside them."""

import numpy as np
import pytest
from scipy.interpolate import LinearNDInterpolator

from terrain.surface.boundary import boundary_edges
from terrain.surface.locate import heights_at, triangle_grid, triangles_at
from terrain.surface.tin import LineKind, PlanLine, TinOptions, build_tin
from tests.surface.made_ground import brute_heights, scattered


def _probes(seed, count=500):
    return np.random.default_rng(seed).random((count, 2)) * 120 - 10


@pytest.mark.parametrize("seed", range(3))
def test_heights_are_those_of_scipys_linear_interpolation(seed):
    shots = scattered(seed)
    probes = _probes(seed)
    expected = LinearNDInterpolator(shots[:, :2], shots[:, 2])(probes)
    np.testing.assert_allclose(heights_at(build_tin(shots), probes), expected, atol=1e-9)


def test_there_is_no_height_outside_in_holes_or_past_a_cut():
    shots = scattered(4)
    hole = PlanLine(
        name="house", plan=np.array([[40.0, 40], [60, 40], [60, 60]]), kind=LineKind.HOLE
    )
    tin = build_tin(shots, plan_lines=[hole], options=TinOptions(max_edge=16.0))
    probes = _probes(4, 1500)
    found = heights_at(tin, probes)
    np.testing.assert_allclose(found, brute_heights(tin, probes), atol=1e-8)
    assert np.isnan(heights_at(tin, np.array([[57.0, 45.0], [-50.0, 1e9], [1e300, -1e300]]))).all()


def test_a_shot_has_its_own_height_and_a_rim_point_has_one():
    shots = scattered(6)
    tin = build_tin(shots)
    np.testing.assert_allclose(heights_at(tin, shots[:, :2]), shots[:, 2], atol=1e-10)
    rim = tin.points[boundary_edges(tin)].mean(axis=1)
    np.testing.assert_allclose(heights_at(tin, rim[:, :2]), rim[:, 2], atol=1e-9)


def test_each_triangle_is_found_from_its_middle():
    tin = build_tin(scattered(7, count=800))
    middle = tin.points[tin.triangles].mean(axis=1)[:, :2]
    np.testing.assert_array_equal(
        triangles_at(tin, middle, triangle_grid(tin)), np.arange(len(tin))
    )


def test_a_long_thin_lot_is_found_through():
    shots = scattered(8) * [100.0, 1e-3, 1.0]
    tin = build_tin(shots)
    middle = tin.points[tin.triangles].mean(axis=1)
    np.testing.assert_allclose(heights_at(tin, middle[:, :2]), middle[:, 2], atol=1e-6)


def test_no_probes_give_no_heights():
    assert heights_at(build_tin(scattered(1)), np.zeros((0, 2))).shape == (0,)
