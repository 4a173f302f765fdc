"""The days of a dig: the ground before it, and as dug on each day that its hole was surveyed."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from terrain.asdug.between_parts import between_parts
from terrain.asdug.faces import face_doubts
from terrain.asdug.hole import Hole
from terrain.asdug.measured import SurveyTerms
from terrain.asdug.progress import Sheet, plain_sheet
from terrain.asdug.told_apart import Kind
from terrain.job.asdug import DayHole, plan_sigma_of, sides_of, surveyed_hole
from terrain.job.piles import EXISTING, existing_terms
from terrain.job.progress import DayDug, Days
from terrain.job.worked import Worked
from terrain.ledger.doubt import Terms
from terrain.ledger.errors_said import SurveyErrors
from terrain.ledger.ground import Ground
from terrain.ledger.hats import hats_between
from terrain.ledger.weights import weights_of
from terrain.surface.patches import Surface
from terrain.surface.tin import triangle_faces


def days_dug(worked: Worked) -> Days:
    """The days of every `[[asdug]]` survey whose shots make a ring.

    Raises:
        SurveyError: as `surveyed_hole`.
    """
    return days_from(worked, [surveyed_hole(worked, k) for k in range(len(worked.job.asdug))])


def days_from(worked: Worked, holes: Sequence[DayHole]) -> Days:
    """The same of holes that are read already."""
    days, why_not = [], {}
    for own in holes:
        day = surveyed_day(worked, own)
        if day is None:
            why_not[own.asked.date] = own.hole.why_not
        else:
            days.append(day)
    return replace(days_of(worked, tuple(days)), why_not=why_not)


def surveyed_day(worked: Worked, own: DayHole) -> DayDug | None:
    """The day of a hole with what errors in plan do to its upright faces; None without a ring."""
    errors, sigma = own.later.errors, plan_sigma_of(own.later.errors)
    seen = replace(errors, horizontal_accuracy=sigma)
    day = day_dug(own.asked.date, own.asked.hours, own.hole, seen)
    if day is None:
        return None
    return replace(day, upright=face_doubts(own.hole, sides_of(worked), worked.existing.tin, sigma))


def days_of(worked: Worked, days: tuple[DayDug, ...]) -> Days:
    """The days of a job in order, with the ground before them."""
    surveys = {EXISTING: existing_terms(worked)}
    surveys |= {key_of(day.date): day.terms for day in days}
    before = plain_sheet(worked.existing.ground, EXISTING)
    return Days(before=before, days=days, surveys=surveys)


def key_of(date: str) -> str:
    """The key under which the shots of a day's hole stand in weights."""
    return f"asdug {date}"


def day_dug(date: str, hours: float | None, hole: Hole, errors: SurveyErrors) -> DayDug | None:
    """A day from the hole that was surveyed, None where its shots make no ring.

    Args:
        date: the day.
        hours: worked since the survey before.
        hole: as surveyed; its own shots stand in its sheet after those of the ground before.
        errors: what the survey errs by.
    """
    if hole.sheet is None:
        return None
    sheet = replace(hole.sheet, surveys=(EXISTING, key_of(date)))
    own = _own_ground(hole, sheet, errors)
    return DayDug(
        date=date,
        hours=hours,
        sheet=sheet,
        floor_area=hole.area.area,
        terms=SurveyTerms(terms=_terms(own, hole), setup=date),
    )


def _own_ground(hole: Hole, sheet: Sheet, errors: SurveyErrors) -> Ground:
    """The hole alone, over its own shots; those round its toe and rim stand on lines."""
    inside = (sheet.of[sheet.ground.triangles] == 1).all(axis=1)
    triangles = sheet.number[sheet.ground.triangles[inside]]
    rings = [ring for ring in (hole.ring, hole.toes) if ring is not None]
    return Ground(
        surface=triangle_faces(hole.points, triangles),
        points=hole.points,
        triangles=triangles,
        errors=errors,
        on_line=np.unique(np.concatenate(rings)).astype(np.int64),
    )


def _terms(own: Ground, hole: Hole) -> Terms:
    between = None
    if own.errors.is_said:
        low = _under(own.surface)
        weights = weights_of(hats_between(own, low, "above"))
        on_face = np.isin(hole.kind, (Kind.FACE, Kind.TOP))
        between = between_parts(own, weights[0].spots, on_face)
    return Terms(errors=own.errors, plan=own.points[:, :2], between=between)


def _under(surface: Surface) -> Surface:
    """The same faces one lower, under one label: all of the first is above them."""
    plane = surface.plane.copy()
    plane[:, 2] -= 1.0
    return Surface(
        start=surface.start, ring=surface.ring, plane=plane,
        label=np.zeros_like(surface.label),
    )  # fmt: skip
