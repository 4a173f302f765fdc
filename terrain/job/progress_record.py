"""What the surveys of a dig in progress answer, in bank and the job's volume unit."""

from dataclasses import dataclass

from terrain.ledger.doubt import Doubt
from terrain.ledger.entries import BankVolume


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """A volume with its doubt at 95 %; `is_significant` whether it is larger than that.

    Both are None where no survey says what it errs by.
    """

    volume: BankVolume
    plus_minus_95: float | None
    is_significant: bool | None
    doubt: Doubt


@dataclass(frozen=True, slots=True, kw_only=True)
class ProgressRow:
    """One row of the dig, or one part of it: dug = design - left + beyond.

    Args:
        name: of the wall, pit, ramp or trench; of a part, such as "side".
        design: all that the design takes out, from the ground before.
        dug: so far, net; `since_last` since the survey before, None on the first.
        left: still above the design. Noise adds to it on ground that is dug to design.
        beyond: below the design or outside it. Noise adds to it likewise.
        parts: of a wall, in order; empty for others.
    """

    name: str
    kind: str
    design: Figure
    dug: Figure
    since_last: Figure | None
    left: Figure
    beyond: Figure
    parts: tuple["ProgressRow", ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Rate:
    """How fast it goes: bank dug since the last survey by the days, or the hours, it took.

    Args:
        days: between the two surveys, None on the first.
        per_day: None on the first.
        hours: as the job says, None if it does not.
        per_hour: None without hours.
        days_left, hours_left: what is left by the rate; None where nothing was surely dug since.
    """

    days: int | None
    per_day: float | None
    hours: float | None
    per_hour: float | None
    days_left: float | None
    hours_left: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ProgressSurvey:
    """The dig on one day.

    Args:
        last: the day of the survey before, None on the first.
        rows: walls in the job's order, then pits, ramps and trenches.
        total: all rows together.
        elsewhere: net, dug where the design says nothing; in no row and not in the total.
        share_dug: of the design, what is no longer there.
        thin_cut: about what noise adds to left, and to beyond, on a floor dug to design.
    """

    date: str
    last: str | None
    rows: tuple[ProgressRow, ...]
    total: ProgressRow
    elsewhere: Figure
    share_dug: float
    thin_cut: float | None
    rate: Rate
