"""What a worker of a batch does with one job: ask the command itself, and keep what it answers."""

import contextlib
import io
import json
import threading
import time
from dataclasses import replace
from pathlib import Path
from typing import Any

from terrain.base.errors import SpoilbankError
from terrain.export.write import write_files
from terrain.job.batch import (
    RECORD,
    Outcome,
    Status,
    Task,
    fingerprint,
    kept_outcome,
    outline_of,
    record_text,
)
from terrain.job.batch_figures import figures_of
from terrain.job.load import load_job

ANSWER = "answer.json"
_ONE_AT_A_TIME = threading.Lock()
"""A command prints to the process's own output, so a worker with threads answers in turn."""


def work(task: Task) -> Outcome:
    """Ask the task's question of its job; what became of it, told and never raised."""
    began = time.perf_counter()
    with _ONE_AT_A_TIME:
        try:
            outcome = _asked(task)
        except SpoilbankError as error:
            outcome = _refused(task, str(error))
        except Exception as error:
            # Of any kind, for what breaks here is a fault of ours or of a library that no list
            # foresees: it becomes this job's outcome, and the batch goes on with the others.
            message = f"the program broke ({type(error).__name__}: {error}); please tell its makers"
            outcome = Outcome(name=task.name, status=Status.FAILED, message=message)
    return replace(outcome, seconds=time.perf_counter() - began)


def _asked(task: Task) -> Outcome:
    job = load_job(task.job)
    mark = fingerprint(task, job)
    kept = kept_outcome(task, mark)
    if kept is not None:
        return kept
    folder = None if task.folder is None else Path(task.folder)
    if folder is not None:
        (folder / RECORD).unlink(missing_ok=True)  # it must not vouch for files of this try
    status, said, complaint = _answer(task)
    if status != 0:
        return _refused(task, complaint)
    answer: dict[str, Any] = json.loads(said)
    outcome = Outcome(
        name=task.name,
        status=Status.DONE,
        title=job.title,
        length_unit=job.unit.name,
        volume_unit=job.unit.volume_name,
        crs=job.site.crs,
        figures=figures_of(task.question, answer),
        outline=outline_of(job),
    )
    if folder is not None and mark is not None:
        write_files(folder, {ANSWER: said.encode()}, job.read_from)
        standing = tuple(path for path in sorted(folder.iterdir()) if path.is_file())
        record = record_text(outcome, mark, standing)
        write_files(folder, {RECORD: record.encode()}, job.read_from)
    return outcome


def _answer(task: Task) -> tuple[int, str, str]:
    """Exit status, standard output and standard error of the command that answers."""
    import typer

    from terrain.cli.main import app

    arguments = [task.question, task.job, "--json"]
    if task.folder is not None and task.pages:
        arguments += ["--out", task.folder]
    out, err = (io.TextIOWrapper(io.BytesIO(), encoding="utf-8") for _ in range(2))
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        status = typer.main.get_command(app).main(
            args=arguments, prog_name="spoilbank", standalone_mode=False
        )
    return int(status or 0), _read(out), _read(err)


def _read(stream: io.TextIOWrapper) -> str:
    stream.flush()
    buffer = stream.buffer
    assert isinstance(buffer, io.BytesIO)
    return buffer.getvalue().decode("utf-8", "replace")


def _refused(task: Task, message: str) -> Outcome:
    """Refused, with the job's absolute path in the message told as the batch shows it."""
    folder = task.job.removesuffix(task.name)
    said = message.strip().replace(folder, "")
    return Outcome(name=task.name, status=Status.REFUSED, message=said)
