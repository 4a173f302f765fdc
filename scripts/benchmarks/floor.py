"""The dig's floor changed on a job that is worked out. Error: the volume dug."""

from pathlib import Path

import numpy as np

from scripts.benchmarks.case import Case
from scripts.benchmarks.files import FLOOR, JOB, job_volume, made_apart
from terrain.job.answer import Volumes
from terrain.job.changed import redo, with_floor
from terrain.job.load import load_job
from terrain.job.volumes import told, work_out
from terrain.job.volumes import volumes as answer_of

DEEPER = FLOOR - 0.4


def _error(answer: Volumes) -> float:
    return abs(answer.ledger.total.quantity.bank / job_volume(DEEPER) - 1)


def ours(count: int, folder: Path) -> Case[Volumes]:
    """The answer anew, its plan drawing included; survey and ground are there already."""
    made_apart("job", count, folder)
    before = work_out(load_job(folder / JOB))
    changed = with_floor(before.job, DEEPER)
    return Case(work=lambda: told(redo(before, changed)), error=_error)


def afresh(count: int, folder: Path) -> Case[Volumes]:
    """The same from the job file on."""
    made_apart("job", count, folder)
    return Case(
        work=lambda: answer_of(with_floor(load_job(folder / JOB), DEEPER)),
        error=_error,
    )


def on_a_grid(count: int, folder: Path) -> Case[float]:
    """A difference on a grid of as many cells as shots; heights of the ground there are given."""
    from scripts.benchmarks.files import PER_EASTING, PER_NORTHING, UPWARD, dig_heights
    from scripts.benchmarks.peers import above, grid_over

    grid, cell = grid_over(15.0, count)
    ground = UPWARD + grid @ np.array([PER_EASTING, PER_NORTHING])
    return Case(
        work=lambda: above(ground - dig_heights(grid, DEEPER), cell),
        error=lambda volume: abs(volume / job_volume(DEEPER) - 1),
    )
