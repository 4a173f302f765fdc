"""A scan is cut into what a crew would have shot: to rounding without noise, near it with noise."""

import numpy as np
import pytest
import shapely

from terrain.asdug.scan_cut import ScanAsked, scan_cut
from terrain.asdug.told_apart import Kind
from tests.asdug.test_hole import CORNERS, FLOOR, LEVEL, SIDES

ASKED = ScanAsked(
    floor=FLOOR, reach=2.0, slice=2.0, cell=1.0, ground=lambda plan: np.full(len(plan), LEVEL)
)


def scan(run, east=0.0, noise=0.0, count=40_000, floor=FLOOR):
    """Points over the lot and on the faces of a hole with sides of so much run per rise."""
    generator = np.random.default_rng(5)
    low, high = CORNERS[0] + [east, 0.0], CORNERS[2] + [east, 0.0]
    plan = generator.uniform([-25.0, -25.0], [65.0, 55.0], (count, 2))
    out = np.maximum(np.maximum(low - plan, plan - high), 0.0).max(axis=1)
    height = np.where(out > 0, LEVEL, floor) if run == 0 else np.minimum(floor + out / run, LEVEL)
    points = np.column_stack([plan, height])
    if run == 0:
        ring = shapely.box(*low, *high).exterior
        along = generator.uniform(0, ring.length, count // 4)
        face = shapely.get_coordinates(shapely.line_interpolate_point(ring, along))
        up = generator.uniform(floor, LEVEL, len(face))
        points = np.concatenate([points, np.column_stack([face, up])])
    return points + generator.normal(0.0, noise, points.shape)


def of(cut, kind):
    points, kinds = cut
    return points[kinds == kind]


def toe_ring(cut):
    return shapely.Polygon(of(cut, Kind.TOE)[:, :2])


@pytest.mark.parametrize("run", [0, 0.5, 1.0])
@pytest.mark.parametrize("east", [0.0, 0.3])
def test_without_noise_the_toe_is_found_to_rounding(run, east):
    cut = scan_cut(scan(run, east), SIDES, ASKED)
    truth = shapely.box(east, 0.0, 40.0 + east, 30.0)
    assert toe_ring(cut).symmetric_difference(truth).area == pytest.approx(0.0, abs=1e-6)
    assert of(cut, Kind.TOE)[:, 2] == pytest.approx(FLOOR)
    assert of(cut, Kind.FLOOR)[:, 2] == pytest.approx(FLOOR)
    tops = shapely.Polygon(of(cut, Kind.TOP)[:, :2])
    wide = 6.0 * run
    rim = shapely.box(east - wide, -wide, 40.0 + east + wide, 30.0 + wide)
    assert tops.symmetric_difference(rim).area == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize("run", [0, 0.5])
def test_with_noise_a_toe_is_as_good_as_a_shot(run):
    cut = scan_cut(scan(run, noise=0.05), SIDES, ASKED)
    toes = shapely.points(of(cut, Kind.TOE)[:, :2])
    off = shapely.distance(shapely.box(0, 0, 40, 30).exterior, toes)
    assert np.sqrt((off**2).mean()) < 1.1 * 0.05
    assert abs(of(cut, Kind.FLOOR)[:, 2].mean() - FLOOR) < 0.01


def test_rubble_on_a_tenth_of_the_floor_is_told_as_high_and_moves_no_toe():
    points = scan(0)
    heap = (np.abs(points[:, :2] - [20.0, 15.0]) < [6.0, 10.0]).all(axis=1)
    points[heap, 2] += 0.4
    cut = scan_cut(points, SIDES, ASKED)
    assert toe_ring(cut).area == pytest.approx(1200.0, abs=1e-6)
    floor = of(cut, Kind.FLOOR)
    inner = (np.abs(floor[:, :2] - [20.0, 15.0]) < [5.0, 9.0]).all(axis=1)
    assert floor[inner, 2] == pytest.approx(FLOOR + 0.4)


def test_a_scan_of_before_the_dig_holds_no_hole():
    points = scan(0)
    points[:, 2] = LEVEL
    cut, kind = scan_cut(points, SIDES, ASKED)
    assert len(cut) == len(kind) == 0
