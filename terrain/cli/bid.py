"""`spoilbank bid JOB`: the items of the job's billing priced from the design."""

from pathlib import Path

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


def bid(job: JobArgument, out: OutOption = None, json: JsonOption = False) -> None:
    """The work priced from the design, with how far survey and soil let it swing."""
    with told_plainly():
        run_bid(job, out, "json" if json else "table")


def run_bid(job: Path, out: Path | None, shown_as: str) -> tuple[Path, ...]:
    """Price a job, write and print the bid; the paths of the files written."""
    from terrain.export.statement_csv import bid_csv
    from terrain.export.statement_json import bid_json
    from terrain.export.write import write_files
    from terrain.job.bid import bid_of
    from terrain.job.load import load_job

    asked = load_job(job)
    folder = out_folder(job, out) if shown_as != "json" or out is not None else None
    written: tuple[Path, ...] = ()
    with Progress().shown() as progress:
        found = bid_of(asked, progress)
    if folder is not None:
        files = {"bid.json": as_utf8(bid_json(found)), "bid.csv": as_utf8(bid_csv(found))}
        written = write_files(folder, files, asked.read_from)
    if shown_as == "json":
        print_json(bid_json(found))
        return written
    from rich.console import Console

    from terrain.report.statement_table import show_bid

    show_bid(found, Console(highlight=False))
    tell(f"\nWritten to {folder}: " + ", ".join(path.name for path in written))
    return written
