"""Laws of lines in space cut by the faces of a surface, and of the weights of shots."""

import numpy as np
import pytest
import shapely

from terrain.surface.patches import from_polygons
from terrain.surface.segments import segments_over
from tests.surface.made_surfaces import (
    box,
    polygons,
    random_tin,
    turned,
)


def random_lines(seed, count=30):
    return np.random.default_rng(seed).uniform(-60, 60, (count, 2, 3))


@pytest.mark.parametrize("degrees", [0.0, 37.0])
def test_pieces_are_what_geos_cuts_from_the_line(degrees):
    surface, lines = turned(random_tin(2, 40), degrees), random_lines(1)
    pieces = segments_over(surface, lines)
    got = {
        (s, f): q - p
        for s, f, p, q in zip(pieces.segment, pieces.face, pieces.start, pieces.end, strict=True)
    }
    for s, line in enumerate(lines):
        plan = shapely.LineString(line[:, :2])
        for f, polygon in enumerate(polygons(surface)):
            wanted = plan.intersection(polygon).length / plan.length
            assert abs(got.get((s, f), 0.0) - wanted) < 1e-12


def test_depths_are_the_height_of_the_line_over_the_face():
    surface, lines = random_tin(2, 40), random_lines(2)
    pieces = segments_over(surface, lines)
    for ends, depths in ((pieces.start, pieces.depth_start), (pieces.end, pieces.depth_end)):
        for s, f, t, depth in zip(pieces.segment, pieces.face, ends, depths, strict=True):
            place = lines[s, 0] + t * (lines[s, 1] - lines[s, 0])
            assert abs(place[2] - surface.upward_at(f, place[None, :2])[0] - depth) < 1e-9


def test_pieces_follow_one_another_without_a_gap():
    surface = random_tin(3, 400)
    pieces = segments_over(surface, np.array([[[-30.0, -29.0, 0.0], [31.0, 28.0, 0.0]]]))
    assert pieces.start[0] == 0.0
    assert pieces.end[-1] == 1.0
    assert np.abs(pieces.start[1:] - pieces.end[:-1]).max() < 1e-14
    assert len(pieces) > 20


@pytest.mark.parametrize("degrees", [0.0, 37.0, 123.4])
def test_a_line_along_a_common_edge_is_covered(degrees):
    rings = [box(0, 0, 4, 4).ring, box(4, 0, 9, 4).ring]
    tiles = turned(from_polygons(rings, np.zeros((2, 5)), [0, 1]), degrees)
    edge = np.zeros((1, 2, 3))
    edge[0, :, :2] = tiles.corners(0)[1:3]
    pieces = segments_over(tiles, edge)
    spans = zip(pieces.start, pieces.end, strict=True)
    covered = shapely.union_all([shapely.box(p, 0, q, 1) for p, q in spans])
    assert covered.area == pytest.approx(1.0, abs=1e-12)


def test_a_plumb_line_is_one_piece():
    pieces = segments_over(box(0, 0, 4, 4, 2.0), np.array([[[1.0, 1.0, 2.0], [1.0, 1.0, 7.0]]]))
    assert (pieces.start[0], pieces.end[0]) == (0.0, 1.0)
    assert (pieces.depth_start[0], pieces.depth_end[0]) == (0.0, 5.0)


def test_no_lines_no_faces_no_pieces():
    none = from_polygons([], np.zeros((0, 5)), np.zeros(0))
    assert len(segments_over(none, random_lines(1))) == 0
    assert len(segments_over(box(0, 0, 1, 1), np.zeros((0, 2, 3)))) == 0


def test_many_faces_under_one_line_are_all_found():
    count = 2000
    rings = [box(i, 0, i + 1, 1).ring for i in range(count)]
    tiles = from_polygons(rings, np.zeros((count, 5)), np.arange(count))
    pieces = segments_over(tiles, np.array([[[0.0, 0.5, 1.0], [count, 0.5, 1.0]]]))
    assert pieces.face.tolist() == list(range(count))
