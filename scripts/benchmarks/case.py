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
        peak: the peak memory in MB if the work is done by commands, else this process's.
        note: what else there is to say of the result, given it and by how many bytes memory rose
            at most while it was made.
    """

    work: Callable[[], Result]
    error: Callable[[Result], float] | None = None
    peak: Callable[[Result], float] | None = None
    note: Callable[[Result, float], str] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """What came of so many runs.

    Args:
        seconds: by the clock on the wall, the median.
        fastest: the least of them.
        busy: seconds of all cores, the median.
        runs: how many.
        error: as a share of the gross volume.
        peak: memory in MB.
        note: what else there is to say.
    """

    seconds: float
    fastest: float
    busy: float
    runs: int
    error: float | None
    peak: float
    note: str = ""
