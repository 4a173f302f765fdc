"""Time the engine beside other libraries and print the table.

Every engine of every row runs in a process of its own, one after the other. This process imports
nothing heavy: a child's peak memory counts from what its parent held.
"""

import argparse
import datetime
import json
import os
import platform
import subprocess
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path

from scripts.benchmarks.case import Measured
from scripts.benchmarks.picture import Curve, picture
from scripts.benchmarks.rows import GROWTH, ROWS, Engine
from scripts.benchmarks.table import (
    GROWTH_HEADS,
    Line,
    growth_cells,
    growth_markdown,
    growth_text,
    markdown_table,
    text_head,
    text_line,
)

FULL, QUICK = 1_000_000, 2_000
GROWTH_FULL, GROWTH_QUICK = (10_000, 100_000, 1_000_000, 10_000_000), (500, 2_000)
RUNS = 5
ONE_BLAS = {"OPENBLAS_NUM_THREADS": "1"}
"""Scipy solves a tiny system for each triangle; threads that wait for one another there make it
twenty times slower on a busy machine."""

NOTE = (
    "Seconds are the median of so many runs, fastest the least, and cores s what all cores spent\n"
    "(median), which other work on the machine disturbs least; ratio is theirs to ours, of\n"
    "seconds; error is a share of the gross volume, from the exact answer; peak MB is that of the\n"
    "whole process, its data and what is given to it included."
)


def measured(case: str, count: int, runs: int) -> Measured:
    """The figures of a case, run in a process of its own."""
    command = [sys.executable, "-m", "scripts.benchmarks.child", case, str(count), str(runs)]
    done = subprocess.run(
        command, stdout=subprocess.PIPE, text=True, check=False, env={**os.environ, **ONE_BLAS}
    )
    if done.returncode:
        sys.exit(f"{case} over {count:,} shots came to no end; its message is above")
    return Measured(**json.loads(done.stdout))


def engine_line(engine: Engine, count: int, runs: int) -> Line:
    """The figures of one engine, or what is missing for them."""
    missing = engine.missing()
    if missing is not None:
        return Line(engine=engine.label, measured=None, missing=missing)
    return Line(engine=engine.label, measured=measured(engine.case, count, runs))


def beside(wanted: Sequence[str], count: int, runs: int) -> Iterator[tuple[str, list[Line]]]:
    """The rows asked for, each printed as it is made."""
    print(text_head())
    for row in ROWS:
        if row.name not in wanted:
            continue
        title = row.title(count)
        print(title, flush=True)
        lines: list[Line] = []
        for engine in row.engines:
            line = engine_line(engine, count, runs)
            print(text_line(line, lines[0].measured if lines else None), flush=True)
            lines.append(line)
        yield title, lines


def growth(sizes: Sequence[int], runs: int, curves: list[Curve]) -> Iterator[tuple[str, ...]]:
    """How each of our jobs grows with size, printed as it is made; `curves` are added to."""
    print("How it grows")
    print(growth_text(GROWTH_HEADS), flush=True)
    for growing in GROWTH:
        seconds = []
        for size in sizes:
            of = measured(growing.case, size // growing.points_a_shot, runs)
            seconds.append(of.busy)
            shown = growth_cells(growing, size, of)
            print(growth_text(shown), flush=True)
            yield shown
        curves.append(Curve(job=growing.job, sizes=tuple(sizes), seconds=tuple(seconds)))


def asked() -> argparse.Namespace:
    """What the command line says."""
    names = [row.name for row in ROWS] + ["growth"]
    parser = argparse.ArgumentParser(
        prog="scripts/bench", description="Time the engine beside other libraries."
    )
    parser.add_argument("--quick", action="store_true", help="small sizes, for a look")
    parser.add_argument(
        "--rows", nargs="+", metavar="NAME", choices=names, default=names,
        help="only these: " + ", ".join(names),
    )  # fmt: skip
    parser.add_argument("--shots", type=int, help=f"shots of each TIN; {FULL:,} if not said")
    parser.add_argument("--runs", type=int, default=RUNS, help="at most so many runs each")
    parser.add_argument(
        "--out",
        type=Path,
        metavar="FILE",
        help="write the table as Markdown; how it grows is drawn beside it, as SVG",
    )
    return parser.parse_args()


def main() -> None:
    """Print the table, and write it if asked to."""
    options = asked()
    count = options.shots or (QUICK if options.quick else FULL)
    counts = GROWTH_QUICK if options.quick else GROWTH_FULL
    runs = 1 if options.quick else options.runs
    head = (
        f"{datetime.date.today().isoformat()}, Python {platform.python_version()}, "
        f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f} at the start"
    )
    print(f"{head}\n{NOTE}\n")
    parts = [f"{head}.\n{NOTE}"]
    rows = list(beside(options.rows, count, runs))
    if rows:
        parts.append(markdown_table(rows))
    curves: list[Curve] = []
    if "growth" in options.rows:
        parts.append(growth_markdown(list(growth(counts, runs, curves))))
    if options.out is not None and curves:
        drawn = options.out.with_suffix(".svg")
        drawn.write_text(picture(curves, head), encoding="utf-8")
        parts.append(f"![Seconds against size]({drawn.name})")
    if options.out is not None:
        options.out.write_text("\n\n".join(parts) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
