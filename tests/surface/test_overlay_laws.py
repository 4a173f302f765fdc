"""Laws of the overlay of any two surfaces."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from terrain.surface.compiled import compiled
from terrain.surface.overlay import overlay, overlay_faces, overlay_sums
from terrain.surface.patches import Surface, from_polygons, join_faces, labelled
from tests.surface.made_surfaces import (
    box,
    by_geos,
    footprint,
    gross,
    polygons,
    random_tin,
    same,
    scaled,
    shuffled,
    turned,
)

SEEDS = st.integers(0, 2**31)
FEW = settings(max_examples=25, deadline=None, derandomize=True)


@FEW
@given(SEEDS)
def test_swapping_the_surfaces_swaps_above_and_below(seed):
    a, b = random_tin(seed, 40), random_tin(seed + 1, 30)
    one, other = overlay(a, b), overlay(b, a)
    assert np.array_equal(one.a, other.b)
    assert np.array_equal(one.b, other.a)
    assert np.array_equal(one.area_above, other.area_below)
    assert np.array_equal(one.volume_above, other.volume_below)
    assert np.array_equal(one.volume_below, other.volume_above)


@FEW
@given(SEEDS)
def test_swapping_surfaces_of_equal_size_swaps_above_and_below(seed):
    a = random_tin(seed, 25)
    b = turned(a, 50.0, (3.0, 1.0))
    one, other = overlay(a, b), overlay(b, a)
    same(one.volume_above.sum(), other.volume_below.sum(), gross(one))
    same(one.volume_below.sum(), other.volume_above.sum(), gross(one))


@FEW
@given(SEEDS)
def test_every_pair_is_what_geos_makes_of_it(seed):
    a, b = random_tin(seed, 14), random_tin(seed + 1, 10)
    pairs, slow = overlay(a, b), by_geos(a, b)
    rows = zip(
        pairs.a.tolist(), pairs.b.tolist(), pairs.area, pairs.area_above, pairs.volume_above,
        pairs.area_below, pairs.volume_below, strict=True,
    )  # fmt: skip
    quick = {(i, j): figures for i, j, *figures in rows}
    assert len(quick) == len(pairs), "a pair is told once"
    nothing = (0.0,) * 5
    for pair in quick.keys() | slow.keys():
        for got, wanted in zip(quick.get(pair, nothing), slow.get(pair, nothing), strict=True):
            same(got, wanted, 1e4 * 20, 1e-11)


@FEW
@given(SEEDS)
def test_covered_area_is_the_common_footprint(seed):
    a, b = random_tin(seed, 60), random_tin(seed + 1, 9, reach=30.0)
    wanted = footprint(a).intersection(footprint(b)).area
    same(overlay(a, b).area.sum(), wanted, 1e4)


def test_covered_area_leaves_out_holes_and_bays():
    a = random_tin(5, 200)
    kept = [i for i, p in enumerate(polygons(a)) if not p.intersects(shapely.box(-60, -9, 20, 12))]
    holed = from_polygons([a.corners(i) for i in kept], a.plane[kept], a.label[kept])
    b = random_tin(6, 80)
    wanted = footprint(holed).intersection(footprint(b)).area
    assert wanted < 0.9 * footprint(a).intersection(footprint(b)).area
    same(overlay(holed, b).area.sum(), wanted, 1e4)
    same(overlay(b, holed).area.sum(), wanted, 1e4)


def test_one_surface_over_part_of_the_other_covers_that_part():
    small, large = random_tin(7, 30, reach=5.0), random_tin(8, 100)
    pairs = overlay(small, large)
    same(pairs.area.sum(), footprint(small).area, 100.0)
    assert set(pairs.a.tolist()) == set(range(len(small)))


def test_every_face_wholly_covered_has_its_own_area():
    small, large = random_tin(7, 30, reach=5.0), random_tin(8, 100)
    pairs = overlay(small, large)
    by_face = np.bincount(pairs.a, pairs.area)
    for got, face in zip(by_face, polygons(small), strict=True):
        same(got, face.area, 100.0)


def test_surfaces_that_only_touch_have_no_pairs():
    assert len(overlay(box(0, 0, 1, 1), box(1, 0, 2, 1))) == 0
    assert len(overlay(box(0, 0, 1, 1), box(1, 1, 2, 2))) == 0
    assert len(overlay(box(0, 0, 1, 1), box(5, 5, 6, 6))) == 0


@pytest.mark.parametrize("seed", range(5))
def test_a_surface_over_itself_is_its_own_faces_at_nought_depth(seed):
    a = random_tin(seed, 200)
    pairs = overlay(a, a)
    assert np.array_equal(pairs.a, np.arange(len(a)))
    assert np.array_equal(pairs.b, np.arange(len(a)))
    assert pairs.volume_above.sum() == pairs.volume_below.sum() == 0.0
    assert pairs.area_above.sum() == pairs.area_below.sum() == 0.0
    same(pairs.area.sum(), footprint(a).area, 1e4)


def test_a_surface_turned_by_37_degrees_over_itself_is_its_own_faces():
    a = turned(random_tin(3, 200), 37.0)
    assert len(overlay(a, a)) == len(a)


@FEW
@given(SEEDS)
def test_splitting_a_face_keeps_the_sums(seed):
    a, b = random_tin(seed, 20), random_tin(seed + 1, 15)
    random = np.random.default_rng(seed)
    rings, planes = [], []
    for face in range(len(a)):
        corners = a.corners(face)
        inside = random.dirichlet([1.0, 1.0, 1.0]) @ corners
        for k in range(3):
            rings.append(np.array([corners[k], corners[(k + 1) % 3], inside]))
            planes.append(a.plane[face])
    split = from_polygons(rings, np.array(planes), np.zeros(len(rings)))
    whole, parts = overlay(a, b), overlay(split, b)
    for name in ("area", "area_above", "volume_above", "area_below", "volume_below"):
        same(getattr(parts, name).sum(), getattr(whole, name).sum(), gross(whole))


@FEW
@given(SEEDS, st.floats(-180.0, 180.0), st.floats(-40.0, 40.0))
def test_moving_and_turning_the_site_changes_nothing(seed, degrees, shift):
    a, b = random_tin(seed, 30), random_tin(seed + 1, 25)
    whole = overlay(a, b)
    moved = overlay(
        turned(a, degrees, (shift, -2 * shift)), turned(b, degrees, (shift, -2 * shift))
    )
    for name in ("area", "area_above", "volume_above", "area_below", "volume_below"):
        same(getattr(moved, name).sum(), getattr(whole, name).sum(), gross(whole))


def test_a_site_a_thousand_times_larger_has_a_thousand_cubed_of_volume():
    a, b = random_tin(1, 60), random_tin(2, 50)
    small, large = overlay(a, b), overlay(scaled(a, 1000.0), scaled(b, 1000.0))
    same(large.area.sum(), small.area.sum() * 1e6, 1e4 * 1e6)
    same(large.volume_above.sum(), small.volume_above.sum() * 1e9, gross(small) * 1e9)
    same(large.volume_below.sum(), small.volume_below.sum() * 1e9, gross(small) * 1e9)


def test_the_order_of_faces_changes_no_sum():
    a, b = random_tin(1, 60), random_tin(2, 50)
    whole, mixed = overlay(a, b), overlay(shuffled(a, 3), shuffled(b, 4))
    same(mixed.volume_above.sum(), whole.volume_above.sum(), gross(whole))
    assert len(mixed) == len(whole)


@pytest.mark.parametrize("seed", range(5))
def test_triangles_looked_up_together_are_the_pairs_that_each_finds_alone(seed):
    a, b = random_tin(seed, 300), shuffled(random_tin(seed + 1, 200), seed)
    east, north = box(1e3, 0, 1e3 + 1, 1), box(0, 1e3, 1, 1e3 + 1)
    for one, other in ((a, b), (b, a), (a, a)):
        together = overlay(one, other)
        # not all are triangles any more, so each face is looked up by itself
        alone = overlay(join_faces(one, east), join_faces(other, north))
        in_order = [np.lexsort((pairs.b, pairs.a)) for pairs in (together, alone)]
        for name in ("a", "b"):
            got, wanted = getattr(together, name)[in_order[0]], getattr(alone, name)[in_order[1]]
            assert np.array_equal(got, wanted)
        for name in ("area", "volume_above", "volume_below"):
            got, wanted = getattr(together, name)[in_order[0]], getattr(alone, name)[in_order[1]]
            assert np.abs(got - wanted).max() <= 1e-12 * gross(alone)


@FEW
@given(SEEDS, st.sampled_from(["triangles", "four-sided faces too"]))
def test_sums_are_those_of_the_pairs_label_by_label(seed, kind):
    random = np.random.default_rng(seed)
    a, b = random_tin(seed, 40), random_tin(seed + 1, 30)
    if kind != "triangles":
        b = join_faces(b, box(1e3, 0, 1e3 + 1, 1))
    a, b = (labelled(s, random.integers(0, 5, len(s))) for s in (a, b))
    for one, other in ((a, b), (b, a)):
        pairs = overlay(one, other)
        labels = {"a": one.label[pairs.a], "b": other.label[pairs.b], None: 0 * pairs.a}
        for by, label in labels.items():
            sums = overlay_sums(one, other, by, 6)
            for name in ("area", "area_above", "volume_above", "area_below", "volume_below"):
                wanted = np.bincount(label, getattr(pairs, name), 6)
                assert np.abs(getattr(sums, name) - wanted).max() <= 1e-13 * gross(pairs)
            deepest = np.zeros(6)
            np.maximum.at(deepest, label, pairs.depth_above)
            assert np.array_equal(sums.depth_above, deepest)


def test_sums_over_many_chunks_are_those_of_the_pairs_where_few_faces_reach_and_where_all_do():
    fine = random_tin(1, 12_000)
    for coarse in (random_tin(2, 50), random_tin(3, 50, reach=20.0), random_tin(4, 900, reach=60)):
        for one, other in ((fine, coarse), (coarse, fine)):
            pairs = overlay(one, other)
            coarse_first = one is coarse
            sums = overlay_sums(one, other, "a" if coarse_first else "b", len(coarse))
            parent = pairs.a if coarse_first else pairs.b
            for name in ("area", "volume_above", "volume_below"):
                wanted = np.bincount(parent, getattr(pairs, name), len(coarse))
                assert np.abs(getattr(sums, name) - wanted).max() <= 1e-13 * gross(pairs)


def test_pairs_come_in_the_order_of_the_finer_faces_however_many_threads_made_them():
    fine, coarse = random_tin(1, 12_000), random_tin(2, 50)
    for _ in range(5):
        assert (np.diff(overlay(fine, coarse).a) >= 0).all()
        assert (np.diff(overlay_faces(coarse, fine).b) >= 0).all()
    once, again = overlay(fine, coarse), overlay(fine, coarse)
    assert np.array_equal(once.volume_above, again.volume_above)
    sums = [overlay_sums(fine, coarse).volume_above for _ in range(3)]
    assert sums[0] == sums[1] == sums[2], "to the last bit"


def test_labels_that_are_no_rows_are_refused():
    with pytest.raises(ValueError, match="labels from 0 to 4 are no rows of 3"):
        overlay_sums(box(0, 0, 1, 1), labelled(random_tin(1, 5), np.arange(5) % 5), "b", 3)


def test_an_empty_surface_overlays_to_nothing():
    none = from_polygons([], np.zeros((0, 5)), np.zeros(0))
    for pair in ((none, box(0, 0, 1, 1)), (box(0, 0, 1, 1), none), (none, none)):
        assert len(overlay(*pair)) == 0
        assert len(overlay_faces(*pair)) == 0
        assert overlay_sums(*pair).area.tolist() == [0.0]
        assert overlay_faces(*pair).start.tolist() == [0]


def test_pairs_of_random_tins_number_two_each_and_7_34_times_the_root_of_the_product():
    # Two Delaunay meshes of n and m random points: 2n + 2m faces over faces by corners, and
    # crossings of edges by the mean edge length of a Poisson-Delaunay mesh, (32/9pi)/sqrt(density),
    # 3 edges a point: (2/pi) L1 L2 = (2/pi) (3 * 32/9pi)^2 sqrt(nm) = 7.34 sqrt(nm). C, no source.
    for count, other in ((4000, 4000), (9000, 1000)):
        a, b = random_tin(1, count), random_tin(2, other)
        wanted = 2 * count + 2 * other + 7.34 * np.sqrt(count * other)
        assert abs(len(overlay(a, b)) - wanted) < 0.03 * wanted


@FEW
@given(SEEDS)
def test_polygons_are_the_parts_of_the_pairs(seed):
    a, b = random_tin(seed, 25), random_tin(seed + 1, 20)
    pairs, parts = overlay(a, b), overlay_faces(a, b)
    area = np.array([shapely.Polygon(r).area for r in np.split(parts.ring, parts.start[1:-1])])
    shape = (len(a), len(b))
    for side, name in ((1, "area_above"), (-1, "area_below")):
        grid = np.zeros(shape)
        chosen = parts.side == side
        np.add.at(grid, (parts.a[chosen], parts.b[chosen]), area[chosen])
        grid[pairs.a, pairs.b] -= getattr(pairs, name)
        assert np.abs(grid).max() < 1e-12 * 1e4


def test_polygons_turn_left_and_carry_their_depths():
    a, b = random_tin(11, 40), random_tin(12, 30)
    parts = overlay_faces(a, b)
    for i in range(len(parts)):
        span = slice(parts.start[i], parts.start[i + 1])
        ring, depth = parts.ring[span], parts.depth[span]
        assert shapely.LinearRing(ring).is_ccw
        wanted = a.upward_at(parts.a[i], ring) - b.upward_at(parts.b[i], ring)
        assert np.abs(depth - wanted).max() < 1e-9
        assert (parts.side[i] * depth >= 0).all()


def test_parts_of_depth_nought_are_tagged_nought():
    a = random_tin(3, 30)
    parts = overlay_faces(a, a)
    assert (parts.side == 0).all()
    assert len(parts) == len(a)
    assert (parts.depth == 0).all()


def test_a_jump_between_faces_belongs_to_neither():
    low, high = box(0, 0, 1, 1, 0.0), box(1, 0, 2, 1, 5.0)
    stepped = join_faces(low, high)
    pairs = overlay(stepped, box(0, 0, 2, 1, 2.0))
    assert pairs.volume_above.sum() == 3.0
    assert pairs.volume_below.sum() == 2.0


def cut_up(parts, source, parent):
    """The parts of an overlay as a surface, with the planes of one of its two surfaces."""
    return Surface(start=parts.start, ring=parts.ring, plane=source.plane[parent], label=parts.side)


def tiles(count, degrees, seed):
    """Square tiles that jump and tilt, turned about a corner."""
    random = np.random.default_rng(seed)
    flat = join_faces(*(box(i, j, i + 1, j + 1) for i in range(count) for j in range(count)))
    plane = flat.plane.copy()
    plane[:, :2] = flat.ring[flat.start[:-1]]
    plane[:, 2:] = random.normal(0.0, (1.0, 0.3, 0.3), (len(flat), 3))
    return turned(flat.with_plane(plane), degrees)


@pytest.mark.parametrize(
    ("a", "b"),
    [
        (random_tin(1, 500), random_tin(2, 300)),
        (tiles(12, 37.0, 1), tiles(12, 37.0, 2)),
        (tiles(12, 37.0, 1), tiles(12, 37.0 + 1e-9, 2)),
        (tiles(12, 37.0, 1), turned(tiles(12, 37.0, 2), 0.0, (1e-12, 2e-13))),
        (turned(tiles(12, 12.0, 1), 0.0, (3e3, 2e3)), turned(random_tin(2, 99), 0.0, (3e3, 2e3))),
    ],
    ids=["tins", "same edges", "nearly parallel", "a hair apart", "far out"],
)
def test_a_surface_cut_up_by_another_overlays_to_the_same_sums(a, b):
    pairs, parts = overlay(a, b), overlay_faces(a, b)
    cut_a, cut_b = cut_up(parts, a, parts.a), cut_up(parts, b, parts.b)
    for one, other in ((cut_a, b), (a, cut_b), (cut_a, cut_b)):
        again = overlay(one, other)
        for name in ("area", "area_above", "volume_above", "area_below", "volume_below"):
            same(getattr(again, name).sum(), getattr(pairs, name).sum(), gross(pairs))


def test_kernels_run_where_nothing_can_be_kept_on_disk():
    # as in a read-only install without a home: numba finds no folder for this function either
    made = {}
    exec("def double(number):\n    return 2 * number\n", made)
    assert compiled(made["double"])(21) == 42
