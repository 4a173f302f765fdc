"""A job from its files to its answer. Error: the volume dug."""

from pathlib import Path

from scipy.spatial import Delaunay

from scripts.benchmarks.case import Case
from scripts.benchmarks.files import JOB, job_shots, job_volume, made_apart
from terrain.job.answer import Volumes
from terrain.job.load import load_job
from terrain.job.volumes import volumes as answer_of


def volumes(count: int, folder: Path) -> Case[Volumes]:
    """Job file and CSV to the ledger."""
    made_apart("job", count, folder)
    return Case(
        work=lambda: answer_of(load_job(folder / JOB)),
        error=lambda answer: abs(answer.ledger.total.quantity.bank / job_volume() - 1),
    )


def scipy_delaunay(count: int, folder: Path) -> Case[Delaunay]:
    """Only the triangles of the same shots, read already."""
    plan = job_shots(count)[:, :2] - job_shots(count)[0, :2]
    return Case(work=lambda: Delaunay(plan))
