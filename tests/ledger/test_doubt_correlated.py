"""Errors that near shots share: the sum over pairs, exact and by cells, against the dense sum."""

import numpy as np
import pytest

from terrain.ledger import correlated
from terrain.ledger.correlated import ACCURACY, by_cells, correlated_variance


def dense(plan, weight, reach):
    """Every pair, the spherical model written out."""
    total = 0.0
    for i in range(len(plan)):
        away = np.hypot(*(plan - plan[i]).T) / reach
        rho = np.where(away < 1, 1 - 1.5 * away + 0.5 * away**3, 0.0)
        total += weight[i] * float(rho @ weight)
    return total


CASES = [(2, 5.0), (60, 7.0), (400, 3.0), (900, 30.0), (700, 500.0)]


def case(count, seed=11):
    rng = np.random.default_rng([seed, count])
    return rng.random((count, 2)) * [100.0, 60.0], rng.random(count)


@pytest.mark.parametrize(("count", "reach"), CASES)
def test_the_sum_over_pairs_is_the_dense_sum(count, reach):
    plan, weight = case(count)
    weight = weight - 0.3
    wanted = dense(plan, weight, reach)
    assert correlated_variance(plan, weight, reach) == pytest.approx(wanted, rel=1e-10)


@pytest.mark.parametrize(("count", "reach"), CASES)
def test_the_sum_by_cells_is_within_its_stated_share_of_the_dense_sum(count, reach):
    plan, weight = case(count)
    assert by_cells(plan, weight, reach) == pytest.approx(dense(plan, weight, reach), rel=ACCURACY)
    # of both signs the sum may nearly cancel: the share is of what it would be without
    mixed = weight - 0.3
    scale = dense(plan, abs(mixed), reach)
    assert by_cells(plan, mixed, reach) == pytest.approx(dense(plan, mixed, reach),
                                                          abs=ACCURACY * scale)  # fmt: skip


def test_so_many_pairs_that_they_go_by_cells_give_the_same(monkeypatch):
    plan, weight = case(900)
    exact = correlated_variance(plan, weight, 30.0)
    monkeypatch.setattr(correlated, "PAIRS_ONE_BY_ONE", 1000)
    fast = correlated_variance(plan, weight, 30.0)
    assert fast != exact
    assert fast == pytest.approx(exact, rel=ACCURACY)


def test_two_shots_share_what_their_distance_says():
    """Half the range apart: 1 - 0.75 + 0.0625 of the variance, by hand."""
    plan, weight = np.array([[0.0, 0.0], [3.0, 4.0]]), np.array([2.0, 3.0])
    assert correlated_variance(plan, weight, 10.0) == pytest.approx(4 + 9 + 12 * 0.3125)
    assert correlated_variance(plan, weight, 5.0) == pytest.approx(13.0)
    assert correlated_variance(plan, weight, 0.0) == 13.0


def test_with_a_range_far_wider_than_the_site_it_is_a_datum():
    plan, weight = case(300)
    assert correlated_variance(plan, weight, 1e7) == pytest.approx(weight.sum() ** 2, rel=1e-4)


def test_a_dense_strip_and_one_shot_far_off_take_no_endless_grid():
    plan = np.concatenate([case(500)[0], [[1e6, 3e5]]])
    weight = np.ones(501)
    assert correlated_variance(plan, weight, 5.0) == pytest.approx(
        dense(plan, weight, 5.0), rel=1e-10
    )


def test_errors_drawn_with_that_covariance_scatter_as_it_says():
    """4,000 made error fields over 80 shots, by the covariance's own root."""
    plan, weight = case(80)
    gap = np.hypot(*(plan[:, None] - plan).transpose(2, 0, 1)) / 25.0
    rho = np.where(gap < 1, 1 - 1.5 * gap + 0.5 * gap**3, 0.0)
    root = np.linalg.cholesky(rho + 1e-12 * np.eye(80))
    sums = (root @ np.random.default_rng(5).normal(size=(80, 4000))).T @ weight
    assert np.mean(sums**2) == pytest.approx(correlated_variance(plan, weight, 25.0), rel=0.06)
