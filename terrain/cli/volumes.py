"""`spoilbank volumes JOB`: earth out by wall, in bank, loose and compacted measure."""

from pathlib import Path
from typing import TYPE_CHECKING

from terrain.cli.run import (
    JobArgument,
    JsonOption,
    OutOption,
    Progress,
    out_folder,
    print_json,
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

    with Progress().shown() as progress:
        answer = answer_of(load_job(job), progress=progress)
        written: tuple[Path, ...] = ()
        if shown_as != "json" or out is not None:
            progress("writing")
            written = write_answer(answer, out_folder(job, out))
    if shown_as == "json":
        from terrain.export.ledger_json import ledger_json

        print_json(ledger_json(answer))
        return written
    from rich.console import Console

    from terrain.report.table import show_volumes

    console = Console(highlight=False)
    show_volumes(answer, console)
    console.print(f"\nWritten: {', '.join(str(p) for p in written)}", markup=False, soft_wrap=True)
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
            "ledger.csv": ledger_csv(answer).encode("utf-8"),
            "ledger.json": ledger_json(answer).encode("utf-8"),
            "report.html": report_html(answer).encode("utf-8"),
        },
    )
