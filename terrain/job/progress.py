"""Progress of a dig from its as-dug surveys: by wall and part, since the last one, how fast."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date

from terrain.asdug.graded import THIN_CUT
from terrain.asdug.measured import NOTHING, Measured, SurveyTerms, doubt_from, total
from terrain.asdug.progress import Sheet, Standing, hole_dug, standing, subsoil_dug
from terrain.base.arrays import FloatArray
from terrain.base.errors import Fault, SurveyError
from terrain.job.piles_soil import Hole
from terrain.job.progress_record import Figure, ProgressRow, ProgressSurvey, Rate
from terrain.job.worked import Worked
from terrain.ledger.doubt import Doubt, significant
from terrain.ledger.entries import BankVolume
from terrain.pit.dig import PARTS

OVERDIG = PARTS.index("overdig")


@dataclass(frozen=True, slots=True, kw_only=True)
class DayDug:
    """The ground as dug on one day, all of the existing ground's plan.

    Args:
        date: the day.
        hours: worked since the survey before, None if not said.
        sheet: the ground; the existing ground's points stand under its own key.
        floor_area: plan area that the day's shots cover.
        terms: of the day's own shots.
        upright: (walls,) half widths at 95 % of what errors of its shots in plan make of what is
            dug along each wall with upright faces, in cubic units; None where that isn't known.
    """

    date: str
    hours: float | None
    sheet: Sheet
    floor_area: float
    terms: SurveyTerms
    upright: FloatArray | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Days:
    """All days of a dig in order, the ground before it, and what their shots err by.

    `why_not` says, by day, why the shots of others make no ring.
    """

    before: Sheet
    days: tuple[DayDug, ...]
    surveys: Mapping[str, SurveyTerms]
    why_not: Mapping[str, str] = field(default_factory=dict)


def progress_surveys(worked: Worked, days: Days) -> tuple[ProgressSurvey, ...]:
    """The dig on each of its days, oldest first."""
    told, last = [], None
    for day in days.days:
        now = standing(days.before, day.sheet, worked.dig)
        told.append(_survey(worked, days, (day, now), last))
        last = day, now
    return tuple(told)


def _survey(
    worked: Worked, days: Days, here: tuple[DayDug, Standing], last: tuple[DayDug, Standing] | None
) -> ProgressSurvey:
    day, now = here
    design = worked.layout.design
    table = _Table(worked=worked, surveys=days.surveys, here=here, before=last)
    order = [row for _, row in sorted((n, row) for row, n in enumerate(design.number))]
    rows = [table.wall(row, design.walls[row].name) for row in order]
    rows += [
        table.row(extra.name, extra.kind, [row * len(PARTS)])
        for row, extra in enumerate(design.extras, start=len(design.walls))
    ]
    whole = table.row("all", "total", now.labels)
    whole_design = whole.design.volume
    scatter = day.terms.terms.errors.accuracy
    volume = worked.job.unit.volume
    return ProgressSurvey(
        date=day.date,
        last=None if last is None else last[0].date,
        rows=tuple(rows),
        total=whole,
        elsewhere=table.figure(now.elsewhere, upright_faces(day, now.labels)),
        share_dug=0.0 if whole_design <= 0 else 1.0 - whole.left.volume / whole_design,
        thin_cut=None if scatter is None else volume(THIN_CUT * scatter * day.floor_area),
        rate=_rate(day, last[0].date if last else None, whole),
    )


def upright_faces(day: DayDug, labels: Sequence[int]) -> float:
    """What errors in plan of upright faces make doubtful of some labels, in cubic units.

    The overdig is what goes up to them.
    """
    if day.upright is None:
        return 0.0
    rows = {label // len(PARTS) for label in labels if label % len(PARTS) == OVERDIG}
    return math.hypot(*(float(day.upright[row]) for row in rows if row < len(day.upright)))


def with_faces(doubt: Doubt, upright: float) -> Doubt:
    """A doubt with that of upright faces among its errors in plan."""
    if upright <= 0.0:
        return doubt
    return replace(doubt, horizontal=math.hypot(doubt.horizontal or 0.0, upright))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Table:
    worked: Worked
    surveys: Mapping[str, SurveyTerms]
    here: tuple[DayDug, Standing]
    before: tuple[DayDug, Standing] | None

    def figure(self, measured: Measured, upright: float = 0.0) -> Figure:
        """A figure; `upright` is what upright faces add to its doubt, in cubic units."""
        volume = self.worked.job.unit.volume
        doubt = with_faces(doubt_from(measured, self.surveys), upright).times(volume(1.0))
        amount = volume(measured.amount)
        return Figure(
            volume=BankVolume(amount),
            plus_minus_95=doubt.together,
            is_significant=significant(amount, doubt),
            doubt=doubt,
        )

    def row(
        self, name: str, kind: str, labels: Sequence[int], parts: tuple[ProgressRow, ...] = ()
    ) -> ProgressRow:
        now, last = self.here[1], None if self.before is None else self.before[1]
        faces = upright_faces(self.here[0], labels)
        dug = total([now.dug(label) for label in labels])
        since = None
        if last is not None:
            every = {*labels, *last.labels} if kind == "total" else labels
            then = 0.0 if self.before is None else upright_faces(self.before[0], labels)
            since = self.figure(
                dug - total([last.dug(label) for label in every]), math.hypot(faces, then)
            )
        return ProgressRow(
            name=name,
            kind=kind,
            design=self.figure(total([now.design.get(k, NOTHING) for k in labels])),
            dug=self.figure(dug, faces),
            since_last=since,
            left=self.figure(total([now.left.get(k, NOTHING) for k in labels]), faces),
            beyond=self.figure(total([now.beyond.get(k, NOTHING) for k in labels])),
            parts=parts,
        )

    def wall(self, row: int, name: str) -> ProgressRow:
        first = row * len(PARTS)
        parts = tuple(self.row(part, "part", [first + k]) for k, part in enumerate(PARTS))
        return self.row(name, "wall", range(first, first + len(PARTS)), parts)


def _rate(day: DayDug, last: str | None, whole: ProgressRow) -> Rate:
    """The rate of a day; on the first survey what was dug is since the beginning."""
    dug = whole.dug if whole.since_last is None else whole.since_last
    days = None
    if last is not None:
        days = (date.fromisoformat(day.date) - date.fromisoformat(last)).days
    per_day = None if not days else dug.volume / days
    per_hour = None if day.hours is None else dug.volume / day.hours
    surely = dug.volume > 0.0 and dug.is_significant is not False
    left = whole.left.volume
    return Rate(
        days=days,
        per_day=per_day,
        hours=day.hours,
        per_hour=per_hour,
        days_left=left / per_day if per_day and surely else None,
        hours_left=left / per_hour if per_hour and surely else None,
    )


def hole_between(worked: Worked, days: Days, since: str | None, until: str) -> Hole:
    """What the hole grew by between two days, and how much of it was topsoil.

    Raises:
        SurveyError: the shots of one of the days make no ring, so that its hole has no volume.
    """
    found = {day.date: day.sheet for day in days.days}
    faults = [
        Fault(
            key="asdug",
            message=f"the survey of {day} shows no whole hole, {days.why_not.get(day, '')}: shoot "
            "its toe all round, or name another day for the piles",
        )
        for day in (since, until)
        if day is not None and day not in found
    ]
    if faults:
        raise worked.job.located(SurveyError(*faults))
    strip = worked.job.dig.topsoil_strip
    bank = hole_dug(days.before, found[until])
    below = bank if strip == 0.0 else subsoil_dug(days.before, found[until], strip)
    if since is not None:
        before = hole_dug(days.before, found[since])
        bank -= before
        below -= before if strip == 0.0 else subsoil_dug(days.before, found[since], strip)
    return Hole(bank=bank, topsoil=bank - below, surveys=days.surveys)


def left_by_wall(surveys: Sequence[ProgressSurvey], on: str) -> dict[str, float]:
    """What is still to be dug by wall after the survey of a day, in bank."""
    (survey,) = [survey for survey in surveys if survey.date == on]
    return {row.name: float(row.left.volume) for row in survey.rows if row.kind == "wall"}


def left_of_extras(surveys: Sequence[ProgressSurvey], on: str) -> float:
    """What is still to be dug of pits, ramps and trenches after the survey of a day, in bank."""
    (survey,) = [survey for survey in surveys if survey.date == on]
    return math.fsum(float(row.left.volume) for row in survey.rows if row.kind != "wall")
