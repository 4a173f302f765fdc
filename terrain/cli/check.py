"""`spoilbank check JOB`: read everything and say what was understood."""

from pathlib import Path
from typing import Annotated, TypeAlias

import typer

from terrain.cli.run import (
    JobArgument,
    JsonOption,
    Progress,
    as_utf8,
    out_folder,
    print_json,
    told_plainly,
)

CheckOut: TypeAlias = Annotated[
    Path | None, typer.Option("--out", metavar="FOLDER", help="Write check.json there too.")
]


def check(job: JobArgument, out: CheckOut = None, json: JsonOption = False) -> None:
    """Read the job and its survey and say what was understood."""
    with told_plainly():
        from terrain.export.check_json import check_json
        from terrain.export.write import write_files
        from terrain.job.check import check as checked
        from terrain.job.load import load_job

        asked = load_job(job)
        if out is not None:
            out_folder(job, out)
        with Progress().shown() as progress:
            result = checked(asked, progress)
        if out is not None:
            write_files(out, {"check.json": as_utf8(check_json(result))})
        if json:
            print_json(check_json(result))
            return
        from rich.console import Console

        from terrain.report.check_lines import show_check

        show_check(result, Console(highlight=False))
