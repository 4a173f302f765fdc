"""The excavated body as other libraries see it: closed, and as large as the ledger says."""

from pathlib import Path

import numpy as np
import pytest
import trimesh

from terrain.base.units import LENGTH_UNITS
from terrain.job.design import lay_out
from terrain.job.ground import existing_ground, read_survey
from terrain.job.load import load_job
from terrain.pit.dig import dig_of
from terrain.pit.solid import dig_solid
from tests.laws.jobs import ledger
from tests.laws.test_fixtures import JOBS
from tests.laws.test_random_jobs import random_job
from tests.oracles.solids import closed

SOLID = 1e-9


def body_and_bank(path: Path) -> tuple[np.ndarray, np.ndarray, float]:
    """Vertices, faces, and the ledger's total in cubic length units."""
    job = load_job(path)
    survey = read_survey(job)
    layout = lay_out(job, survey.shots)
    existing = existing_ground(job, survey, layout.frame)
    dig = dig_of(layout.design, existing.tin.points)
    solid = dig_solid(existing.ground.surface, dig.surface)
    answer = ledger(path)
    cubic = LENGTH_UNITS[answer.length_unit].cubic_units_per_volume_unit
    return solid.vertices, solid.faces, answer.total.quantity.bank * cubic


def check(path: Path) -> None:
    vertices, faces, bank = body_and_bank(path)
    assert closed(vertices, faces).volume() == pytest.approx(bank, rel=SOLID)
    mesh = trimesh.Trimesh(vertices, faces, process=False)
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    assert mesh.volume == pytest.approx(bank, rel=SOLID)


@pytest.mark.parametrize("name", list(JOBS))
def test_the_body_of_a_fixture_is_closed_and_holds_the_ledgers_total(name):
    check(JOBS[name])


@pytest.mark.parametrize("seed", range(12))
def test_the_body_of_a_random_job_is_closed_and_holds_the_ledgers_total(seed, tmp_path):
    check(random_job(tmp_path, seed))
