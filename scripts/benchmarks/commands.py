"""Whole processes, from their start to their end; imports nothing heavy (see `child`)."""

import json
import os
import subprocess
import sys
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path

from scripts.benchmarks.case import Case
from scripts.benchmarks.child import MAXRSS_A_MB
from scripts.benchmarks.files import JOB, job_volume, made_apart
from scripts.benchmarks.rows import cells_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Ran:
    """What a command wrote to standard output, and its peak memory in MB."""

    output: Path
    peak: float


def volumes(count: int, folder: Path) -> Case[Ran]:
    """`spoilbank volumes`, its result as JSON and its files written."""
    made_apart("job", count, folder)
    command = [
        spoilbank_command(),
        "volumes",
        str(folder / JOB),
        "--json",
        "--out",
        str(folder / "out"),
    ]

    def error(ran: Ran) -> float:
        answer = json.loads(ran.output.read_text(encoding="utf-8"))
        return float(abs(answer["total"]["bank"] / job_volume() - 1))

    return Case(
        work=lambda: run_command(command, folder / "answer.json"),
        error=error,
        peak=lambda ran: ran.peak,
    )


def show_help(count: int, folder: Path) -> Case[Ran]:
    """`spoilbank --help`."""
    command = [spoilbank_command(), "--help"]
    return Case(work=lambda: run_command(command, folder / "help.txt"), peak=lambda ran: ran.peak)


def nothing(count: int, folder: Path) -> Case[Ran]:
    """Python started and ended."""
    command = [sys.executable, "-c", "pass"]
    return Case(
        work=lambda: run_command(command, folder / "nothing.txt"), peak=lambda ran: ran.peak
    )


HALF = 300.0


def gdal_grid(count: int, folder: Path) -> Case[list[Ran]]:
    """Two grids with as many cells as shots by gdal, linear within triangles of its own."""
    made_apart("points", count, folder)
    side, half = round(count**0.5), HALF

    def gridded() -> list[Ran]:
        return [_gridded(name, side, folder) for name in "ab"]

    def error(ran: list[Ran]) -> float:
        import rasterio

        from scripts.benchmarks.made import crossing_planes
        from scripts.benchmarks.peers import above

        heights = []
        for name in "ab":
            with rasterio.open(folder / f"{name}.tif") as grid:
                heights.append(grid.read(1))
        volume = above(heights[0] - heights[1], (2 * half / side) ** 2)
        return float(abs(volume / crossing_planes()[2] - 1))

    return Case(work=gridded, error=error, peak=lambda ran: max(r.peak for r in ran))


def gdal_raster(count: int, folder: Path) -> Case[Ran]:
    """One grid by gdal, from the shots: it takes no triangles."""
    made_apart("points", count, folder)
    side = round(cells_of(count) ** 0.5)

    def error(ran: Ran) -> float:
        import rasterio

        from scripts.benchmarks.made import crossing_planes

        with rasterio.open(folder / "a.tif") as grid:
            off = abs(float(grid.read(1).mean()) - crossing_planes()[0][2])
        return off / HALF

    return Case(work=lambda: _gridded("a", side, folder), error=error, peak=lambda ran: ran.peak)


def _gridded(name: str, side: int, folder: Path) -> Ran:
    extent = ["-txe", f"{-HALF}", f"{HALF}", "-tye", f"{HALF}", f"{-HALF}"]
    size = ["-outsize", str(side), str(side), "-ot", "Float64", "-q"]
    files = [str(folder / f"{name}.vrt"), str(folder / f"{name}.tif")]
    command = ["gdal_grid", "-a", "linear:radius=0:nodata=nan", *extent, *size, "-l", name]
    return run_command([*command, *files], folder / f"{name}.txt")


def spoilbank_command() -> str:
    """The command, as installed beside this Python."""
    return str(Path(sys.executable).with_name("spoilbank"))


def run_command(command: list[str], output: Path, errors: Path | None = None) -> Ran:
    """Run to the end; only `wait4` tells the memory of this one process.

    What it writes to standard error goes on to ours, or into the file `errors`.
    """
    with output.open("wb") as file, ExitStack() as stack:
        to = None if errors is None else stack.enter_context(errors.open("wb"))
        process = subprocess.Popen(command, stdout=file, stderr=to)
        _, status, usage = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode:
        raise subprocess.CalledProcessError(process.returncode, command)
    return Ran(output=output, peak=usage.ru_maxrss / MAXRSS_A_MB)
