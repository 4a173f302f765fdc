"""The weight of a shot is the integral of its hat function over what is cut."""

import numpy as np
import pytest
import shapely
from scipy.spatial import Delaunay

from terrain.ledger.ground import Ground
from terrain.ledger.hats import hats_between
from terrain.ledger.weights import weights_of
from terrain.surface.overlay import overlay
from terrain.surface.patches import labelled
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


def ground_of(points, triangles):
    return Ground(surface=triangles_surface(points, triangles), points=points, triangles=triangles)


def by_shot(ground, other, where="above"):
    """What each shot's easting, northing and elevation weigh in the cut or fill, (n, 3)."""
    other = labelled(other, np.zeros(len(other), dtype=np.int32))
    own = weights_of(hats_between(ground, other, where))[0]
    dense = np.zeros((len(ground.points), 3))
    dense[own.shot] = own.change
    return dense


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
    weights = by_shot(ground_of(points, triangles), other)[:, 2]
    assert (weights >= 0).all()
    same(weights.sum(), overlay(ground, other).area_above.sum(), 1e4)


@pytest.mark.parametrize("where", ["above", "below"])
def test_a_weight_is_the_change_of_volume_by_the_shots_move(where):
    """Easting, northing and elevation alike, the shot really moved and the overlay done again."""
    points, triangles = tin_case(3)
    other = random_tin(4, 30)
    weights = by_shot(ground_of(points, triangles), other, where)
    step, sign = 1e-4, 1.0 if where == "above" else -1.0
    rim = set(Delaunay(points[:, :2]).convex_hull.ravel().tolist())
    for shot in range(0, len(points), 5):
        # a shot on the rim that moves in plan takes the edge of the ground with it
        for way in (2,) if shot in rim else range(3):
            volumes = []
            for turn in (1.0, -1.0):
                moved = points.copy()
                moved[shot, way] += turn * step
                pairs = overlay(triangles_surface(moved, triangles), other)
                volumes.append(getattr(pairs, f"volume_{where}").sum())
            seen = sign * (volumes[0] - volumes[1]) / (2 * step)
            assert weights[shot, way] == pytest.approx(seen, abs=1e-2 if way < 2 else 1e-3), way


def test_a_ground_wholly_above_weighs_each_shot_a_third_of_its_triangles():
    points, triangles = tin_case(5)
    ground = ground_of(points, triangles)
    floor = box(-60, -60, 60, 60, 0.0)
    third = np.array([p.area for p in polygons(ground.surface)]) / 3
    wanted = np.bincount(triangles.ravel(), np.repeat(third, 3), len(points))
    got = by_shot(ground, floor)[:, 2]
    assert np.abs(got - wanted).max() < 1e-12 * gross(overlay(ground.surface, floor))
    same(got.sum(), footprint(ground.surface).area, 1e4)


def test_spots_have_the_area_the_middle_and_the_spread_of_the_cut():
    """What is of second order in place is integrated exactly: by GEOS triangle by triangle."""
    points, triangles = tin_case(6)
    floor = box(-30, -20, 25, 40, 0.0)
    spots = weights_of(hats_between(ground_of(points, triangles), floor, "above"))[0].spots
    inside = [p.intersection(shapely.box(-30, -20, 25, 40)) for p in polygons(
        triangles_surface(points, triangles))]  # fmt: skip
    for power in ((0, 0), (1, 0), (0, 1), (2, 0), (1, 1), (0, 2)):
        wanted = sum(_integral(part, power) for part in inside)
        seen = spots.area @ (spots.at[:, 0] ** power[0] * spots.at[:, 1] ** power[1])
        assert seen == pytest.approx(wanted, rel=1e-11, abs=1e-7), power
    places = np.einsum("mk,mkd->md", spots.share, points[spots.shots][:, :, :2])
    assert places == pytest.approx(spots.at, abs=1e-10)


def _integral(polygon, power):
    """Of e^i n^j up to second order over a polygon, by triangles and their sides' midpoints."""
    total = 0.0
    for part in shapely.get_parts(shapely.constrained_delaunay_triangles(polygon)):
        corners = np.array(part.exterior.coords)[:3]
        middles = (corners + np.roll(corners, 1, axis=0)) / 2
        total += part.area * np.mean(middles[:, 0] ** power[0] * middles[:, 1] ** power[1])
    return total
