"""`spoilbank statement JOB`: what is due for a period; a draft unless it is issued."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from terrain.cli.run import (
    FAILED,
    JobArgument,
    JsonOption,
    OutOption,
    Progress,
    as_utf8,
    out_folder,
    print_json,
    say,
    tell,
    told_plainly,
)

if TYPE_CHECKING:
    from terrain.billing.record import Statement
    from terrain.job.load import Job
    from terrain.job.reckoning import Reckoning


def statement(
    job: JobArgument,
    out: OutOption = None,
    json: JsonOption = False,
    period: Annotated[
        int | None, typer.Option(help="Which period: else the first that isn't billed.", min=1)
    ] = None,
    corrects: Annotated[
        int | None, typer.Option(help="Put right what was billed up to this statement.", min=1)
    ] = None,
    issue: Annotated[
        bool, typer.Option("--issue", help="Enter it into the register. It can't be taken back.")
    ] = False,
    again: Annotated[
        int | None, typer.Option(help="Write the files of an issued statement again.", min=1)
    ] = None,
    recompute: Annotated[
        bool, typer.Option("--recompute", help="Work out every issued statement again.")
    ] = False,
) -> None:
    """What is due for a period, from the design or the hole as dug: a draft unless issued."""
    if sum((issue or corrects is not None or period is not None, again is not None, recompute)) > 1:
        raise typer.BadParameter("--again and --recompute stand alone")
    if corrects is not None and period is not None:
        raise typer.BadParameter("give --period or --corrects, not both")
    with told_plainly():
        from terrain.job.load import load_job

        asked = load_job(job)
        if recompute:
            _recompute(asked)
            return
        folder = out_folder(job, out) if not json or out is not None else None
        found = _found(asked, (period, corrects), issue=issue, again=again)
        _show(asked, found, folder, json=json)


def _found(
    asked: "Job", which: tuple[int | None, int | None], *, issue: bool, again: int | None
) -> "Statement":
    from terrain.base.errors import Fault, JobError
    from terrain.job.kept import issued_now, register_of
    from terrain.job.statement import StatementAsked, drafted

    if again is not None:
        every = register_of(asked).statements()
        if again > len(every):
            message = f"statement {again} was not issued; there are {len(every)}"
            raise JobError(Fault(file=asked.file, message=message))
        return every[again - 1]
    with Progress().shown() as progress:
        draft = drafted(asked, StatementAsked(period=which[0], corrects=which[1]), progress)
    return issued_now(asked, draft) if issue else draft


def _show(asked: "Job", found: "Statement", folder: Path | None, *, json: bool) -> None:
    from terrain.export.statement_csv import statement_csv
    from terrain.export.statement_json import statement_json
    from terrain.export.statement_pdf import statement_pdf
    from terrain.export.statement_xlsx import statement_xlsx
    from terrain.export.write import write_files

    written: tuple[Path, ...] = ()
    beside, drawings = _beside(asked, found, is_drawn=folder is not None)
    if folder is not None:
        stem = f"statement_{found.number:03}" + ("_draft" if found.is_draft else "")
        files = {
            f"{stem}.pdf": statement_pdf(found, beside, drawings),
            f"{stem}.xlsx": statement_xlsx(found, beside),
            f"{stem}.csv": as_utf8(statement_csv(found)),
            f"{stem}.json": as_utf8(statement_json(found, beside)),
        }
        written = write_files(folder, files, asked.read_from)
    if json:
        print_json(statement_json(found, beside))
        return
    from rich.console import Console

    from terrain.report.statement_table import show_reckoning, show_statement

    console = Console(highlight=False)
    show_statement(found, console)
    show_reckoning(beside, console)
    tell(f"\nWritten to {folder}: " + ", ".join(path.name for path in written))
    if found.is_draft:
        tell("This is a draft. With --issue it is numbered, bound and entered for good.")


def _beside(
    asked: "Job", found: "Statement", *, is_drawn: bool
) -> "tuple[Reckoning, tuple[tuple[str, str], ...]]":
    """What stands beside a statement, and its drawings, from the files that it rests on."""
    from contextlib import nullcontext

    from terrain.job.kept import kept_job
    from terrain.job.reckoning import reckoning_of
    from terrain.job.sections import sections_of
    from terrain.job.volumes import told, work_out
    from terrain.report.statement_drawings import statement_drawings

    kept = nullcontext(asked) if found.is_draft else kept_job(asked, found)
    with kept as job, Progress().shown() as progress:
        beside = reckoning_of(job, found, progress)
        if not is_drawn:
            return beside, ()
        progress("drawing")
        worked = work_out(job)
        return beside, statement_drawings(told(worked), sections_of(worked), found.end)


def _recompute(asked: "Job") -> None:
    from terrain.job.kept import register_of
    from terrain.job.statement import recomputed

    with Progress().shown() as progress:
        wrong = recomputed(asked, progress)
    count = len(register_of(asked).statements())
    for number, what in wrong:
        say(f"statement {number}: {what}")
    if wrong:
        raise typer.Exit(FAILED)
    tell(f"{count} issued statements worked out again: every one agrees to the cent")
