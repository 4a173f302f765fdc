"""A face is left out only where it is clear of the other surface: no volume is lost."""

import numpy as np
import pytest

from terrain.surface import screen
from terrain.surface.overlay import overlay
from tests.surface.made_surfaces import box, random_tin, turned


@pytest.mark.parametrize("where", ["above", "below"])
@pytest.mark.parametrize("seed", range(12))
def test_screening_changes_no_volume(monkeypatch, seed, where):
    monkeypatch.setattr(screen, "FEWEST_FACES", 0)
    rng = np.random.default_rng(seed)
    fine = random_tin(seed, count=400, relief=2.0)
    west, south = rng.uniform(-60, 20, 2)
    wide, high = rng.uniform(5, 80, 2)
    coarse = box(
        west, south, west + wide, south + high, 100 + rng.uniform(-2, 2), *rng.uniform(-1, 1, 2)
    )
    coarse = turned(coarse, float(rng.uniform(0, 90)))
    kept = screen.screened(screen.screen_of(fine), coarse, where)
    field = f"volume_{where}"
    whole, seen = (getattr(overlay(s, coarse), field).sum() for s in (fine, kept))
    assert seen == pytest.approx(whole, rel=1e-13, abs=1e-300)


def test_faces_far_below_are_left_out(monkeypatch):
    monkeypatch.setattr(screen, "FEWEST_FACES", 0)
    fine = random_tin(1, count=400, relief=1.0)
    ready = screen.screen_of(fine)
    assert len(screen.screened(ready, box(-60, -60, 60, 60, 105.0), "above")) == 0
    half = screen.screened(ready, box(-60, -60, 0, 60, 95.0), "above")
    assert 0.3 * len(fine) < len(half) < 0.7 * len(fine)
