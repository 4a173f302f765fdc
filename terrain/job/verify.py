"""The question `verify`: is the hole deep, wide, straight and square enough, and if not, where."""

from dataclasses import replace

import numpy as np

from terrain.asdug.corners import corner_dug, diagonals
from terrain.asdug.walls import WallDug
from terrain.base.errors import Fault, JobError
from terrain.job.answer import InputFile
from terrain.job.asdug import DayHole, sides_of, surveyed_hole
from terrain.job.ground import input_of
from terrain.job.load import Job
from terrain.job.verify_amounts import Amounts, amounts_of
from terrain.job.verify_floor import floor_checked, floor_map
from terrain.job.verify_judge import Judged, judged
from terrain.job.verify_measure import narrow_spots, steep_spot
from terrain.job.verify_notes import notes_of
from terrain.job.verify_record import (
    CornerChecked,
    DiagonalChecked,
    Verified,
    WallChecked,
)
from terrain.job.verify_slope import asked_batter, is_steeper
from terrain.job.verify_todo import todo_of
from terrain.job.volumes import Progress, work_out
from terrain.job.worked import Worked

CAUTIONS = (
    "Nobody enters the hole to check it before a competent person has found it safe that day.",
    "This compares shots with the design. It is no inspection: local code, the engineer and the "
    "inspector decide whether concrete may be placed.",
)
STAY_OFF = "Nobody goes beside it before a competent person has judged it."


def verified(job: Job, progress: Progress, date: str | None = None) -> Verified:
    """The check of the hole against its design, on the last day surveyed or the one named.

    Raises:
        SpoilbankError: the job has no such survey, or it can't be used.
    """
    number = survey_number(job, date)
    worked = work_out(job, progress)
    progress("checking the hole")
    return checked(worked, surveyed_hole(worked, number))


def survey_number(job: Job, date: str | None) -> int:
    """Which of the job's as-dug surveys is meant, from 0: the last by date if none is named."""
    days = [survey.date for survey in job.asdug]
    if not days:
        message = 'the job has no [[asdug]] survey: give its date and shots = ["asdug.csv"]'
        raise JobError(Fault(file=job.file, key="asdug", message=message))
    if date is None:
        return max(range(len(days)), key=lambda k: days[k])
    if date not in days:
        message = f"there is no survey of {date}; those there are: {', '.join(days)}"
        raise JobError(Fault(file=job.file, key="asdug", message=message))
    return days.index(date)


def checked(worked: Worked, day: DayHole) -> Verified:
    """The check of one day's hole."""
    job, unit = worked.job, worked.job.unit
    found_by = judged(worked, day)
    lines, limits, errors = found_by.lines, found_by.limits, found_by.errors
    amounts = amounts_of(worked, day)
    walls = _walls(worked, found_by, amounts)
    walls = tuple(replace(w, narrow_at=narrow_spots(worked, day, w, limits)) for w in walls)
    corners, across = _corners(worked, lines, limits.plan_sigma)
    found = Verified(
        title=job.title,
        date=day.asked.date,
        length_unit=unit.name,
        volume_unit=unit.volume_name,
        floor_tolerance=limits.floor,
        line_tolerance=limits.line,
        floor=floor_checked(worked, day, found_by),
        walls=walls,
        corners=corners,
        diagonals=across,
        undercut=None if amounts is None else amounts.undercut,
        currency=_currency(job, amounts),
        verdict=found_by.verdict,
        todo=(),
        map=floor_map(worked, day, errors, limits.floor),
        inputs=_inputs(day),
        notes=notes_of(worked, day, lines, limits),
        cautions=(*_steep(worked, day, found_by), *CAUTIONS),
    )
    return replace(found, todo=todo_of(found, errors, day, worked, limits))


def _walls(worked: Worked, found_by: Judged, amounts: Amounts | None) -> tuple[WallChecked, ...]:
    design = worked.layout.design
    rows = sorted(range(len(design.walls)), key=lambda row: design.number[row])
    told = []
    for row in rows:
        wall, line = design.walls[row], found_by.lines[row]
        told.append(
            WallChecked(
                wall=wall.name,
                shots=0 if line is None else line.shots,
                asked=wall.overdig,
                least=None if line is None else line.least,
                mean=None if line is None else line.mean,
                most=None if line is None else line.most,
                turn_degrees=None if line is None else line.turn_degrees,
                bow=None if line is None else line.bow,
                bow_at=None if line is None else line.bow_at,
                batter=None if line is None else line.batter,
                batter_asked=asked_batter(wall.side),
                left_out=0 if line is None else line.left_out,
                amounts=None if amounts is None else amounts.walls[row],
                verdict=found_by.walls[row],
                first_corner=(design.walls[row - 1].name, wall.name),
            )
        )
    return tuple(told)


def _corners(
    worked: Worked, lines: list[WallDug | None], sigma: float | None
) -> tuple[tuple[CornerChecked, ...], tuple[DiagonalChecked, ...]]:
    sides, frame, walls = sides_of(worked), worked.layout.frame, worked.layout.design.walls
    count = len(sides)
    found, told, names = [], [], []
    for k in range(count):
        before, after = lines[int(sides.wall[k - 1])], lines[int(sides.wall[k])]
        asked = np.array([sides.start[k - 1], sides.start[k], sides.end[k]])
        corner = None
        if before is not None and after is not None:
            corner = corner_dug(before, after, asked, sigma)
        between = (walls[int(sides.wall[k - 1])].name, walls[int(sides.wall[k])].name)
        found.append(corner)
        names.append(f"{between[0]}/{between[1]}")
        if corner is not None:
            at = frame.to_site(corner.at)
            told.append(
                CornerChecked(
                    between=between,
                    angle_degrees=corner.angle_degrees,
                    asked_degrees=corner.asked_degrees,
                    offset=corner.offset,
                    at=(float(at[0]), float(at[1])),
                )
            )
    across = tuple(
        DiagonalChecked(corners=(names[d.first], names[d.last]), dug=d.dug, asked=d.asked)
        for d in diagonals(found, sides.start, sigma)
    )
    return tuple(told), across


def _steep(worked: Worked, day: DayHole, found_by: Judged) -> list[str]:
    """A caution for every wall whose face stands steeper than was asked for."""
    unit, design, told = worked.job.unit.name, worked.layout.design, []
    for row in sorted(range(len(design.walls)), key=lambda row: design.number[row]):
        spot = steep_spot(worked, day, row, found_by.lines[row], found_by.limits)
        name, line = design.walls[row].name, found_by.lines[row]
        if spot is not None:
            told.append(
                f"Wall {name}: {spot[1]:.1f} {unit} above the floor, earth "
                f"stands {spot[0]:.1f} {unit} above the slope asked for: the face is steeper. "
                f"{STAY_OFF}"
            )
        elif is_steeper(worked, day, row, line, found_by.limits):
            asked = asked_batter(design.walls[row].side)
            leans = 0.0 if line is None or line.batter is None else line.batter.value
            told.append(
                f"Wall {name}: the face leans back {leans:.2f} run per rise, {asked:.2f} was "
                f"asked for: it is steeper. {STAY_OFF}"
            )
    return told


def _currency(job: Job, amounts: Amounts | None) -> str | None:
    if job.billing is None or amounts is None or amounts.walls[0].cost is None:
        return None
    return job.billing.currency


def _inputs(day: DayHole) -> tuple[InputFile, ...]:
    return tuple(input_of(fact) for fact in day.later.files)
