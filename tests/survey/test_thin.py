"""Thinning keeps the volume: the cell's median, whatever the order of the points."""

import numpy as np
import pytest

from terrain.survey.thin import Box, grid_over, medians, pack, thin, unpack


def naive(points, cell):
    """The lower median of every cell by (z, x, y), cell by cell in a dictionary."""
    cells = {}
    for x, y, z in points:
        cells.setdefault((x // cell, y // cell), []).append((z, x, y))
    kept = [sorted(own)[(len(own) - 1) // 2] for own in cells.values()]
    return sorted((x, y, z) for z, x, y in kept)


def packed_thin(whole, cell, far=10**6):
    ends = tuple(whole.min(axis=0).tolist()), tuple(whole.max(axis=0).tolist())
    grid = grid_over(*ends, cell)
    packed = np.empty(len(whole), dtype=np.uint64)
    box = Box(crop=(-1e9, -1e9, 1e9, 1e9), ends=ends)
    every = np.ones(len(whole), dtype=bool)
    front, back, *others = pack(tuple(whole.T), every, grid, box, packed)
    assert (front + back, others) == (len(whole), [0, 0])
    halves = medians(packed[:front], grid, far), medians(packed[front:], grid, far)
    found = unpack(np.concatenate([points for points, _ in halves]), grid)
    return found, tuple(np.sum([own for _, own in halves], axis=0).tolist())


@pytest.mark.parametrize("cell", [1.0, 7.0, 50.0, 16.4042])
def test_both_ways_keep_the_lower_median_of_every_cell(cell):
    generator = np.random.default_rng(11)
    whole = generator.integers(-300, 300, (3000, 3)).astype(np.int32)
    expected = naive([tuple(map(int, p)) for p in whole], cell)
    assert (
        sorted(map(tuple, whole[thin(whole.astype(float), cell, np.inf)[0]].tolist())) == expected
    )
    assert sorted(map(tuple, packed_thin(whole, cell)[0].tolist())) == expected


def test_each_half_of_the_cells_is_packed_at_its_own_end():
    whole = np.array([[0, 0, 0], [5, 5, 5], [1, 9, 3], [7, 1, 2], [9, 8, 1]], dtype=np.int32)
    grid, every = grid_over((0, 0, 0), (9, 9, 9), 5.0), np.ones(5, dtype=bool)
    box = Box(crop=(-1e9, -1e9, 1e9, 1e9), ends=((0, 0, 0), (9, 9, 9)))
    packed = np.zeros(7, dtype=np.uint64)
    assert pack(tuple(whole.T), every, grid, box, packed) == (2, 3, 0, 0)
    assert (packed > 0).tolist() == [False, True, False, False, True, True, True]
    front, back = (medians(own, grid, 100)[0] for own in (packed[:2], packed[4:]))
    assert unpack(front, grid).tolist() == [[0, 0, 0], [7, 1, 2]]
    assert unpack(back, grid).tolist() == [[1, 9, 3], [9, 8, 1]]  # of two in one cell the lower


def test_the_order_of_the_points_changes_nothing():
    generator = np.random.default_rng(12)
    whole = generator.integers(0, 200, (2000, 3)).astype(np.int32)
    mixed = generator.permutation(whole)
    assert np.array_equal(packed_thin(whole, 20.0)[0], packed_thin(mixed, 20.0)[0])
    one, other = (p[thin(p.astype(float), 20.0, np.inf)[0]] for p in (whole, mixed))
    assert np.array_equal(one, other)


def test_the_median_keeps_the_mean_height_and_the_lowest_point_lowers_it():
    # Of n draws from a normal the least lies below the mean by 1.0 to 2.1 sigma for n = 4 to 36
    # (expected least of nine: 1.485 sigma, tables of normal order statistics, from memory).
    generator = np.random.default_rng(13)
    plan = np.stack(np.meshgrid(np.arange(300), np.arange(300)), axis=-1).reshape(-1, 2) / 3 + 0.1
    sigma = 0.05
    points = np.column_stack([plan, 100.0 + generator.normal(0.0, sigma, len(plan))])
    kept = points[thin(points, 1.0, np.inf)[0]]
    assert len(kept) == 100 * 100
    assert kept[:, 2].mean() == pytest.approx(100.0, abs=3 * sigma * 0.41 / 100)
    lowest = points[:, 2].reshape(100, 3, 100, 3).min(axis=(1, 3))
    assert lowest.mean() == pytest.approx(100.0 - 1.485 * sigma, abs=0.001)


def test_a_range_too_great_for_64_bits_is_told_and_cells_under_a_unit_too():
    assert grid_over((0, 0, 0), (2_000_000_000, 2_000_000_000, 2_000_000_000), 10.0) is None
    assert grid_over((0, 0, 0), (1000, 1000, 1000), 0.5) is None


def test_only_wanted_points_inside_the_crop_are_packed_and_those_past_the_header_counted():
    whole = np.array([[0, 0, 0], [5, 5, 5], [50, 5, 5], [5, 5, 99]], dtype=np.int32)
    ends = (0, 0, 0), (9, 9, 9)
    packed = np.empty(4, dtype=np.uint64)
    wanted = np.array([False, True, True, True])
    box = Box(crop=(0.0, 0.0, 20.0, 20.0), ends=ends)
    assert pack(tuple(whole.T), wanted, grid_over(*ends, 2.0), box, packed) == (0, 1, 1, 1)


def test_points_far_off_the_median_of_their_cell_are_counted_each_way():
    generator = np.random.default_rng(14)
    whole = generator.integers(0, 100, (3000, 3)).astype(np.int32)
    whole[generator.choice(3000, 40, replace=False), 2] -= 500
    cells = {}
    for x, y, z in whole.tolist():
        cells.setdefault((x // 10, y // 10), []).append(z)
    off = [z - sorted(own)[(len(own) - 1) // 2] for own in cells.values() for z in own]
    for far in (60, 450):
        expected = (sum(o < -far for o in off), sum(o > far for o in off))
        assert expected[0] > 0
        assert packed_thin(whole, 10.0, far)[1] == expected
        assert thin(whole.astype(float), 10.0, far)[1] == expected


def test_one_point_and_none():
    assert thin(np.zeros((0, 3)), 1.0, 0.1)[0].tolist() == []
    one = np.array([[-3, 7, -2]], dtype=np.int32)
    assert packed_thin(one, 5.0)[0].tolist() == one.tolist()
