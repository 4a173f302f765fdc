"""What a benchmark measures and what comes of it; imports nothing heavy."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Generic, TypeVar

Result = TypeVar("Result")


@dataclass(frozen=True, slots=True, kw_only=True)
class Case(Generic[Result]):
    """One job one engine does, its data made.

    Args:
        work: what the clock runs over.
        error: how far its result is from the exact answer, as a share of the gross volume.
        peak: the peak memory in MB if the work is done by a command, else this process's.
    """

    work: Callable[[], Result]
    error: Callable[[Result], float] | None = None
    peak: Callable[[Result], float] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """Median and least seconds of so many runs, share of the gross in error, peak memory in MB."""

    seconds: float
    fastest: float
    runs: int
    error: float | None
    peak: float
