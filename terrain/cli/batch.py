"""`spoilbank batch FOLDER`: one question of every job under a folder."""

import os
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from terrain.cli.run import FAILED, JsonOption, print_json, say, tell, told_plainly

if TYPE_CHECKING:
    from terrain.job.batch import Outcome, Task

SUMMARY = "summary"


def batch(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="Where the jobs are.")],
    ask: Annotated[
        str, typer.Option(metavar="COMMAND", help="What to ask of each: volumes, grade, plan ...")
    ] = "volumes",
    out: Annotated[
        Path | None,
        typer.Option(
            "--out",
            metavar="FOLDER",
            help="Where answers are kept: out/ in the folder of jobs, nowhere with --json.",
        ),
    ] = None,
    json: JsonOption = False,
    workers: Annotated[
        int | None, typer.Option(help="Jobs at a time on this machine: one a core.", min=1)
    ] = None,
    cluster: Annotated[
        str | None,
        typer.Option(metavar="ADDRESS", help="Or: the scheduler of a Dask cluster."),
    ] = None,
    pages: Annotated[
        bool, typer.Option(help="Write each job's pages and files, or its figures alone.")
    ] = True,
) -> None:
    """One question of every job under a folder; what is done already is kept."""
    from terrain.job.batch_figures import FIGURES

    if ask not in FIGURES:
        raise typer.BadParameter(f"--ask can be {', '.join(FIGURES)}, not {ask}")
    if cluster is not None and workers is not None:
        raise typer.BadParameter("give --workers or --cluster, not both")
    with told_plainly():
        from terrain.job.batch import find_jobs, tasks_of

        kept = _answers_folder(folder, out, nothing=json and out is None)
        jobs = find_jobs(folder, kept)
        target = None if kept is None else kept / ask
        tasks = tasks_of(jobs, folder, ask, target, pages=pages)
        outcomes = _in_order(tasks, _outcomes(tasks, workers, cluster))
        written = () if target is None else _write(ask, outcomes, target)
        if json:
            from terrain.export.batch_summary import summary_json

            print_json(summary_json(ask, outcomes))
        else:
            _show(ask, outcomes)
            tell(f"Written to {target}: " + ", ".join(path.name for path in written))
        if any(one.status in ("refused", "failed") for one in outcomes):
            raise typer.Exit(FAILED)


def _answers_folder(folder: Path, out: Path | None, *, nothing: bool) -> Path | None:
    from terrain.cli.run import out_folder

    return None if nothing else out_folder(folder / "any", out)


def _outcomes(
    tasks: "tuple[Task, ...]", workers: int | None, cluster: str | None
) -> "Iterator[Outcome]":
    from terrain.cli.batch_work import work

    if cluster is not None:
        from terrain.job.cluster import outcomes_on_cluster

        return outcomes_on_cluster(tasks, work, cluster)
    from terrain.job.pool import outcomes_in_pool

    return outcomes_in_pool(tasks, work, workers or os.cpu_count() or 1)


def _in_order(tasks: "tuple[Task, ...]", outcomes: "Iterator[Outcome]") -> "tuple[Outcome, ...]":
    """All outcomes in the order of the jobs, telling on standard error as each comes in.

    Stopped by hand, what is done stays: each answer is kept as soon as it is there.
    """
    from terrain.base.errors import SpoilbankError

    found: dict[str, Outcome] = {}
    try:
        for one in outcomes:
            found[one.name] = one
            say(f"{len(found)}/{len(tasks)} {one.status.value} {one.name}")
    except KeyboardInterrupt:
        kept = "; started again, the batch goes on from there" if tasks[0].folder else ""
        raise SpoilbankError(f"Stopped: {len(found)} of {len(tasks)} jobs done{kept}") from None
    return tuple(found[task.name] for task in tasks)


def _write(ask: str, outcomes: "tuple[Outcome, ...]", target: Path) -> tuple[Path, ...]:
    from functools import partial

    from terrain.cli.run import as_utf8
    from terrain.export.batch_summary import summary_csv, summary_json, write_summary_gpkg
    from terrain.export.write import write_files

    return write_files(
        target,
        {
            f"{SUMMARY}.csv": as_utf8(summary_csv(ask, outcomes)),
            f"{SUMMARY}.json": as_utf8(summary_json(ask, outcomes)),
            f"{SUMMARY}.gpkg": partial(write_summary_gpkg, ask, outcomes),
        },
    )


def _show(ask: str, outcomes: "tuple[Outcome, ...]") -> None:
    from rich.console import Console

    from terrain.report.batch_table import show_batch

    show_batch(ask, outcomes, Console(highlight=False))
