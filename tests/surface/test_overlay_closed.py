"""Closed forms of the overlay, and shapes that are hard on it."""

import numpy as np
import pytest
import shapely

from terrain.surface.overlay import overlay, overlay_faces
from terrain.surface.patches import Surface, from_polygons, join_faces
from tests.surface.made_surfaces import (
    box,
    footprint,
    gross,
    random_tin,
    same,
    triangle_plane,
    turned,
)

TURNS = [0.0, 37.0, 90.0, 211.0]


def pyramid(half, height, base=0.0):
    """Four faces over a square of side 2 * half about nought, up to one tip."""
    corners = half * np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])
    rings, planes = [], []
    for k in range(4):
        ring = np.array([corners[k], corners[(k + 1) % 4], [0.0, 0.0]])
        rings.append(ring)
        planes.append(triangle_plane(np.column_stack([ring, [base, base, base + height]])))
    return from_polygons(rings, np.array(planes), np.arange(4))


@pytest.mark.parametrize("degrees", TURNS)
def test_a_tilted_plane_over_a_square_is_split_at_nought(degrees):
    # u = s e + c over [-1, 1]^2: nought at e0 = -c/s; above it 2 * s (1 - e0)^2 / 2
    slope, lift = 0.7, 0.2
    at = -lift / slope
    a, b = turned(box(-1, -1, 1, 1, lift, slope), degrees), turned(box(-1, -1, 1, 1), degrees)
    pairs = overlay(a, b)
    above, below = slope * (1 - at) ** 2, slope * (1 + at) ** 2
    same(pairs.area_above[0], 2 * (1 - at), 4)
    same(pairs.area_below[0], 2 * (1 + at), 4)
    same(pairs.volume_above[0], above, above + below)
    same(pairs.volume_below[0], below, above + below)
    same(pairs.depth_above[0], lift + slope, 1)
    middle = turned(box(-1, -1, 1, 1), degrees).ring.mean(axis=0)
    east = np.array([np.cos(np.radians(degrees)), np.sin(np.radians(degrees))])
    wanted = middle + (1 + at) / 2 * east
    assert np.abs(pairs.centroid_above[0] - wanted).max() < 1e-14


@pytest.mark.parametrize("degrees", TURNS)
@pytest.mark.parametrize("level", [0.0, 0.25, 0.5, 0.9])
def test_a_pyramid_cut_by_a_level_plane_keeps_its_similar_tip(degrees, level):
    half, height = 3.0, 2.0
    a = turned(pyramid(half, height), degrees)
    pairs = overlay(a, turned(box(-9, -9, 9, 9, level * height), degrees))
    whole, left = 4 * half**2 * height / 3, (1 - level) ** 3
    tip = whole * left
    under = level * height * 4 * half**2 - (whole - tip)
    same(pairs.volume_above.sum(), tip, whole)
    same(pairs.volume_below.sum(), under, whole)
    same(pairs.area_above.sum(), 4 * half**2 * (1 - level) ** 2, 4 * half**2)
    for got in pairs.volume_above:
        same(got, tip / 4, whole)


def test_a_prism_of_constant_depth_is_area_times_depth():
    a = random_tin(4, 60)
    lower = a.plane.copy()
    lower[:, 2] -= 3.0
    pairs = overlay(a, a.with_plane(lower))
    same(pairs.volume_above.sum(), 3.0 * footprint(a).area, 3e4)
    assert pairs.volume_below.sum() == 0.0


def test_a_sloped_pit_in_a_tilted_plane_is_the_integral_worked_by_hand():
    # pit floor -d over [0, L]x[0, W], sides s:1 on all of it, ground u = g e: on the east and
    # west sides the cut ends where floor + run / s meets the ground; each wall by its own integral
    long, wide, deep, grade = 10.0, 6.0, 4.0, 0.1
    floor = box(0, 0, long, wide, -deep)
    ground = box(-50, -50, 50, 50, 0.0, grade)
    core = overlay(ground, floor).volume_above.sum()
    same(core, wide * (deep * long + grade * long**2 / 2), 1000.0)
    # west side, u = -d - e over e < 0 and |n - W/2| <= W/2 - e: depth d + (1 + g) e
    reach = deep / (1 + grade)
    west = box(-50, 0, 0, wide, -deep, -1.0)
    strip = overlay(ground, west).volume_above.sum()
    same(strip, wide * (deep * reach - (1 + grade) * reach**2 / 2), 1000.0)


def test_elevations_far_from_nought_lose_nothing_in_depth():
    a = box(0, 0, 3, 3, 2.0**20, 0.25)
    b = box(0, 0, 3, 3, 2.0**20 + 0.5)
    pairs = overlay(a, b)
    same(pairs.volume_above[0], 3 * 0.25 / 2, 1)
    same(pairs.volume_below[0], 3 * 0.25 * 4 / 2, 3)


def test_faces_with_collinear_corners_on_every_side_are_as_without():
    steps = np.linspace(0.0, 1.0, 12)[:-1]
    corners = np.array([[0.0, 0.0], [7.0, 0.0], [7.0, 5.0], [0.0, 5.0]])
    sides = zip(corners, np.roll(corners, -1, axis=0), strict=True)
    ring = np.concatenate([p + steps[:, None] * (q - p) for p, q in sides])
    dense = from_polygons([ring], np.array([[0.0, 0.0, 1.0, 0.1, -0.2]]), [0])
    for degrees in range(0, 360, 7):
        a, b = turned(dense, degrees), turned(box(0, 0, 7, 5), degrees)
        for pairs in (overlay(a, b), overlay(b, a)):
            same(pairs.area.sum(), 35.0, 35.0)
        half = turned(box(0, -2, 3.5, 9), degrees)
        same(overlay(a, half).area.sum(), 17.5, 35.0)
        same(overlay(half, a).area.sum(), 17.5, 35.0)


def test_an_edge_that_is_only_rounding_cuts_nothing_off():
    # the second corner repeats but for a last digit, so its edge points anywhere
    square = np.array([[0.0, 0.0], [7.0, 0.0], [7.0, 5.0], [0.0, 5.0]])
    for k in range(4):
        for off in np.array([[1e-15, 0], [-1e-15, 0], [0, 1e-15], [0, -1e-15], [1e-15, -1e-15]]):
            ring = np.insert(square, k + 1, square[k] + off, axis=0)
            rounded = from_polygons([ring], np.zeros((1, 5)), [0])
            for pairs in (
                overlay(box(-1, -1, 9, 9, 1.0), rounded),
                overlay(join_faces(box(-1, -1, 9, 9, 1.0), box(20, 20, 21, 21)), rounded),
                overlay(rounded, box(-1, -1, 9, 9, 1.0)),
            ):
                same(pairs.area.sum(), 35.0, 35.0)


@pytest.mark.parametrize("thin", [2.0**-10, 2.0**-20, 2.0**-30, 2.0**-50])
def test_slivers_keep_their_area_and_volume(thin):
    sliver = box(0.0, 0.0, 10.0, thin, 1.0)
    tiles = join_faces(*(box(i, -1, i + 1, 1) for i in range(10)))
    pairs = overlay(sliver, tiles)
    assert len(pairs) == 10
    same(pairs.area.sum(), 10 * thin, 10 * thin)
    same(pairs.volume_above.sum(), 10 * thin, 10 * thin)


def test_a_steep_sliver_triangle_is_measured_like_any_other():
    wall = np.array([[0.0, 0.0, 0.0], [5.0, 0.0, 0.0], [5.0, 1e-6, 8.0]])
    a = from_polygons([wall[:, :2]], np.array([triangle_plane(wall)]), [0])
    pairs = overlay(a, box(-1, -1, 9, 9, -1.0))
    area = 5 * 1e-6 / 2
    same(pairs.volume_above.sum(), area * (1 + 8 / 3), area * 8, 1e-9)


def test_faces_without_area_have_no_pairs():
    flat = np.array([[0.0, 0.0], [1.0, 1.0], [2.0, 2.0]])
    point = np.zeros((3, 2))
    empty = from_polygons([flat, point], np.zeros((2, 5)), [0, 1])
    ground = box(-5, -5, 5, 5, 1.0)
    for pairs in (overlay(empty, ground), overlay(ground, empty)):
        assert pairs.area.sum() == 0.0
    assert len(overlay(empty, join_faces(ground, box(6, 6, 7, 7), box(8, 8, 9, 9)))) == 0
    assert len(overlay_faces(empty, ground)) == 0


def test_strips_that_all_cross_find_every_crossing():
    count = 300
    lanes = join_faces(*(box(0, i, count, i + 1, 1.0) for i in range(count)))
    rows = join_faces(*(box(i, 0, i + 1, count) for i in range(count)))
    pairs, parts = overlay(lanes, rows), overlay_faces(lanes, rows)
    assert len(pairs) == len(parts) == count**2
    assert np.abs(pairs.area - 1.0).max() < 1e-12
    assert (np.diff(parts.start) == 4).all()


def test_a_far_shot_beside_a_dense_lot_changes_no_pair_of_the_lot():
    a, b = random_tin(1, 400, reach=1.0), random_tin(2, 300, reach=1.0)
    far = box(1e5, 1e5, 1e5 + 1, 1e5 + 1)
    alone, joined = overlay(a, b), overlay(join_faces(a, far), join_faces(b, far))
    same(joined.volume_above.sum(), alone.volume_above.sum(), gross(alone))
    assert len(joined) == len(alone) + 1


def many_sided(sides, radius=10.0):
    turn = np.arange(sides) * 2 * np.pi / sides
    ring = radius * np.column_stack([np.cos(turn), np.sin(turn)])
    return from_polygons([ring], np.array([[0.0, 0.0, 1.0, 0.0, 0.0]]), [0])


@pytest.mark.parametrize("sides", [65, 500])
def test_faces_of_many_sides_are_cut_whole(sides):
    a, b = many_sided(sides), many_sided(sides + 1)
    wanted = footprint(a).intersection(footprint(b)).area
    same(overlay(a, b).area.sum(), wanted, wanted)
    parts = overlay_faces(a, b)
    same(shapely.Polygon(parts.ring).area, wanted, wanted)
    ground = random_tin(9, 200, reach=12.0)
    same(overlay(ground, a).area.sum(), footprint(ground).intersection(footprint(a)).area, wanted)


def test_starts_of_any_whole_number_type_are_taken():
    plain = box(0, 0, 2, 2, 1.0)
    short = Surface(
        start=plain.start.astype(np.int32), ring=plain.ring, plane=plain.plane, label=plain.label
    )
    assert overlay(short, box(0, 0, 1, 1)).volume_above[0] == 1.0
