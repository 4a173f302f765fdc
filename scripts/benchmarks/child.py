"""Runs one case in this process and prints what was measured as JSON: child CASE COUNT RUNS."""

import json
import resource
import sys
from dataclasses import asdict
from importlib import import_module
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory
from time import perf_counter
from typing import Any

from scripts.benchmarks.case import Case, Measured

WARM_COUNT = 300
ENOUGH_SECONDS = 10.0
"""After so many seconds of work a case isn't run again."""

MAXRSS_A_MB = 2**20 if sys.platform == "darwin" else 2**10


def case_of(name: str, count: int, folder: Path) -> Case[Any]:
    """The case `module.function` over so many shots; the folder is for its files."""
    module, _, function = name.partition(".")
    folder.mkdir()
    made: Case[Any] = getattr(import_module(f"scripts.benchmarks.{module}"), function)(
        count, folder
    )
    return made


def measured(name: str, count: int, runs: int, folder: Path) -> Measured:
    """One case's figures, its kernels compiled and its libraries loaded before the clock starts."""
    case_of(name, WARM_COUNT, folder / "warm").work()
    case = case_of(name, count, folder / "data")
    before = _memory_now()
    seconds: list[float] = []
    busy: list[float] = []
    result = None
    while len(seconds) < runs and sum(seconds) < ENOUGH_SECONDS:
        result = None  # what the last run made isn't kept beside what this one makes
        start, busy_start = perf_counter(), _busy()
        result = case.work()
        seconds.append(perf_counter() - start)
        busy.append(_busy() - busy_start)
    peak = _most_memory()
    return Measured(
        seconds=median(seconds),
        fastest=min(seconds),
        busy=median(busy),
        runs=len(seconds),
        peak=case.peak(result) if case.peak else peak,
        error=case.error(result) if case.error else None,
        note=case.note(result, (peak - before) * 2**20) if case.note else "",
    )


def _most_memory() -> float:
    """The most memory in MB that this process has had."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / MAXRSS_A_MB


def _memory_now() -> float:
    """What it has now; where the system does not tell, the most so far."""
    try:
        pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1])
    except OSError:
        return _most_memory()
    return pages * resource.getpagesize() / 2**20


def _busy() -> float:
    """Seconds that all cores have spent on this process and the commands that it ran."""
    # not os.times, which counts in hundredths of a second
    used = [resource.getrusage(of) for of in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(of.ru_utime + of.ru_stime for of in used)


def main() -> None:
    """Print the figures of the case that the arguments name."""
    name, count, runs = sys.argv[1:]
    with TemporaryDirectory() as folder:
        print(json.dumps(asdict(measured(name, int(count), int(runs), Path(folder)))))


if __name__ == "__main__":
    main()
