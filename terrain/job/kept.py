"""The files that a statement rests on: kept in the job's register, and read back from there."""

import hashlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path, PurePath
from tempfile import TemporaryDirectory

from terrain.base.errors import Fault, JobError
from terrain.billing.record import Statement
from terrain.billing.register import Register
from terrain.job.load import Job, load_job

REGISTER = "register"
"""The register's folder is called as the job file, with this behind."""

DEEP = "a/b/c/d/e"
"""So deep a folder is a kept job laid out in that names which go up from its own stay within."""


def register_of(job: Job) -> Register:
    """The register of a job, in a folder beside its file."""
    return Register(job.folder / f"{Path(job.file).stem}-{REGISTER}")


def inputs_of(job: Job) -> dict[str, bytes]:
    """The job file and every file it names, by name, as they are now; the bid's too.

    Raises:
        JobError: a file is named by an absolute path or by one far up, which could not be kept.
    """
    found = {Path(job.file).name: Path(job.file).read_bytes()}
    bid = None if job.billing is None else job.billing.bid
    names = list(job.named_files)
    if bid is not None:
        above = PurePath(bid).parent
        names += [str(above / name) for name in load_job(job.path(bid)).named_files]
    for name in names:
        path = PurePath(name)
        if path.is_absolute() or path.parts.count("..") >= len(PurePath(DEEP).parts):
            kind = "an absolute path" if path.is_absolute() else "a path far from the job's folder"
            message = f'"{name}" is {kind}; a statement keeps files named from the job'
            raise JobError(Fault(file=job.file, message=message))
        found[name] = job.path(name).read_bytes()
    return found


def issued_now(job: Job, draft: Statement) -> Statement:
    """The draft entered into the register, its inputs kept. Errors as `Register.issue`."""
    inputs = inputs_of(job)
    for one in draft.inputs:
        now = inputs.get(one.name)
        if now is None or hashlib.sha256(now).hexdigest() != one.sha256:
            message = "was changed while the statement was worked out; try again"
            raise JobError(Fault(file=one.name, message=message))
    return register_of(job).issue(draft, inputs)


@contextmanager
def kept_job(job: Job, statement: Statement) -> Iterator[Job]:
    """The job as it was when one of its statements was issued, for as long as it is looked at.

    Raises:
        OutputError: a file is not kept as it was; its name is told.
    """
    register = register_of(job)
    register.require_inputs(statement)
    with TemporaryDirectory() as folder:
        home = Path(folder) / DEEP
        home.mkdir(parents=True)
        for one in statement.inputs:
            path = home / one.name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(register.kept_file(one.sha256).read_bytes())
        yield load_job(home / statement.inputs[0].name)
