"""A scan put on the site by targets, and moved onto stable ground; what can't be is refused."""

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from terrain.base.errors import SurveyError
from terrain.base.units import LENGTH_UNITS
from terrain.survey.control import ControlAsked, Target, control_fit, control_sentence
from terrain.survey.refine import refine, refined_sentence

FT = LENGTH_UNITS["ft"]
SITE = np.array([[500.0, 300.0, 100.0], [560.0, 310.0, 104.0], [520.0, 350.0, 98.0],
                 [555.0, 352.0, 107.0], [530.0, 320.0, 101.0]])  # fmt: skip
TURN = Rotation.from_euler("zyx", [70.0, 3.0, -2.0], degrees=True).as_matrix()


def scan_of(site, scale=1.0):
    return scale * (site - np.array([510.0, 300.0, 95.0])) @ TURN


def asked_of(site=SITE, scan=None, **more):
    scan = scan_of(SITE) if scan is None else scan
    return ControlAsked(
        targets=tuple(
            Target(name=f"T{k + 1}", scan=tuple(own), site=tuple(there))
            for k, (own, there) in enumerate(zip(scan.tolist(), site.tolist(), strict=True))
        ),
        **more,
    )


def fitted(asked):
    return control_fit(asked, np.array([target.scan for target in asked.targets]), FT)


def test_a_floating_scan_is_put_on_the_site_by_its_targets():
    fit = fitted(asked_of())
    ground = np.random.default_rng(1).uniform([500, 300, 95], [560, 350, 110], (50, 3))
    assert np.allclose(fit.to_site(scan_of(ground)), ground, atol=1e-9)
    said = control_sentence(asked_of(), fit, "scan.ply", FT)
    assert "by 5 targets" in said
    assert "T5 0.000" in said


def test_three_targets_hold_a_scan_and_a_fourth_is_recommended():
    asked = asked_of(SITE[:3], scan_of(SITE[:3]))
    assert fitted(asked).misses.max() < 1e-9
    assert "A fourth target" in control_sentence(asked, fitted(asked), "s", FT)


def test_scale_is_changed_only_when_asked():
    scan = scan_of(SITE, 1 / 1.01)
    with pytest.raises(SurveyError, match=r"fit only at 1\.01000 times the size"):
        fitted(asked_of(scan=scan))
    assert fitted(asked_of(scan=scan, scaled=True)).scale == pytest.approx(1.01, rel=1e-12)
    with pytest.raises(SurveyError, match="unit stated right"):
        fitted(asked_of(scan=scan_of(SITE, 0.3048), scaled=True))


def test_a_scale_is_advised_only_where_it_would_be_taken():
    with pytest.raises(SurveyError, match="write scale = true"):
        fitted(asked_of(scan=scan_of(SITE, 1.01)))
    with pytest.raises(SurveyError, match="unit stated right") as caught:
        fitted(asked_of(scan=scan_of(SITE, 0.3048)))
    assert "scale = true" not in str(caught.value)


def test_targets_a_hair_apart_are_at_one_spot_too():
    near = SITE.copy()
    near[1] = near[0] + 0.001
    with pytest.raises(SurveyError, match="T1 and T2 are at one spot on the site"):
        fitted(asked_of(near))


def test_the_target_that_disagrees_with_the_rest_is_named():
    wrong = SITE.copy()
    wrong[2, 1] += 0.5
    with pytest.raises(SurveyError, match="T3 disagrees with the rest"):
        fitted(asked_of(wrong))
    with pytest.raises(SurveyError, match="can't be told"):
        fitted(asked_of(wrong[:3], scan_of(SITE[:3])))
    assert fitted(asked_of(wrong, tolerance=0.5)).misses.max() > 0.2


@pytest.mark.parametrize("count", [3, 5])
def test_a_mirrored_control_set_is_refused(count):
    mirrored = scan_of(SITE[:count])[:, [1, 0, 2]]
    with pytest.raises(SurveyError, match="mirrored"):
        fitted(asked_of(SITE[:count], mirrored))


def test_swapped_names_are_refused():
    with pytest.raises(SurveyError):
        fitted(asked_of(scan=scan_of(SITE)[[1, 0, 2, 3, 4]]))


@pytest.mark.parametrize(
    ("site", "scan", "said"),
    [
        (SITE[:2], scan_of(SITE[:2]), "give three or more"),
        (SITE[:1], scan_of(SITE[:1]), "1 target can't hold"),
        (SITE[[0, 1, 1]], scan_of(SITE[[0, 1, 2]]), "T2 and T3 are at one spot on the site"),
        (SITE[[0, 1, 2]], scan_of(SITE[[0, 1, 1]]), "T2 and T3 are at one spot in the scan"),
        (
            np.outer([0.0, 1.0, 3.0], [10.0, 5.0, 1.0]),
            scan_of(np.outer([0.0, 1.0, 3.0], [10.0, 5.0, 1.0])),
            "in one line",
        ),
    ],
)
def test_targets_that_cannot_hold_a_scan_are_refused(site, scan, said):
    with pytest.raises(SurveyError, match=said) as caught:
        fitted(asked_of(site, scan))
    assert caught.value.faults[0].key == "existing.control.targets"


def wavy(plan):
    return 3.0 * np.sin(plan[:, 0] / 7.0) + 2.0 * np.cos(plan[:, 1] / 5.0)


def made_scan(upward, generator):
    plan = generator.uniform(0.0, 60.0, (40_000, 2))
    return np.column_stack([plan, upward(plan)])


def stable_shots(upward, generator, count=60):
    plan = generator.uniform(5.0, 55.0, (count, 2))
    return np.column_stack([plan, upward(plan)])


def test_a_scan_is_moved_every_way_onto_uneven_stable_ground():
    generator = np.random.default_rng(5)
    scan, stable = made_scan(wavy, generator), stable_shots(wavy, generator)
    turn = Rotation.from_euler("zyx", [0.3, 0.2, -0.2], degrees=True).as_matrix()
    floating = (scan - 30.0) @ turn.T + 30.0 + np.array([0.2, -0.15, 0.1])
    found = refine(floating, stable, 1.0, FT)
    assert found.kind == "every way"
    assert found.after < 0.1 * found.before
    assert np.abs(found.points - scan).max() < 0.03
    assert "onto 60 stable shots (every way)" in refined_sentence(found, "s", FT)


def test_flat_stable_ground_holds_height_and_tilt_only():
    generator = np.random.default_rng(6)
    flat = lambda plan: 0.02 * plan[:, 0]  # noqa: E731
    scan, stable = made_scan(flat, generator), stable_shots(flat, generator)
    floating = scan + np.array([0.3, 0.0, 0.2]) + np.outer(scan[:, 1], [0.0, 0.0, 0.004])
    found = refine(floating, stable, 1.0, FT)
    assert found.kind == "height and tilt"
    assert np.allclose(found.points[:, :2], floating[:, :2], atol=1e-12)
    assert np.allclose(found.points[:, 2], flat(found.points), atol=1e-9)


def test_stable_shots_without_scan_about_them_are_refused():
    generator = np.random.default_rng(7)
    scan, stable = made_scan(wavy, generator), stable_shots(wavy, generator)
    with pytest.raises(SurveyError, match="only 0 of 60 stable shots"):
        refine(scan, stable + 500.0, 1.0, FT)
