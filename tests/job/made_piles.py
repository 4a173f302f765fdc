"""A dig beside which its earth lies in piles, on level ground at 100."""

from pathlib import Path
from typing import Any

from terrain.job.load import load_job
from terrain.job.volumes import work_out
from terrain.job.worked import Worked
from tests.job.made_job import toml
from tests.job.test_grade import job, shots

Shot = tuple[float, float, float, str]
"""Easting, northing, elevation, code."""


def heap(
    corner: tuple[float, float], size: tuple[float, float], high: float, code: str
) -> list[Shot]:
    """Shots of a pyramid: four at its foot, one on top; it holds a third of base times height."""
    e, n = corner
    wide, deep = size
    rim = [(e, n), (e + wide, n), (e + wide, n + deep), (e, n + deep)]
    return [
        *((x, y, 100.0, code) for x, y in rim),
        (e + wide / 2, n + deep / 2, 100.0 + high, code),
    ]


def written(rows: list[Shot]) -> str:
    """The shots as a file."""
    lines = ["northing,easting,elevation,code"]
    return "\n".join([*lines, *(f"{n!r},{e!r},{z!r},{code}" for e, n, z, code in rows)]) + "\n"


def worked_with(folder: Path, rows: list[Shot], keys: dict[str, Any], **changes: Any) -> Worked:
    """The job worked out with these piles in `piles.csv`."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "shots.csv").write_text(shots())
    (folder / "piles.csv").write_text(written(rows))
    survey = {"date": "2027-05-04", "shots": ["piles.csv"]} | keys
    data = job() | {"piles": [survey]} | changes
    (folder / "job.toml").write_text(toml(data))
    return work_out(load_job(folder / "job.toml"))
