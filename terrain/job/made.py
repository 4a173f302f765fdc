"""What an answer was made from: job file, survey files, soil, reference system, date."""

import datetime
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path

from terrain.job.answer import InputFile
from terrain.job.ground import input_files
from terrain.job.volumes import Worked
from terrain.ledger.soil import SoilFactors


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeFrom:
    """`inputs` name every file with its checksum; `crs` is None for a local grid."""

    soil: SoilFactors
    inputs: tuple[InputFile, ...]
    crs: str | None
    job_file: str
    version: str
    date: str


def made_from(worked: Worked) -> MadeFrom:
    """What a job that is worked out was made from, today."""
    return MadeFrom(
        soil=worked.soil,
        inputs=input_files(worked.job, worked.survey),
        crs=worked.job.site.crs,
        job_file=Path(worked.job.file).name,
        version=version("spoilbank"),
        date=datetime.date.today().isoformat(),
    )
