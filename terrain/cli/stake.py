"""`spoilbank stake JOB`: where to drive stakes, and what to write on them."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from terrain.cli.run import (
    JobArgument,
    JsonOption,
    OutOption,
    Progress,
    out_folder,
    print_json,
    tell,
    told_plainly,
)

if TYPE_CHECKING:
    from terrain.job.load import Job
    from terrain.job.stakes import StakesAsked


def stake(
    job: JobArgument,
    out: OutOption = None,
    json: JsonOption = False,
    spacing: Annotated[
        float | None,
        typer.Option(help="Between stakes along a wall: 10 ft or 3 m if not given.", min=0.1),
    ] = None,
    grid: Annotated[
        float | None, typer.Option(help="Between stakes of a grid over the lot.", min=0.1)
    ] = None,
    set_back: Annotated[
        float, typer.Option(help="How far beyond the edge of the cut dig stakes stand.", min=0.0)
    ] = 0.0,
    instrument: Annotated[
        float | None, typer.Option(help="Height of the instrument, for rod readings.")
    ] = None,
    mark: Annotated[
        str | None, typer.Option(help="Or: the mark the instrument looked back on,")
    ] = None,
    backsight: Annotated[float | None, typer.Option(help="and what the rod read on it.")] = None,
) -> None:
    """Points for a rover and a cut sheet: dig line, daylight, finished ground."""
    if (mark is None) != (backsight is None):
        raise typer.BadParameter("--mark and --backsight go together")
    if mark is not None and instrument is not None:
        raise typer.BadParameter("give --instrument, or --mark with --backsight, not both")
    with told_plainly():
        from terrain.job.load import load_job
        from terrain.job.stakes import StakesAsked, instrument_height

        asked_job = load_job(job)
        if mark is not None and backsight is not None:
            instrument = instrument_height(asked_job.existing.marks, mark, backsight)
        usual = 3.0 if asked_job.unit.is_metric else 10.0
        asked = StakesAsked(
            spacing=usual if spacing is None else spacing,
            grid=grid,
            set_back=set_back,
            instrument=instrument,
        )
        _run(asked_job, asked, out_folder(job, out) if out is not None or not json else None)


def _run(job: "Job", asked: "StakesAsked", folder: Path | None) -> None:
    import datetime
    import json

    from terrain.export.stakes_csv import cut_sheet_csv, points_csv, stakes_dict
    from terrain.export.write import write_files
    from terrain.job.graded import grade_out
    from terrain.job.lot import asks_grade
    from terrain.job.stake_lines import stake_lines
    from terrain.job.stakes import stakes_of
    from terrain.job.volumes import work_out
    from terrain.report.cut_sheet import SheetFacts, cut_sheet_html, stake_counts

    unit = job.unit.name
    with Progress().shown() as progress:
        worked = work_out(job, progress)
        lot = grade_out(worked, progress).lot if asks_grade(job) else None
        stakes, lines = stakes_of(worked, lot, asked), stake_lines(worked, lot)
    if folder is None:
        print_json(json.dumps(stakes_dict(stakes, unit), indent=2) + "\n")
        return
    facts = SheetFacts(title=job.title, unit=unit, date=datetime.date.today().isoformat())
    written = write_files(
        folder,
        {
            "stakes.csv": points_csv(stakes).encode(),
            "cut_sheet.csv": cut_sheet_csv(stakes, unit).encode(),
            "cut_sheet.html": cut_sheet_html(facts, stakes, lines).encode(),
        },
        job.read_from,
    )
    dig, finished = stake_counts(stakes)
    page = next(path for path in written if path.suffix == ".html")
    tell(f"{dig} stakes for the dig: D at corners of the dig line, L where the side meets ground.")
    if finished:
        tell(
            f"{finished} for grading, after the backfill: A at the house, finished ground at the "
            "wall and where its fall ends" + ("; G on the grid." if asked.grid is not None else ".")
        )
    tell(f"Written to {folder}: " + ", ".join(path.name for path in written))
    tell(
        f"Print {page.absolute()}: a sketch, the dig wall by wall"
        + (", finished ground on sheets of its own" if finished else "")
    )
