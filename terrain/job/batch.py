"""Many jobs at once: which there are under a folder, what became of each, what need not be redone.

What is done of a job is kept as a record beside its answer. The record is bound by a checksum to
the question, to this version and to every file that the job is read from, so that a batch started
again does only what is missing or changed.
"""

import hashlib
import json
import os
import tomllib
from collections.abc import Iterator
from dataclasses import asdict, dataclass, field
from enum import StrEnum
from importlib.metadata import version
from pathlib import Path
from typing import Any

from terrain.base.errors import Fault, JobError, SpoilbankError
from terrain.billing.register import FILE
from terrain.job.figure import foundation_figure
from terrain.job.ground import read_survey
from terrain.job.kept import register_of
from terrain.job.load import Job, load_job
from terrain.job.schema import REQUIRED_TABLES
from terrain.job.toml_text import LARGEST_FILE
from terrain.survey.files import sha256_of_file

RECORD = "asked.json"
"""The file beside an answer that says what it is the answer to."""

Corner = tuple[float, float]


class Status(StrEnum):
    """What became of a job."""

    DONE = "done"
    """Worked out now."""
    KEPT = "kept"
    """Worked out by an earlier batch from the very same files."""
    REFUSED = "refused"
    """It can't be worked out as it stands; the message says why."""
    FAILED = "failed"
    """Whoever worked on it died or broke; another try may succeed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """One job to ask one question of; all paths are absolute, so that any worker finds them.

    Args:
        job: the job file.
        name: its path below the folder of the batch, as it is shown.
        question: the command that answers, such as `volumes`.
        folder: where the answer goes; None where nothing is to be written.
        pages: whether the files of the command are wanted or its figures alone.
    """

    job: str
    name: str
    question: str
    folder: str | None
    pages: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What became of a task: figures by name, and where the foundation stands on the site.

    `outline` is empty where it isn't known; `seconds` are those of the worker.
    """

    name: str
    status: Status
    message: str = ""
    title: str = ""
    length_unit: str = ""
    volume_unit: str = ""
    crs: str | None = None
    figures: dict[str, float | str | None] = field(default_factory=dict)
    outline: tuple[Corner, ...] = ()
    seconds: float = 0.0


def find_jobs(folder: Path, spared: Path | None = None) -> tuple[Path, ...]:
    """Every job file under a folder, in the order of their paths, links to folders not followed.

    A job file ends in `.toml` and has at least one of the tables that every job must have; one
    that can't be read is taken for a job, so that its fault is told. Hidden folders and `spared`,
    where answers go, are passed over.

    Raises:
        JobError: the folder is not there or holds no job.
    """
    if not folder.is_dir():
        said = (
            "is a file; name the folder that holds the jobs" if folder.exists() else "is not there"
        )
        raise JobError(Fault(file=str(folder), message=f"the folder of jobs {said}"))
    found = tuple(sorted(_job_files(folder, None if spared is None else spared.resolve())))
    if not found:
        tables = ", ".join(f"[{name}]" for name in REQUIRED_TABLES)
        message = f"holds no job: no .toml file under it has any of the tables {tables}"
        raise JobError(Fault(file=str(folder), message=message))
    return found


def _job_files(folder: Path, spared: Path | None) -> Iterator[Path]:
    for place, below, files in os.walk(folder):
        here = Path(place)
        below[:] = [name for name in below if name[0] != "." and (here / name).resolve() != spared]
        for name in files:
            path = here / name
            if path.suffix.casefold() == ".toml" and name[0] != "." and _is_job(path):
                yield path


def _is_job(path: Path) -> bool:
    try:
        if path.stat().st_size > LARGEST_FILE:
            return False
        data = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except (OSError, ValueError, RecursionError):
        return True
    return any(name in data for name in REQUIRED_TABLES)


def tasks_of(
    jobs: tuple[Path, ...], root: Path, question: str, out: Path | None, *, pages: bool
) -> tuple[Task, ...]:
    """A task a job; answers go to folders under `out` that are called as the jobs are."""
    tasks = []
    for job in jobs:
        name = job.relative_to(root)
        folder = None if out is None else str((out / name.with_suffix("")).absolute())
        tasks.append(
            Task(
                job=str(job.absolute()),
                name=name.as_posix(),
                question=question,
                folder=folder,
                pages=pages,
            )
        )
    return tuple(tasks)


def fingerprint(task: Task, job: Job) -> str | None:
    """A checksum over question, version and every file that the job is read from.

    None where one of the files can't be read: then there is nothing to go by.
    """
    digest = hashlib.sha256(f"{task.question} {task.pages} {version('spoilbank')}".encode())
    try:
        for path in (*job.read_from, *_read_besides(task, job)):
            digest.update(f"\n{sha256_of_file(path)}".encode())
    except (OSError, SpoilbankError):
        return None
    return digest.hexdigest()


def _read_besides(task: Task, job: Job) -> tuple[Path, ...]:
    """What a statement rests on besides the job's own files: the register, and those of the bid."""
    if task.question != "statement":
        return ()
    register = register_of(job).folder / FILE
    found = [register] if register.exists() else []
    if job.billing is not None and job.billing.bid is not None:
        found += load_job(job.path(job.billing.bid)).read_from
    return tuple(found)


def record_text(outcome: Outcome, mark: str, files: tuple[Path, ...]) -> str:
    """The record of an answer: what it is bound to, what became of it, its files with sizes."""
    sizes = {path.name: path.stat().st_size for path in files}
    record = {"fingerprint": mark, "files": sizes, "outcome": asdict(outcome)}
    return json.dumps(record, indent=2, ensure_ascii=True) + "\n"


def kept_outcome(task: Task, mark: str | None) -> Outcome | None:
    """The outcome that an earlier batch kept of this very task, if its files still stand there."""
    if task.folder is None or mark is None:
        return None
    folder = Path(task.folder)
    try:
        record: dict[str, Any] = json.loads((folder / RECORD).read_text(encoding="utf-8"))
        whole = all((folder / n).stat().st_size == size for n, size in record["files"].items())
        if record["fingerprint"] != mark or not whole:
            return None
        told = record["outcome"]
        told["outline"] = tuple((east, north) for east, north in told["outline"])
        return Outcome(**(told | {"status": Status.KEPT, "name": task.name}))
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return None  # no record, or one that is not whole: the job is done again


def outline_of(job: Job) -> tuple[Corner, ...]:
    """The corners of the foundation on the site; the survey is read only where it needs stakes."""
    shots = read_survey(job).shots if job.foundation.stakes is not None else None
    figure = foundation_figure(job, shots)
    return tuple(
        (float(east), float(north)) for east, north in figure.frame.to_site(figure.corners)
    )
