"""How much otherwise than designed is billed by a survey, wall by wall and reason by reason.

A plan is parted by the toe as surveyed and the dig line as designed: within both a difference is
the floor's; between the two, where the foot of the hole stands elsewhere than asked, it is the
overdig's, as deep as it goes; outside both it is the side's. Pits, ramps and trenches are extras.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TypeAlias

import shapely

from terrain.asdug.beside import dug_beside
from terrain.asdug.measured import NOTHING, Measured, SurveyTerms, doubt_from, total
from terrain.asdug.progress import Sheet, above_dig, standing
from terrain.base.errors import Fault, JobError
from terrain.job.asdug import surveyed_hole
from terrain.job.progress import upright_faces, with_faces
from terrain.job.progress_days import days_of, surveyed_day
from terrain.job.quantities import pay_design
from terrain.job.worked import Worked
from terrain.ledger.doubt import significant
from terrain.pit.dig import PARTS, SIDE, Dig, dig_of
from terrain.surface.minimum import within

ByReason: TypeAlias = dict[str, list[Measured]]

BESIDE = len(PARTS)
"""Stands for a part where the design to the pay line has none: outside it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PaidBy:
    """The pay rule: basis, allowance beyond the pay line, and what the pay line is."""

    basis: str
    allowance: float
    pay_line: str


def paid_dig(worked: Worked, rule: PaidBy, allowance: float = 0.0) -> Dig:
    """The dig to the pay line of a rule, so much farther out."""
    layout = worked.layout
    design = pay_design(layout.design, rule.pay_line, layout.projection, allowance)
    if design == layout.design:
        return worked.dig
    return dig_of(design, worked.existing.tin.points)


def billed_beyond_design(
    worked: Worked, day: str, rule: PaidBy
) -> tuple[dict[int, ByReason], Mapping[str, SurveyTerms]]:
    """By row of the design and by reason, what is billed beyond the design or short of it; and what
    the surveys err by.

    Raises:
        JobError: there is no such survey, or it shows no whole hole.
        SurveyError: as `surveyed_hole`.
    """
    job = worked.job
    days = [survey.date for survey in job.asdug]
    if day not in days:
        message = f"there is no survey of {day}; those there are: {', '.join(days) or 'none'}"
        raise job.located(JobError(Fault(key="asdug", message=message)))
    own = surveyed_hole(worked, days.index(day))
    made = surveyed_day(worked, own)
    if made is None:
        message = f"the survey of {day} gives no volumes: {own.hole.why_not}"
        raise job.located(JobError(Fault(key="asdug", message=message)))
    every = days_of(worked, (made,))
    whole, inside = (every.before, made.sheet), _within(every.before, made.sheet, own.hole.area)
    in_all, in_toe = (_billed(worked, before, now, rule) for before, now in (whole, inside))
    walls = len(worked.layout.design.walls)
    found: dict[int, ByReason] = {}
    if rule.basis == "neat":
        short = total(list(in_all.values()))
        labels = [row * len(PARTS) + part for row, part in in_all]
        known = with_faces(doubt_from(short, every.surveys), upright_faces(made, labels))
        if significant(short.amount, known) is False:
            return found, every.surveys  # the whole design is billed then: see `Quantities`
    for row, part in in_all:
        here = in_toe.get((row, part), NOTHING)
        own_row = found.setdefault(row, {})
        for reason, amount in _parted(row < walls, part, here, in_all[row, part] - here):
            own_row.setdefault(reason, []).append(amount)
    return found, every.surveys


def _parted(
    is_wall: bool, part: int, inside: Measured, outside: Measured
) -> tuple[tuple[str, Measured], ...]:
    """What a difference in a part of the design is put down to, within the toe and outside it."""
    if not is_wall:
        return ("extras", inside), ("extras", outside)
    if part in (SIDE, BESIDE):
        return ("overdig", inside), ("side", outside)
    return ("floor", inside), ("overdig", outside)


def _within(before: Sheet, now: Sheet, toe: shapely.Polygon) -> tuple[Sheet, Sheet]:
    """Both grounds within the toe as surveyed."""
    held = (
        replace(one, ground=replace(one.ground, surface=within(one.ground.surface, toe)))
        for one in (before, now)
    )
    return next(held), next(held)


def _billed(
    worked: Worked, before: Sheet, now: Sheet, rule: PaidBy
) -> dict[tuple[int, int], Measured]:
    """By row and part of the design, what is billed beyond it (short of it: negative)."""
    dig, walls = paid_dig(worked, rule), len(worked.layout.design.walls)
    here = standing(before, now, dig)
    found = {divmod(label, len(PARTS)): own.times(-1.0) for label, own in here.left.items()}

    def add(place: tuple[int, int], more: Measured) -> None:
        found[place] = found.get(place, NOTHING) + more

    if rule.basis == "as dug":
        for label, more in here.beyond.items():
            add(divmod(label, len(PARTS)), more)
        for row, more in dug_beside(before, now, dig, walls).items():
            add((row, BESIDE), more)
    elif rule.basis == "as dug to line" and rule.allowance > 0.0:
        wide = paid_dig(worked, rule, rule.allowance)
        narrow = _earned(here.design, here.left)
        for row, more in _earned(above_dig(before, wide), above_dig(now, wide)).items():
            if row < walls:
                add((row, BESIDE), more - narrow.get(row, NOTHING))
    return found


def _earned(design: Mapping[int, Measured], left: Mapping[int, Measured]) -> dict[int, Measured]:
    """Design less what is left, by row."""
    rows: dict[int, list[Measured]] = {}
    for label, amount in design.items():
        rows.setdefault(label // len(PARTS), []).append(amount)
    for label, amount in left.items():
        rows.setdefault(label // len(PARTS), []).append(amount.times(-1.0))
    return {row: total(amounts) for row, amounts in rows.items()}
