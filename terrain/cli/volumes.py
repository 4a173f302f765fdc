"""`spoilbank volumes JOB`: earth out by wall, in bank, loose and compacted measure."""

from pathlib import Path
from typing import TYPE_CHECKING

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
    from terrain.job.answer import Volumes


def volumes(job: JobArgument, out: OutOption = None, json: JsonOption = False) -> None:
    """Earth out by wall, in bank, loose and compacted measure."""
    with told_plainly():
        run_volumes(job, out, "json" if json else "table")


def run_volumes(job: Path, out: Path | None, shown_as: str) -> tuple[Path, ...]:
    """Compute, write and print the volumes of a job; the paths of the files written."""
    from terrain.job.load import load_job
    from terrain.job.volumes import volumes as answer_of

    asked = load_job(job)
    folder = out_folder(job, out) if shown_as != "json" or out is not None else None
    with Progress().shown() as progress:
        answer = answer_of(asked, progress=progress)
        written: tuple[Path, ...] = ()
        if folder is not None:
            progress("writing")
            written = write_answer(answer, folder)
    if shown_as == "json":
        from terrain.export.ledger_json import ledger_json

        print_json(ledger_json(answer))
        return written
    from rich.console import Console

    from terrain.report.table import show_volumes

    show_volumes(answer, Console(highlight=False))
    tell("\nWritten: " + ", ".join(str(path) for path in written))
    return written


def write_answer(answer: "Volumes", folder: Path) -> tuple[Path, ...]:
    """Write ledger.csv, ledger.json and report.html, all or none; their paths."""
    from terrain.export.ledger_csv import ledger_csv
    from terrain.export.ledger_json import ledger_json
    from terrain.export.write import write_files
    from terrain.report.page import report_html

    return write_files(
        folder,
        {
            "ledger.csv": as_utf8(ledger_csv(answer)),
            "ledger.json": as_utf8(ledger_json(answer)),
            "report.html": as_utf8(report_html(answer)),
        },
    )
