"""Many lots in one go, as whole processes; imports nothing heavy (see `child`)."""

import csv
import shutil
from pathlib import Path

from scripts.benchmarks.case import Case
from scripts.benchmarks.commands import Ran, run_command, spoilbank_command
from scripts.benchmarks.files import job_volume, made_apart
from scripts.benchmarks.rows import lots_of

SHOTS_A_LOT = 400


def batch(count: int, folder: Path) -> Case[Ran]:
    """`spoilbank batch` on one process a core, figures alone."""
    return _batch(count, folder, [])


def one_by_one(count: int, folder: Path) -> Case[Ran]:
    """The same with one process."""
    return _batch(count, folder, ["--workers", "1"])


def _batch(count: int, folder: Path, more: list[str]) -> Case[Ran]:
    lots, out = folder / "lots", folder / "answers"
    (folder / "one").mkdir(exist_ok=True)
    made_apart("job", SHOTS_A_LOT, folder / "one")
    for number in range(lots_of(count)):
        shutil.copytree(folder / "one", lots / f"lot {number:03}", dirs_exist_ok=True)
    command = [spoilbank_command(), "batch", str(lots), "--no-pages", "--out", str(out), *more]

    def afresh() -> Ran:
        shutil.rmtree(out, ignore_errors=True)
        return run_command(command, folder / "said.txt", folder / "told.txt")

    def error(ran: Ran) -> float:
        with (out / "volumes" / "summary.csv").open(newline="", encoding="utf-8") as summary:
            banks = [float(row["bank"]) for row in csv.DictReader(summary)]
        assert len(banks) == lots_of(count)
        return max(abs(bank / job_volume() - 1) for bank in banks)

    return Case(work=afresh, error=error, peak=lambda ran: ran.peak)
