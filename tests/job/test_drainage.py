"""Drainage as told: names of walls, site coordinates, words that say what to mend."""

from dataclasses import replace

import numpy as np
import pytest

from terrain.base.frame import LocalFrame
from terrain.base.units import FOOT, METRE
from terrain.job.drainage import drainage
from terrain.job.drainage_cautions import drainage_cautions
from terrain.lot.rays import Settling
from terrain.surface.patches import from_polygons
from tests.lot.made_lot import HOUSE, apron, lot, pad, plane

FRAME = LocalFrame(easting=5000.0, northing=-300.0)


def told(finished, ground=None, settling=None, unit=FOOT):
    drained = drainage(ground or plane(100.0), finished, settling, FRAME, unit)
    return drained, [(c.code, c.wall, c.message) for c in drainage_cautions(drained, unit)]


def test_a_lot_that_drains_says_nothing_is_wrong():
    drained, cautions = told(lot(), plane(100.0, 0.02))
    assert cautions == []
    assert drained.failures == drained.ponds == drained.returns == ()
    assert sum(out.share for out in drained.outlets) == pytest.approx(1.0, abs=0.03)
    assert drained.outlets[0].spot[0] == pytest.approx(5000.0 + (-60.0), abs=1.0)


def test_a_fall_of_0_499_is_told_once_a_wall_with_the_rule_s_source():
    drained, cautions = told(lot(apron=apron(0.0499)), plane(100.0, 0.02))
    assert {failed.wall for failed in drained.failures} == {"front", "right", "back", "left"}
    assert [wall for _, wall, _ in cautions] == ["front", "right", "back", "left"]
    for code, _, message in cautions:
        assert code == "fall_from_house"
        assert "falls 0.499 ft in 10.0 ft; 0.50 ft at least is asked" in message
        assert "IRC R401.3, as quoted" in message
    first = drained.failures[0]
    np.testing.assert_allclose(first.spot, [5000.0, -300.0], atol=1e-5)
    np.testing.assert_allclose(first.to, [5000.0, -310.0], atol=1e-5)
    assert (first.distance, first.end) == (10.0, "distance")


def test_what_fails_only_once_the_backfill_has_settled_says_so():
    low, high = HOUSE[0] - 4.0, HOUSE[2] + 4.0
    ring = np.array([low, [high[0], low[1]], high, [low[0], high[1]]])
    dig = from_polygons([ring], np.array([[0.0, 0.0, 92.0, 0.0, 0.0]]), [0])
    drained, cautions = told(lot(), plane(100.0, 0.02), settling=Settling(dig=dig, share=0.02))
    assert drained.settlement == 0.02
    assert "once the backfill has settled 2 % the ground falls 0.320 ft" in cautions[0][2]


def test_water_against_a_wall_names_the_wall_and_that_it_is_new():
    patio = pad([[5, -20], [25, -20], [25, 0], [5, 0]], 100.4, 0.0, -0.02)
    drained, cautions = told(lot(pads=(patio,)), plane(100.0))
    (pond,) = drained.ponds
    assert pond.wall == "front"
    assert pond.before == 0.0
    assert 5005.0 <= pond.spot[0] <= 5025.0
    (message,) = [text for code, _, text in cautions if code == "pond"]
    assert "against wall front" in message
    assert message.startswith("New, made by this grading: water will stand")
    assert f"fill it to {pond.level:.2f}" in message
    assert drained.is_new(pond)
    rising = [text for code, wall, text in cautions if (code, wall) == ("fall_from_house", "front")]
    assert len(rising) == 1
    assert "the ground rises" in rising[0]


def test_a_pond_of_today_is_told_from_one_that_the_grading_makes_or_deepens():
    patio = pad([[5, -20], [25, -20], [25, 0], [5, 0]], 100.4, 0.0, -0.02)
    drained, _ = told(lot(pads=(patio,)), plane(100.0))
    (pond,) = drained.ponds
    for before, is_new, words in (
        (0.0, True, "New, made by this grading"),
        (0.09, True, "New, made by this grading"),
        (0.11, False, "There today, up to 0.11 ft deep, and made deeper"),
        (pond.depth - 0.05, False, "this grading does not drain it"),
    ):
        seen = replace(drained, ponds=(replace(pond, before=before),))
        (message,) = [c.message for c in drainage_cautions(seen, FOOT) if c.code == "pond"]
        assert words in message
        assert seen.is_new(seen.ponds[0]) is is_new


def test_a_metric_job_is_told_in_metres():
    drained, cautions = told(lot(apron=apron(0.04, 101.0)), plane(100.0, 0.02), unit=METRE)
    assert drained.rule.distance == 3.0
    assert "0.15 m at least is asked" in cautions[0][2]
    assert "falls 0.120 m in 3.0 m" in cautions[0][2]
