"""Why the bill differs from the bid, wall by wall: parts that sum to the change exactly.

From the bid's design in the ground it was made on to the design and ground of today, one thing is
put in the place of another in a fixed order: ground, floor, overdig, side, extras. What then is
billed otherwise than designed is parted by place (`reasons_dug`) and added to the same parts. Last
comes what another soil factor makes of a loose or compacted measure.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from terrain.asdug.measured import Measured, SurveyTerms, doubt_from, total
from terrain.asdug.progress import above_dig, plain_sheet
from terrain.base.errors import Fault, JobError
from terrain.job.load import Job
from terrain.job.piles import EXISTING, existing_terms
from terrain.job.quantities import factor_of
from terrain.job.reasons_dug import ByReason, PaidBy, billed_beyond_design, paid_dig
from terrain.job.volumes import Progress, work_out
from terrain.job.worked import Worked
from terrain.ledger.doubt import significant
from terrain.pit.dig import PARTS

AS_BID: Final = "existing, as bid"
ROUNDED: Final = 1e-11
PARTED: Final = ("ground", "floor", "overdig", "side", "extras", "soil factor")


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """One part of a change in the job's volume unit; whether it is larger than its own doubt.

    What a changed design makes has the doubt of the ground it is dug from, and another ground that
    of both surveys. None where that isn't known.
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
    """All rows and their sum, and the day and basis that was billed by; volumes in `measure`."""

    measure: str
    basis: str
    survey: str
    rows: tuple[ReasonsRow, ...]
    whole: ReasonsRow


@dataclass(frozen=True, slots=True, kw_only=True)
class BilledBy:
    """What is billed: by the survey of which day, in which measure, by which rule."""

    day: str
    measure: str
    rule: PaidBy


def reasons_of(bid: Job, billed: Job, how: BilledBy, progress: Progress) -> Reasons:
    """Why what is billed by a day differs from a bid.

    Args:
        bid: the job as it was bid; the same as `billed` where it was not changed.
        billed: the job as it stands.
        how: what is billed.
        progress: called with a few words as each stage begins.

    Raises:
        JobError: there is no such survey, or walls and extras are called otherwise in the two jobs.
        SpoilbankError: as `work_out`.
    """
    steps = _steps(bid, billed, progress)
    first, last = steps[0], steps[-1]
    names = _rows(first)
    if set(names) != set(_rows(last)):
        message = "walls, pits, ramps and trenches must be called as in the bid to tell why"
        raise billed.located(JobError(Fault(key="dig", message=message)))
    found, surveys = billed_beyond_design(last, how.day, how.rule)
    keys = _grounds(steps)
    table = _Table(
        designs=[_bank(*one, how.rule) for one in zip(steps, keys, strict=True)],
        beyond={name: found.get(_row(last, name), {}) for name in names},
        surveys={**surveys, AS_BID: replace(existing_terms(first), setup=AS_BID)},
        volume=last.job.unit.volume(1.0),
        factors=(factor_of(how.measure, first.soil), factor_of(how.measure, last.soil)),
        swell_doubt=last.soil.swell_plus_minus_95 if how.measure == "loose" else None,
    )
    return Reasons(
        measure=how.measure,
        basis=how.rule.basis,
        survey=how.day,
        rows=tuple(table.row(name, [name]) for name in names),
        whole=table.row("all", names),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Table:
    """What rows are made of: the design's bank by step and name, and what is billed beyond it."""

    designs: list[dict[str, Measured]]
    beyond: Mapping[str, ByReason]
    surveys: Mapping[str, SurveyTerms]
    volume: float
    factors: tuple[float, float]
    swell_doubt: float | None

    def row(self, name: str, of: Sequence[str]) -> ReasonsRow:
        """The row of some walls and extras together."""
        before, after = self.factors
        banks = [total([design[one] for one in of]) for design in self.designs]
        parts, bank = [], self.volume * banks[0].amount
        for k, part in enumerate(PARTED[:-1]):
            measured = total([m for one in of for m in self.beyond[one].get(part, [])])
            drawn = _drawn(banks[k], banks[k + 1])
            change = self.volume * (drawn.amount + measured.amount)
            bank += change
            noise = ROUNDED * max(abs(banks[k].amount), abs(banks[k + 1].amount))
            sure = self._sure([m for m in (drawn, measured) if m.weights or abs(m.amount) > noise])
            parts.append(Reason(part=part, change=change * before, is_significant=sure))
        change = bank * (after - before)
        sure = None if self.swell_doubt is None else abs(after - before) > self.swell_doubt
        parts.append(Reason(part="soil factor", change=change, is_significant=sure))
        start = self.volume * banks[0].amount * before
        return ReasonsRow(
            name=name,
            bid=start,
            billed=start + sum(reason.change for reason in parts),
            parts=tuple(parts),
        )

    def _sure(self, changes: list[Measured]) -> bool | None:
        if not changes or not all(one.weights for one in changes):
            return None
        change = total(changes)
        return significant(change.amount, doubt_from(change, self.surveys))


def _drawn(before: Measured, after: Measured) -> Measured:
    """What a change of the design or of the ground makes; of no weights where nothing changed, or
    where those of one side aren't known.
    """
    change = after - before
    is_changed = abs(change.amount) > ROUNDED * max(abs(before.amount), abs(after.amount))
    is_known = before.weights and after.weights
    return change if is_changed and is_known else replace(change, weights={})


def _grounds(steps: Sequence[Worked]) -> list[str | None]:
    """Under which name the shots of each step's ground stand; None where they are others than those
    of today, but for the ground that was bid on.
    """
    today = steps[-1].existing.ground.points
    return [
        EXISTING
        if np.array_equal(step.existing.ground.points, today)
        else AS_BID
        if k == 0
        else None
        for k, step in enumerate(steps)
    ]


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
            name: (dig.walls[name] if name in dig.walls else new.walls[name]).model_copy(
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


def _bank(worked: Worked, key: str | None, rule: PaidBy) -> dict[str, Measured]:
    """The design to the pay line by name, in cubic length units; by `key` its ground's weights."""
    sheet = plain_sheet(worked.existing.ground, key or EXISTING)
    names = _rows(worked)
    rows: dict[int, list[Measured]] = {}
    for label, own in above_dig(sheet, paid_dig(worked, rule)).items():
        known = own if key is not None else replace(own, weights={})
        rows.setdefault(label // len(PARTS), []).append(known)
    return {name: total(rows.get(_row(worked, name), [])) for name in names}
