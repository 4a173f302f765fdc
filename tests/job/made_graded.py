"""A lot graded round a house on level ground, and shots of it: closed forms throughout.

House 40 by 30, wall grade 101 on ground at 100: an apron of 10 at 1:20 down to 100.5, then 3:1 to
the ground at 11.5 from the wall.
"""

from pathlib import Path
from typing import Any

import numpy as np

from terrain.job.asgraded import graded_surveys
from terrain.job.asgraded_record import GradedSurvey
from terrain.job.graded import grade_out
from terrain.job.load import load_job
from terrain.job.volumes import work_out
from tests.job.made_job import toml
from tests.job.test_grade import job, shots

HOUSE = np.array([[0.0, 0.0], [40.0, 0.0], [40.0, 30.0], [0.0, 30.0]])
OUTWARD = np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])
LOT_LINE = np.array([[-90.0, -90.0], [130.0, -90.0], [130.0, 120.0], [-90.0, 120.0]])
AREA = 220.0 * 210.0 - 1200.0
"""Of the lot outside the house, in ft2."""

Row = tuple[float, float, float, str]
"""Easting, northing, elevation, line."""


def design_shots() -> list[Row]:
    """Shots that make the finished surface exactly: every ring of it and its mitres as lines."""
    rings = [(HOUSE, 101.0), (HOUSE + 10.0 * OUTWARD, 100.5), (HOUSE + 11.5 * OUTWARD, 100.0)]
    rows = [
        (*spot, height, f"ring {k}")
        for k, (ring, height) in enumerate(rings)
        for spot in (*ring.tolist(), ring[0].tolist())
    ]
    rows += [(*ring[k].tolist(), height, f"mitre {k}") for k in range(4) for ring, height in rings]
    rows += [(*spot, 100.0, "") for spot in LOT_LINE.tolist()]
    return rows


def written(rows: list[Row]) -> str:
    """The shots as a file."""
    lines = ["northing,easting,elevation,line"]
    lines += [f"{n!r},{e!r},{z!r},{line}" for e, n, z, line in rows]
    return "\n".join(lines) + "\n"


def graded(folder: Path, rows: list[Row], **changes: Any) -> GradedSurvey:
    """The answer of the one survey of these shots; `changes` are tables of the job."""
    folder.mkdir(exist_ok=True, parents=True)
    (folder / "shots.csv").write_text(shots())
    (folder / "graded.csv").write_text(written(rows))
    data = job() | {"asgraded": [{"date": "2027-07-01", "shots": ["graded.csv"]}]} | changes
    (folder / "job.toml").write_text(toml(data))
    worked = work_out(load_job(folder / "job.toml"))
    (survey,) = graded_surveys(grade_out(worked, lambda stage: None))
    return survey
