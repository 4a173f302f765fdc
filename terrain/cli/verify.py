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
    from terrain.job.verified import AllVerified

DateOption: TypeAlias = Annotated[
    str | None,
    typer.Option("--date", metavar="DATE", help="The day of [[asdug]] to check: else the last."),
]


def verify(
    job: JobArgument, out: OutOption = None, json: JsonOption = False, date: DateOption = None
) -> None:
    """Dug, graded, piled: the work as surveyed against its design, and what is still to do."""
    with told_plainly():
        run_verify(job, out, "json" if json else "table", date)


def run_verify(
    job: Path, out: Path | None, shown_as: str, date: str | None = None
) -> tuple[Path, ...]:
    """Check what was surveyed of a job's work, write and print it; the paths of files written."""
    from terrain.job.load import load_job
    from terrain.job.verified import all_verified

    asked = load_job(job)
    folder = out_folder(job, out) if shown_as != "json" or out is not None else None
    written: tuple[Path, ...] = ()
    with Progress().shown() as progress:
        told = all_verified(asked, progress, date)
        if folder is not None:
            written = write_verify(told, folder)
    if shown_as == "json":
        from terrain.export.verified_json import verified_json

        paths = {path.stem: str(path) for path in written if path.suffix == ".tif"}
        print_json(verified_json(told, paths))
        return written
    from rich.console import Console

    from terrain.report.verified_table import show_verified

    show_verified(told, Console(highlight=False))
    tell(f"\nWritten to {folder}: " + ", ".join(path.name for path in written))
    return written


def write_verify(told: "AllVerified", folder: Path) -> tuple[Path, ...]:
    """Write the checks, points to stake and rasters, all or none; their paths."""
    from terrain.export.later_files import later_rasters
    from terrain.export.verified_json import verified_json
    from terrain.export.verify_csv import todo_points_csv
    from terrain.export.write import Content, write_files
    from terrain.report.verify_page import verify_html

    rasters = later_rasters(told.later, told.worked)
    paths = {name.removesuffix(".tif"): str(folder / name) for name in rasters}
    files: dict[str, Content] = {"verify.json": as_utf8(verified_json(told, paths))}
    files["verify.html"] = as_utf8(verify_html(told))
    if told.hole is not None:
        files["verify_stakes.csv"] = as_utf8(todo_points_csv(told.hole.todo))
    return write_files(folder, files | rasters, told.worked.job.read_from)
