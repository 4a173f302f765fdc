"""Why the bill differs from the bid, wall by wall: parts that sum to the change exactly.

From the bid's design in the ground it was made on to the design and ground of today, one thing is
put in the place of another in a fixed order: ground, floor, overdig, side, extras. What then was
dug otherwise than designed goes to the part of the design it lies in: below or above core and
footing is floor, in the working room overdig, in and beside the sloped face side, in pits, ramps
and trenches extras. Last, what a measured soil factor makes of a loose or compacted measure.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from terrain.asdug.beside import dug_beside
from terrain.asdug.measured import Measured, doubt_from, total
from terrain.asdug.progress import standing
from terrain.base.errors import Fault, JobError
from terrain.job.asdug import surveyed_hole
from terrain.job.load import Job
from terrain.job.progress_days import day_dug, days_of
from terrain.job.quantities import factor_of
from terrain.job.volumes import Progress, work_out
from terrain.job.worked import Worked
from terrain.ledger.doubt import significant
from terrain.pit.dig import PARTS

PARTED: Final = ("ground", "floor", "overdig", "side", "extras", "soil factor")
OF_PART: Final = {"core": "floor", "footing": "floor", "overdig": "overdig", "side": "side"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """One part of a change in the job's volume unit; whether it is larger than its own doubt (None
    where that isn't known, or where a design was changed, which has no doubt).
    """

    part: str
    change: float
    is_significant: bool | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ReasonsRow:
    """A wall, or a pit, ramp or trench: bid, billed, and the parts that the change is made of."""

    name: str
    bid: float
    billed: float
    parts: tuple[Reason, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Reasons:
    """All rows, and the day that was billed by; volumes in `measure`."""

    measure: str
    survey: str
    rows: tuple[ReasonsRow, ...]


def reasons_of(bid: Job, billed: Job, day: str, measure: str, progress: Progress) -> Reasons:
    """Why what was dug by a day differs from a bid.

    Args:
        bid: the job as it was bid; the same as `billed` where it was not changed.
        billed: the job as it stands.
        day: of the as-dug survey.
        measure: bank, loose or compacted.
        progress: called with a few words as each stage begins.

    Raises:
        JobError: there is no such survey, or the walls are called otherwise in the two jobs.
        SpoilbankError: as `work_out`.
    """
    steps = _steps(bid, billed, progress)
    first, last = steps[0], steps[-1]
    names = [row for row in _rows(first)]
    if set(names) != set(_rows(last)):
        message = "walls, pits, ramps and trenches must be called as in the bid to tell why"
        raise billed.located(JobError(Fault(key="dig", message=message)))
    dug, doubts = _dug(last, day)
    before, after = (factor_of(measure, worked.soil) for worked in (first, last))
    rows = []
    for name in names:
        changes = dict.fromkeys(PARTED, 0.0)
        told: dict[str, bool | None] = dict.fromkeys(PARTED)
        for part, one, other in zip(PARTED[:5], steps, steps[1:], strict=False):
            changes[part] += _bank(other, name) - _bank(one, name)
        for part, (change, is_sure) in dug[name].items():
            changes[part] += change
            told[part] = is_sure
        bank = _bank(first, name) + sum(changes.values())
        parts = [
            Reason(part=part, change=changes[part] * before, is_significant=told[part])
            for part in PARTED[:5]
        ]
        soil = bank * (after - before)
        sure = None if last.soil.swell_plus_minus_95 is None else abs(after - before) > doubts
        parts.append(Reason(part="soil factor", change=soil, is_significant=sure))
        start = _bank(first, name) * before
        rows.append(
            ReasonsRow(
                name=name,
                bid=start,
                billed=start + sum(reason.change for reason in parts),
                parts=tuple(parts),
            )
        )
    return Reasons(measure=measure, survey=day, rows=tuple(rows))


def _steps(bid: Job, billed: Job, progress: Progress) -> list[Worked]:
    """The job worked out as bid, then with ground, floor, overdigs, sides and extras of today."""
    jobs = [bid, replace(billed, dig=bid.dig, foundation=bid.foundation, soil=billed.soil)]
    old, new = bid.dig, billed.dig
    levels = ("top", "wall_height", "footing", "stone")
    foundation = bid.foundation.model_copy(
        update={key: getattr(billed.foundation, key) for key in levels}
    )
    dig = old.model_copy(update={"floor": new.floor})
    jobs.append(replace(jobs[-1], dig=dig, foundation=foundation))
    for key in ("overdig", "side"):
        walls = {
            name: dig.walls.get(name, new.walls.get(name)).model_copy(  # type: ignore[union-attr]
                update={key: getattr(new.walls[name], key) if name in new.walls else None}
            )
            for name in {*dig.walls, *new.walls}
        }
        dig = dig.model_copy(update={key: getattr(new, key), "walls": walls})
        jobs.append(replace(jobs[-1], dig=dig))
    jobs.append(replace(billed))
    return [work_out(job, progress) for job in jobs]


def _rows(worked: Worked) -> list[str]:
    design = worked.layout.design
    walls = sorted(range(len(design.walls)), key=lambda row: design.number[row])
    return [design.walls[row].name for row in walls] + [extra.name for extra in design.extras]


def _row(worked: Worked, name: str) -> int:
    design = worked.layout.design
    names = [wall.name for wall in design.walls] + [extra.name for extra in design.extras]
    return names.index(name)


def _bank(worked: Worked, name: str) -> float:
    return worked.job.unit.volume(float(worked.figures.bank[_row(worked, name)].sum()))


def _dug(
    worked: Worked, day: str
) -> tuple[Mapping[str, dict[str, tuple[float, bool | None]]], float]:
    """By row and reason, how much more was dug than designed and whether that is significant; and
    the doubt of the soil's swell.
    """
    days = [survey.date for survey in worked.job.asdug]
    if day not in days:
        message = f"there is no survey of {day}; those there are: {', '.join(days) or 'none'}"
        raise JobError(Fault(file=worked.job.file, key="asdug", message=message))
    own = surveyed_hole(worked, days.index(day))
    made = day_dug(own.asked.date, own.asked.hours, own.hole, own.later.errors)
    if made is None:
        message = f"the survey of {day} gives no volumes: {own.hole.why_not}"
        raise JobError(Fault(file=worked.job.file, key="asdug", message=message))
    every = days_of(worked, (made,))
    now = standing(every.before, made.sheet, worked.dig)
    walls = len(worked.layout.design.walls)
    beside = dug_beside(every.before, made.sheet, worked.dig, walls)
    volume = worked.job.unit.volume
    found = {}
    for name in _rows(worked):
        row = _row(worked, name)
        by_part: dict[str, list[Measured]] = {}
        for label in [k for k in now.labels if k // len(PARTS) == row]:
            part = "extras" if row >= walls else OF_PART[PARTS[label % len(PARTS)]]
            more = [now.beyond[label]] if label in now.beyond else []
            less = [now.left[label].times(-1.0)] if label in now.left else []
            by_part.setdefault(part, []).extend([*more, *less])
        if row in beside:
            by_part.setdefault("side", []).append(beside[row])
        told = {}
        for part, amounts in by_part.items():
            whole = total(amounts)
            told[part] = (
                volume(whole.amount), significant(whole.amount, doubt_from(whole, every.surveys)),
            )  # fmt: skip
        found[name] = told
    return found, worked.soil.swell_plus_minus_95 or 0.0


def sums(rows: Sequence[ReasonsRow]) -> ReasonsRow:
    """All rows together."""
    return ReasonsRow(
        name="all",
        bid=sum(row.bid for row in rows),
        billed=sum(row.billed for row in rows),
        parts=tuple(
            Reason(
                part=part,
                change=sum(row.parts[k].change for row in rows),
                is_significant=None,
            )
            for k, part in enumerate(PARTED)
        ),
    )
