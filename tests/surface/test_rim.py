"""The rim of a cut: every line of it bounds what is cut, and together they hold its area."""

import math

import numpy as np
import pytest

from terrain.surface.overlay import overlay
from terrain.surface.patches import from_polygons
from terrain.surface.rim import cut_region, rim_lines
from terrain.surface.tin import build_tin, tin_surface


def level_pad(low: float, high: float, upward: float):
    ring = np.array([[low, low], [high, low], [high, high], [low, high]])
    return from_polygons([ring], np.array([[0.0, 0.0, upward, 0.0, 0.0]]), np.array([0]))


def lot(upward) -> np.ndarray:
    """Shots every foot over 40 by 40 ft, shaken so that no four stand on one circle."""
    plan = np.stack(np.meshgrid(np.arange(41.0), np.arange(41.0)), axis=-1).reshape(-1, 2)
    plan = plan + np.random.default_rng(0).normal(0.0, 0.01, plan.shape)
    return np.column_stack([plan, upward(np.hypot(*(plan - 20.0).T))])


def doubled_area(line: np.ndarray) -> float:
    return float(np.sum(line[:-1, 0] * line[1:, 1] - line[1:, 0] * line[:-1, 1]))


GROUNDS = {
    "a hill": lambda r: 9.0 - r,
    "a pond in the middle": lambda r: np.where(r < 3.0, -5.0, 10.0),
    "a pond with an island": lambda r: np.where((r > 3.0) & (r < 8.0), -5.0, 10.0),
    "rings": lambda r: np.cos(r),
}


@pytest.mark.parametrize("name", GROUNDS)
def test_rim_lines_close_and_hold_the_area_of_the_cut(name):
    tin = build_tin(lot(GROUNDS[name]))
    ground, pad = tin_surface(tin), level_pad(2.0, 38.0, 0.0)
    pairs = overlay(ground, pad)
    lines = rim_lines(ground, tin.neighbours, pad, pairs)
    wanted = math.fsum(pairs.area_above)
    assert all(np.array_equal(line[0], line[-1]) for line in lines)
    assert sum(map(doubled_area, lines)) / 2 == pytest.approx(wanted, rel=1e-7)
    assert cut_region(ground, tin.neighbours, pad, pairs).area == pytest.approx(wanted, rel=1e-7)


def test_a_pond_within_the_cut_has_one_line_round_it():
    tin = build_tin(lot(GROUNDS["a pond in the middle"]))
    ground, pad = tin_surface(tin), level_pad(2.0, 38.0, 0.0)
    lines = rim_lines(ground, tin.neighbours, pad, overlay(ground, pad))
    assert [doubled_area(line) > 0 for line in lines] == [True, False]


def test_nothing_cut_has_no_rim():
    tin = build_tin(lot(GROUNDS["a hill"]))
    pad = level_pad(2.0, 38.0, 50.0)
    assert rim_lines(tin_surface(tin), tin.neighbours, pad, overlay(tin_surface(tin), pad)) == ()
