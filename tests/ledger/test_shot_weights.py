"""The weight of a shot is the integral of its hat function over what is cut."""

import numpy as np
import pytest
from scipy.spatial import Delaunay

from terrain.ledger.weights import hats_above, weights_of
from terrain.surface.overlay import overlay
from tests.surface.made_surfaces import (
    box,
    footprint,
    gross,
    polygons,
    random_points,
    random_tin,
    same,
    triangles_surface,
)


def by_shot(pairs, triangles, points):
    """What each shot's easting, northing and elevation weigh, (n, 3)."""
    label = np.zeros(len(pairs), dtype=np.int32)
    own = weights_of(hats_above(points, triangles, pairs, pairs.a, label))[0]
    dense = np.zeros((len(points), 3))
    dense[own.shot] = own.change
    return dense


def elevations_of(pairs, triangles, points):
    return by_shot(pairs, triangles, points)[:, 2]


def tin_case(seed):
    points = random_points(seed, 60)
    triangles = Delaunay(points[:, :2]).simplices
    corners = points[triangles]
    one, two = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    right = one[:, 0] * two[:, 1] < one[:, 1] * two[:, 0]
    triangles = np.where(right[:, None], triangles[:, ::-1], triangles)
    return points, triangles


def test_weights_of_shots_sum_to_the_area_above():
    points, triangles = tin_case(1)
    ground, other = triangles_surface(points, triangles), random_tin(2, 30)
    pairs = overlay(ground, other)
    weights = elevations_of(pairs, triangles, points)
    assert (weights >= 0).all()
    same(weights.sum(), pairs.area_above.sum(), 1e4)


def test_a_weight_is_the_change_of_volume_by_the_shots_elevation():
    points, triangles = tin_case(3)
    other = random_tin(4, 30)
    weights = elevations_of(overlay(triangles_surface(points, triangles), other), triangles, points)
    step = 1e-4
    for shot in range(0, len(points), 7):
        volumes = []
        for sign in (1.0, -1.0):
            moved = points.copy()
            moved[shot, 2] += sign * step
            volumes.append(overlay(triangles_surface(moved, triangles), other).volume_above.sum())
        assert weights[shot] == pytest.approx((volumes[0] - volumes[1]) / (2 * step), abs=1e-3)


def test_a_ground_wholly_above_weighs_each_shot_a_third_of_its_triangles():
    points, triangles = tin_case(5)
    ground = triangles_surface(points, triangles)
    pairs = overlay(ground, box(-60, -60, 60, 60, 0.0))
    third = np.array([p.area for p in polygons(ground)]) / 3
    wanted = np.bincount(triangles.ravel(), np.repeat(third, 3), len(points))
    got = elevations_of(pairs, triangles, points)
    assert np.abs(got - wanted).max() < 1e-12 * gross(pairs)
    same(got.sum(), footprint(ground).area, 1e4)
