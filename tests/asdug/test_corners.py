"""Corners and diagonals of a hole: what each shot pulls, and that their own 95 % holds."""

import math

import numpy as np
import pytest

from terrain.asdug.corners import corner_dug, diagonals
from terrain.asdug.walls import WallLine, wall_dug

NONE = np.zeros((0, 3))
SIGMA = 0.05
# four walls that meet at no right angle, outward already the overdig asked for
CORNERS = np.array([[0.0, 0.0], [52.0, -6.0], [60.0, 36.0], [-4.0, 44.0]])
A_WALL = 5


def spots():
    """Shots round the ring, each corner and five between: (24, 2)."""
    share = np.arange(A_WALL + 1)[:, None] / (A_WALL + 1)
    ends = np.roll(CORNERS, -1, axis=0)
    return np.concatenate([a + share * (b - a) for a, b in zip(CORNERS, ends, strict=True)])


def measured(ring, sigma=SIGMA):
    """Every corner, and the two diagonals, of shots round the ring; corners are both walls'."""
    walls, each = [], A_WALL + 1
    for k in range(4):
        own = ring[np.arange(k * each, (k + 1) * each + 1) % len(ring)]
        line = WallLine(start=CORNERS[k], end=CORNERS[(k + 1) % 4])
        walls.append(wall_dug(line, np.column_stack([own, np.zeros(len(own))]), NONE, sigma))
    corners = [
        corner_dug(walls[k - 1], walls[k], CORNERS[[k - 1, k, (k + 1) % 4]], sigma)
        for k in range(4)
    ]
    return corners, diagonals(corners, CORNERS, sigma)


def test_a_corner_moves_with_each_shot_by_its_pull():
    corners, _ = measured(spots())
    for shot in range(len(spots())):
        for way in (0, 1):
            moved = spots()
            moved[shot, way] += 1e-6
            seen, _ = measured(moved)
            for corner, now in zip(corners, seen, strict=True):
                pull = corner.pull.get(tuple(spots()[shot].tolist()), np.zeros((2, 2)))
                assert (now.at - corner.at) / 1e-6 == pytest.approx(pull[:, way], abs=1e-5)


@pytest.fixture(scope="module")
def noisy():
    """1,000 rings with noise."""
    generator = np.random.default_rng(5)
    return [measured(spots() + generator.normal(0.0, SIGMA, (24, 2))) for _ in range(1000)]


def within(figure, truth):
    return abs(figure.value - truth) <= figure.plus_minus_95


def test_the_95_per_cent_of_angles_and_diagonals_hold(noisy):
    # 4,000 and 2,000 figures, those of one ring related: 1.5 % is more than three deviations
    angles = [within(c.angle_degrees, c.asked_degrees) for corners, _ in noisy for c in corners]
    assert np.mean(angles) == pytest.approx(0.95, abs=0.015)
    ways = [within(one.dug, one.asked) for _, across in noisy for one in across]
    assert np.mean(ways) == pytest.approx(0.95, abs=0.015)


@pytest.mark.parametrize("by", [(0.0, 0.0), (0.3, 0.0)])
def test_the_95_per_cent_of_offsets_hold_at_the_design_and_away_from_it(by):
    generator, held = np.random.default_rng(6), []
    for _ in range(500):
        corners, _ = measured(spots() + by + generator.normal(0.0, SIGMA, (24, 2)))
        held += [within(corner.offset, math.hypot(*by)) for corner in corners]
    assert np.mean(held) > 0.945


def test_without_a_sigma_there_is_no_plus_or_minus():
    corners, across = measured(spots(), None)
    figures = [*(c.offset for c in corners), *(c.angle_degrees for c in corners)]
    figures += [one.dug for one in across]
    assert {figure.plus_minus_95 for figure in figures} == {None}
    assert {figure.is_significant for figure in figures} == {None}
