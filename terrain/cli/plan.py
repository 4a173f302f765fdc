"""`spoilbank plan JOB`: where to stand, in what order, and where each bucket goes."""

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
    from terrain.job.dig_plan_record import DigPlan
    from terrain.job.load import Job


StartOption: TypeAlias = Annotated[
    str | None,
    typer.Option(
        "--start",
        metavar="DATE",
        help="Plan what is left on a day of [[asdug]], with its piles; else the whole dig.",
    ),
]


def plan(
    job: JobArgument, out: OutOption = None, json: JsonOption = False, start: StartOption = None
) -> None:
    """Where to stand, in what order to dig, and where each bucket goes."""
    with told_plainly():
        run_plan(job, out, "json" if json else "table", start)


def run_plan(
    job: Path, out: Path | None, shown_as: str, start: str | None = None
) -> tuple[Path, ...]:
    """Plan the dig of a job, write and print it; the paths of the files written."""
    from terrain.export.dig_plan_json import dig_plan_json
    from terrain.job.dig_plan import plan as plan_dig
    from terrain.job.load import load_job

    asked = load_job(job)
    folder = out_folder(job, out) if shown_as != "json" or out is not None else None
    written: tuple[Path, ...] = ()
    with Progress().shown() as progress:
        answer = plan_dig(asked, progress, start)
        if folder is not None:
            written = write_plan(asked, answer, folder)
    if shown_as == "json":
        print_json(dig_plan_json(answer))
        return written
    from rich.console import Console

    from terrain.report.dig_plan_table import show_dig_plan

    show_dig_plan(answer, Console(highlight=False))
    tell(f"\nWritten to {folder}: " + ", ".join(path.name for path in written))
    return written


def write_plan(asked: "Job", answer: "DigPlan", folder: Path) -> tuple[Path, ...]:
    """Write the plan with its tables, points and layers, all or none; their paths."""
    from functools import partial

    from terrain.export.dig_plan_csv import dig_plan_passes_csv, dig_plan_stakes_csv
    from terrain.export.dig_plan_gpkg import write_dig_plan_gpkg
    from terrain.export.dig_plan_json import dig_plan_json
    from terrain.export.write import Content, write_files
    from terrain.report.card import card_html
    from terrain.report.dig_plan_page import dig_plan_html

    files: dict[str, Content] = {
        "card.html": as_utf8(card_html(answer)),
        "plan.html": as_utf8(dig_plan_html(answer)),
        "plan.json": as_utf8(dig_plan_json(answer)),
        "plan_passes.csv": as_utf8(dig_plan_passes_csv(answer)),
        "plan_stakes.csv": as_utf8(dig_plan_stakes_csv(answer)),
        "plan.gpkg": partial(write_dig_plan_gpkg, answer),
    }
    return write_files(folder, files, asked.read_from)
