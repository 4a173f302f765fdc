"""`spoilbank verify JOB`: is the hole deep, wide, straight and square enough, and if not, where."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, TypeAlias

import typer

from terrain.cli.run import (
    JobArgument,
    JsonOption,
    OutOption,
    Progress,
    as_utf8,
    out_folder,
    print_json,
    tell,
    told_plainly,
)

if TYPE_CHECKING:
    from terrain.job.load import Job
    from terrain.job.verify_record import Verified

DateOption: TypeAlias = Annotated[
    str | None,
    typer.Option("--date", metavar="DATE", help="The day of [[asdug]] to check: else the last."),
]


def verify(
    job: JobArgument, out: OutOption = None, json: JsonOption = False, date: DateOption = None
) -> None:
    """The hole as dug against its design: floor, walls, corners, and what is still to do."""
    with told_plainly():
        run_verify(job, out, "json" if json else "table", date)


def run_verify(
    job: Path, out: Path | None, shown_as: str, date: str | None = None
) -> tuple[Path, ...]:
    """Check the hole of a job, write and print it; the paths of the files written."""
    from terrain.export.verify_json import verify_json
    from terrain.job.load import load_job
    from terrain.job.verify import verified

    asked = load_job(job)
    folder = out_folder(job, out) if shown_as != "json" or out is not None else None
    written: tuple[Path, ...] = ()
    with Progress().shown() as progress:
        found = verified(asked, progress, date)
        if folder is not None:
            written = write_verify(asked, found, folder)
    if shown_as == "json":
        print_json(verify_json(found))
        return written
    from rich.console import Console

    from terrain.report.verify_table import show_verify

    show_verify(found, Console(highlight=False))
    tell(f"\nWritten to {folder}: " + ", ".join(path.name for path in written))
    return written


def write_verify(asked: "Job", found: "Verified", folder: Path) -> tuple[Path, ...]:
    """Write the check and its points to stake, all or none; their paths."""
    from terrain.export.verify_csv import todo_points_csv
    from terrain.export.verify_json import verify_json
    from terrain.export.write import Content, write_files

    files: dict[str, Content] = {
        "verify.json": as_utf8(verify_json(found)),
        "verify_stakes.csv": as_utf8(todo_points_csv(found.todo)),
    }
    return write_files(folder, files, asked.read_from)
