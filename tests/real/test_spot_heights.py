"""The 52 spot heights: their Delaunay triangulation is unique, so its figures are exact."""

import numpy as np
import pytest

from terrain.surface.overlay import overlay
from terrain.surface.patches import from_polygons
from terrain.surface.tin import build_tin, tin_surface
from tests.laws.jobs import ledger
from tests.oracles import solids
from tests.oracles.moving import Front
from tests.real.lots import HEIGHTS_FLOOR, HEIGHTS_HOUSE, HEIGHTS_RUNS, write_heights

TRIANGLES = 87
HULL = 89_975.0
LEVEL = 690.0
ABOVE = 12_737_625.0
"""C in SOURCES: computed from the inputs, not printed by a source."""


def test_the_tin_has_87_triangles(heights):
    assert len(heights) == 52
    assert len(build_tin(heights)) == TRIANGLES


def test_the_hull_and_the_volume_above_690_are_exact(heights):
    box = np.array([[-500.0, -500.0], [900.0, -500.0], [900.0, 900.0], [-500.0, 900.0]])
    level = from_polygons([box], np.array([[0.0, 0.0, LEVEL, 0.0, 0.0]]), np.array([0]))
    seen = overlay(tin_surface(build_tin(heights)), level)
    assert seen.area.sum() == pytest.approx(HULL, rel=1e-15)
    assert seen.volume_above.sum() - seen.volume_below.sum() == pytest.approx(ABOVE, rel=1e-15)


def test_the_main_job_digs_a_house_out_of_them_as_the_closed_solid_does(heights, cache, tmp_path):
    job = write_heights(cache, tmp_path)
    tin = build_tin(heights - [150.0, 150.0, 0.0])
    front = Front.of(HEIGHTS_HOUSE - 150.0)
    pit = solids.sloped_pit(front.normal, front.reach + 2.0, HEIGHTS_RUNS, HEIGHTS_FLOOR, 160.0)
    earth = solids.prisms(tin.points, tin.triangles.astype(np.int64), 600.0)
    wanted = (earth ^ pit).volume() / 27
    assert ledger(job).total.quantity.bank == pytest.approx(wanted, rel=1e-9)
