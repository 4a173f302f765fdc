"""Rigid fits: what was turned and shifted is found again, and who disagrees is named."""

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from terrain.survey.fit import fit_rigid, one_that_disagrees, spread_across

GENERATOR = np.random.default_rng(3)
FAR = np.array([2_000_000.0, 800_000.0, 300.0])
TARGETS = GENERATOR.uniform(-50, 50, (5, 3)) + FAR
TURN = Rotation.from_euler("zyx", [130.0, 4.0, -3.0], degrees=True).as_matrix()


def moved(points, scale=1.0):
    return scale * (points - FAR) @ TURN.T + np.array([10.0, 20.0, 30.0])


@pytest.mark.parametrize("scale", [1.0, 0.3048])
def test_a_scan_turned_shifted_and_scaled_is_put_back(scale):
    fit = fit_rigid(moved(TARGETS, scale), TARGETS, scaled=scale != 1.0)
    assert fit.misses.max() < 1e-8
    assert fit.scale == pytest.approx(1 / scale, rel=1e-12)
    assert np.allclose(fit.turn, TURN.T, atol=1e-12)
    assert np.allclose(fit.from_site(TARGETS), moved(TARGETS, scale), atol=1e-8)


def test_the_turn_is_the_one_of_another_library_where_targets_are_noisy():
    noisy = moved(TARGETS) + GENERATOR.normal(0, 0.1, TARGETS.shape)
    own, there = noisy - noisy.mean(axis=0), TARGETS - TARGETS.mean(axis=0)
    other, _ = Rotation.align_vectors(there, own)
    fit = fit_rigid(noisy, TARGETS, scaled=False)
    assert np.allclose(fit.turn, other.as_matrix(), atol=1e-9)


def test_in_plan_the_fit_is_the_one_of_complex_numbers():
    # z -> a z + b over the complex plane is the similarity; a by least squares in one line.
    plan = GENERATOR.uniform(0, 100, (6, 2))
    site = plan @ np.array([[0.6, 0.8], [-0.8, 0.6]]) * 1.02 + GENERATOR.normal(0, 0.2, (6, 2))
    z, w = plan @ [1, 1j], site @ [1, 1j]
    z, w = z - z.mean(), w - w.mean()
    a = (z.conj() @ w) / (z.conj() @ z)
    scaled, rigid = (fit_rigid(plan, site, scaled=s) for s in (True, False))
    assert scaled.scale == pytest.approx(abs(a), rel=1e-12)
    assert np.arctan2(scaled.turn[1, 0], scaled.turn[0, 0]) == pytest.approx(np.angle(a), abs=1e-12)
    assert np.arctan2(rigid.turn[1, 0], rigid.turn[0, 0]) == pytest.approx(np.angle(a), abs=1e-12)
    assert rigid.scale == 1.0


def test_the_target_that_disagrees_is_named_and_only_if_the_others_agree():
    wrong = TARGETS.copy()
    wrong[3] += [0.0, 0.4, 0.0]
    fits = {"scaled": False, "tolerance": 0.02}
    assert one_that_disagrees(moved(TARGETS), wrong, **fits) == 3
    wrong[1] += [0.5, 0.0, 0.0]
    assert one_that_disagrees(moved(TARGETS), wrong, **fits) is None


def test_a_mirrored_set_fits_only_when_turned_over():
    mirrored = moved(TARGETS) * [1.0, -1.0, 1.0]
    assert fit_rigid(mirrored, TARGETS, scaled=False).misses.max() > 1.0
    assert fit_rigid(mirrored, TARGETS, scaled=False, mirrored=True).misses.max() < 1e-8


def test_points_in_one_line_have_no_spread_across():
    line = np.outer(np.arange(4.0), [1.0, 2.0, 3.0])
    assert spread_across(line) < 1e-12
    assert spread_across(np.ones((3, 3))) == 0.0
    assert spread_across(TARGETS) > 0.1
