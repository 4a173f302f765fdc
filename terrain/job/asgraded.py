"""The lot as graded: every `[[asgraded]]` survey against the finished surface, and its rasters."""

from dataclasses import replace

import numpy as np

from terrain.asdug.graded import (
    ShotErrors,
    SideCheck,
    check_grade,
    finished_by_side,
    round_house,
)
from terrain.asdug.graded_falls import WallFall, wall_falls
from terrain.asdug.graded_flow import FlowAsked, graded_flow
from terrain.base.errors import Fault, SpoilbankError, SurveyError
from terrain.base.frame import LocalFrame
from terrain.base.units import FOOT, LengthUnit
from terrain.job.asdug_tables import AsGraded
from terrain.job.asgraded_drawn import map_of, rasters_of_day
from terrain.job.asgraded_record import GradedFall, GradedSide, GradedSurvey, WorstShot
from terrain.job.drainage import Drainage, Found, drainage_told
from terrain.job.graded import Graded
from terrain.job.later import Later, read_later, under_key
from terrain.job.rasters import flow_grid, lot_grid
from terrain.ledger.doubt import significant
from terrain.ledger.ground import Ground
from terrain.lot.fall_rays import fall_rule
from terrain.lot.flow_record import flow_limits
from terrain.lot.rays import Settling
from terrain.surface.gridding import Grid
from terrain.surface.tin import build_tin, tin_surface


def usual_grade_tolerance(unit: LengthUnit) -> float:
    """0.1 ft, or 0.03 m (common practice, no source)."""
    return 0.03 if unit.is_metric else 0.1


def wall_gap(unit: LengthUnit) -> float:
    """How far from the wall ground may begin and still be that at the wall: 2 ft, or 0.6 m.

    Our choice: half of it is what a rod can stand off a form.
    """
    return 0.6 if unit.is_metric else 2.0 * float(FOOT.metres / unit.metres)


def graded_surveys(graded: Graded) -> tuple[GradedSurvey, ...]:
    """Every `[[asgraded]]` survey of a job against its finished lot, oldest first.

    Raises:
        SurveyError: shots that can't be read, are of another lot, or make no ground on this one.
        DesignError: at `lot.cell`, where the raster would be too large.
    """
    job = graded.worked.job
    order = sorted(enumerate(job.asgraded, start=1), key=lambda entry: entry[1].date)
    return tuple(_survey(graded, f"asgraded[{k}]", asked) for k, asked in order)


def _survey(graded: Graded, key: str, asked: AsGraded) -> GradedSurvey:
    worked = graded.worked
    job, frame, existing = worked.job, worked.layout.frame, worked.existing
    lot, ground = graded.lot, existing.ground.surface
    later = read_later(job, key, asked, existing, frame)
    grid = grid_of(graded)
    try:
        tin = build_tin(later.points, later.lines, frame=frame)
    except SpoilbankError as error:
        raise job.located(under_key(error, f"{key}.shots")) from error
    around = round_house(tin, lot.design.house, wall_gap(job.unit))
    seen = Ground(
        surface=tin_surface(around),
        points=around.points,
        triangles=around.triangles,
        errors=later.errors,
    )
    sides = graded.asked.sides
    finished = finished_by_side(ground, lot, np.array(sides.of_house))
    tolerance = job.verify.grade_tolerance or usual_grade_tolerance(job.unit)
    check = check_grade(seen, finished, len(sides.names), tolerance)
    if check.whole.area <= 0.0:
        message = "none of the ground it shoots lies on the lot outside the house"
        raise job.located(SurveyError(Fault(key=f"{key}.shots", message=message)))
    falls, drained = _water(graded, seen)
    shots = check.shots
    return GradedSurvey(
        date=asked.date,
        vertical_datum=job.site.vertical_datum,
        tolerance=tolerance,
        shots=len(shots.error),
        shots_within=int((np.abs(shots.error) <= tolerance).sum()),
        not_judged=len(later.points) - len(shots.error),
        mean=shots.mean,
        deviation=shots.deviation,
        rmse=shots.rmse,
        at_95=shots.at_95,
        worst_high=_worst(later, shots, frame, 1.0),
        worst_low=_worst(later, shots, frame, -1.0),
        sides=tuple(
            _side(name, own, job.unit) for name, own in zip(sides.names, check.sides, strict=True)
        ),
        total=_side(None, check.whole, job.unit),
        falls=falls,
        drainage=drained,
        rasters=rasters_of_day(graded, seen, grid, asked.date),
        map=map_of(graded, (seen, around), finished, (shots, tolerance)),
        files=later.files,
        notes=(*later.notes, *(note.message for note in tin.notes)),
    )


def grid_of(graded: Graded) -> Grid:
    """The cells of the lot's rasters: those of `grade`, so that a GIS lays one on the other.

    Raises:
        DesignError: at `lot.cell`, where the raster would be too large.
    """
    job = graded.worked.job
    cell = None if job.lot is None else job.lot.cell
    boundary = graded.lot.design.boundary
    try:
        return lot_grid(boundary, graded.worked.layout.frame, job.unit, cell)
    except SpoilbankError as error:
        raise job.located(error) from error


def _side(name: str | None, check: SideCheck, unit: LengthUnit) -> GradedSide:
    doubt, volume = check.doubt.together, unit.volume
    return GradedSide(
        wall=name,
        area=check.area,
        share_within=None if check.area <= 0.0 else check.area_within / check.area,
        high=volume(check.high),
        low=volume(check.low),
        to_trim=volume(check.to_trim),
        to_fill=volume(check.to_fill),
        net=volume(check.net),
        net_plus_minus_95=None if doubt is None else volume(doubt),
        is_significant=significant(check.net, check.doubt),
        thin_cut=None if check.thin_cut is None else volume(check.thin_cut),
    )


def _worst(later: Later, shots: ShotErrors, frame: LocalFrame, way: float) -> WorstShot | None:
    """The shot furthest off up (1) or down (-1), None where none is."""
    if not len(shots.error) or (way * shots.error).max() <= 0.0:
        return None
    worst = int(np.argmax(way * shots.error))
    easting, northing = frame.to_site(shots.shot[worst, :2])
    own = int(np.argmin(np.hypot(*(later.points[:, :2] - shots.shot[worst, :2]).T)))
    return WorstShot(
        error=float(shots.error[worst]),
        spot=(float(easting), float(northing)),
        place=later.shots.place(own),
    )


def _water(graded: Graded, seen: Ground) -> tuple[tuple[GradedFall, ...], Drainage]:
    worked = graded.worked
    job, frame, lot = worked.job, worked.layout.frame, graded.lot
    rule, limits = fall_rule(job.unit), flow_limits(job.unit)
    share = 0.0 if job.lot is None else job.lot.settlement
    settling = Settling(dig=worked.dig.surface, share=share) if share > 0 else None
    gap = wall_gap(job.unit)
    falls = wall_falls(seen, lot, rule, settling, gap)
    asked = FlowAsked(grid=flow_grid(lot.design.boundary, frame, job.unit), limits=limits, gap=gap)
    failures = [s.failure for own in falls for s in own.stations if s.failure is not None]
    found = Found(
        rule=rule,
        limits=limits,
        settlement=share,
        failures=(*failures, *(s for own in falls for s in own.swales)),
        flow=graded_flow(seen, worked.existing.ground.surface, lot, asked),
    )
    names = graded.asked.sides.names
    rows = [_together(falls, graded.asked.sides.of_house, row) for row in range(len(names))]
    told = tuple(
        _fall(name, own, graded) for name, own in zip(names, rows, strict=True) if own is not None
    )
    return told, drainage_told(found, lot, frame)


def _together(falls: tuple[WallFall, ...], side: tuple[int, ...], row: int) -> WallFall | None:
    """The walls of one name as one; None where no wall of the house has it."""
    own = [fall for fall, its in zip(falls, side, strict=True) if its == row]
    if not own:
        return None
    return replace(
        own[0],
        stations=tuple(s for fall in own for s in fall.stations),
        asked=sum(fall.asked for fall in own),
        swales=tuple(s for fall in own for s in fall.swales),
    )


def _fall(name: str, fall: WallFall, graded: Graded) -> GradedFall:
    worst, sides = fall.worst, graded.asked.sides
    line = None if worst is None else graded.worked.layout.frame.to_site(worst.line)
    corner = None
    if worst is not None:
        before = sides.names[sides.of_house[worst.wall - 1]]
        corner = (before, sides.names[sides.of_house[worst.wall]])
    return GradedFall(
        wall=name,
        verdict=fall.verdict,
        stations=len(fall.stations),
        asked=fall.asked,
        failing=sum(s.verdict == "fails" for s in fall.stations) + len(fall.swales),
        mean_per_run=fall.mean_per_run,
        spot=None if line is None else (float(line[0, 0]), float(line[0, 1])),
        to=None if line is None else (float(line[1, 0]), float(line[1, 1])),
        distance=None if worst is None else worst.away,
        fall=None if worst is None else worst.told_fall,
        needed=None if worst is None else worst.told_needed,
        why=None if worst is None or worst.failure is None else worst.failure.why,
        plus_minus_95=None if worst is None else worst.plus_minus_95,
        along=None if worst is None else worst.station,
        first_corner=corner,
        lacking=None if worst is None else -worst.margin,
        high_out=None if worst is None else worst.high_away,
    )
