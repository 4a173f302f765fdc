"""Laws of the daylight line: where the ground and the dig are at one height."""

import numpy as np
import pytest
import shapely

from terrain.surface.daylight import daylight_lines
from terrain.surface.overlay import overlay, overlay_faces
from terrain.surface.patches import from_polygons, join_faces
from tests.surface.made_surfaces import box, random_tin, turned


def funnel(half, floor, run):
    """A square floor with four sides of `run` to 1, far up; its labels are floor 0, sides 1-4."""
    far = half + 20.0
    inner = half * np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])
    rings, planes = [inner], [[0.0, 0.0, floor, 0.0, 0.0]]
    outward = np.array([[0.0, -1.0], [1.0, 0.0], [0.0, 1.0], [-1.0, 0.0]])
    for k in range(4):
        p, q = inner[k], inner[(k + 1) % 4]
        rings.append(np.array([p, p * far / half, q * far / half, q]))
        planes.append([*p, floor, *(outward[k] / run)])
    return from_polygons(rings, np.array(planes), np.arange(5))


def level(upward, per_easting=0.0, per_northing=0.0):
    return box(-99, -99, 99, 99, upward, per_easting, per_northing)


@pytest.mark.parametrize("degrees", [0.0, 37.0, 200.0])
def test_a_pit_in_level_ground_comes_out_in_one_closed_square(degrees):
    pit = turned(funnel(5.0, -3.0, 1.5), degrees)
    (line,) = daylight_lines(overlay_faces(level(0.0), pit))
    assert np.array_equal(line[0], line[-1])
    ring = shapely.LinearRing(line)
    assert ring.is_ccw
    assert abs(shapely.Polygon(line).area - (2 * (5.0 + 3.0 * 1.5)) ** 2) < 1e-9


def test_a_closed_line_holds_exactly_the_area_above():
    ground, pit = random_tin(4, 300, reach=40.0, relief=0.1), funnel(8.0, 95.0, 1.0)
    lines = daylight_lines(overlay_faces(ground, pit))
    assert all(np.array_equal(line[0], line[-1]) for line in lines)
    area = sum(
        shapely.Polygon(line).area * (1 if shapely.LinearRing(line).is_ccw else -1)
        for line in lines
    )
    wanted = overlay(ground, pit).area_above.sum()
    assert abs(area - wanted) < 1e-9 * wanted


def test_the_depth_along_the_line_is_nought():
    ground, pit = level(0.0, 0.05, -0.03), funnel(8.0, -5.0, 1.25)
    for line in daylight_lines(overlay_faces(ground, pit)):
        for place in line[:-1]:
            faces = [
                k for k in range(5)
                if shapely.Polygon(pit.corners(k)).distance(shapely.Point(place)) < 1e-9
            ]  # fmt: skip
            assert faces
            for k in faces:
                depth = ground.upward_at(0, place[None]) - pit.upward_at(k, place[None])
                assert abs(depth[0]) < 1e-9


def test_a_mound_within_the_dig_has_a_line_of_its_own_the_other_way_round():
    mound = funnel(2.0, 4.0, -0.5)  # ground: a tip that falls away below nought
    ring = level(0.0)
    lines = daylight_lines(overlay_faces(ring, mound))
    (line,) = lines
    assert not shapely.LinearRing(line).is_ccw


def test_the_rim_of_the_dig_is_no_daylight():
    assert daylight_lines(overlay_faces(level(0.0), box(0, 0, 4, 4, -2.0))) == []
    (line,) = daylight_lines(overlay_faces(level(0.0, 1.0), box(-4, -4, 4, 4)))
    assert sorted(line.tolist()) == [[0.0, -4.0], [0.0, 4.0]]
    assert line[0].tolist() == [0.0, 4.0], "what is above lies on the left"


def test_sides_that_end_in_level_ground_daylight_along_their_rim():
    half, far = 5.0, 8.0
    pit = funnel(half, -3.0, 1.0)
    rings = [np.clip(pit.corners(k), -far, far) for k in range(5)]
    ending = from_polygons(rings, pit.plane, pit.label)
    (line,) = daylight_lines(overlay_faces(level(0.0), ending))
    assert np.array_equal(line[0], line[-1])
    assert abs(shapely.Polygon(line).area - 4 * far**2) < 1e-9


def test_a_valley_of_nought_between_two_parts_above_is_no_daylight():
    slopes = join_faces(box(0, 0, 2, 2, 0.0, 1.0), box(-2, 0, 0, 2, 0.0, -1.0))
    assert daylight_lines(overlay_faces(slopes, level(0.0))) == []


def test_no_common_ground_no_line():
    none = from_polygons([], np.zeros((0, 5)), np.zeros(0))
    assert daylight_lines(overlay_faces(none, level(0.0))) == []
