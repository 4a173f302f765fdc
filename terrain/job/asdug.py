"""The hole of a job as surveyed: `[[asdug]]` read, told apart and made a surface."""

from dataclasses import dataclass
from functools import partial
from typing import Literal

import numpy as np
import shapely

from terrain.asdug.hole import Hole, hole_of
from terrain.asdug.ring import Sides, along_sides
from terrain.asdug.scan_cut import ScanAsked, scan_cut
from terrain.asdug.told_apart import Codes, Design, Kind, by_codes, by_place
from terrain.base.arrays import FloatArray, IntArray
from terrain.base.errors import Fault, SpoilbankError, SurveyError
from terrain.base.units import LengthUnit
from terrain.job.asdug_tables import AsDug
from terrain.job.later import FEET_A_METRE, Later, read_later, under_key
from terrain.job.worked import Worked
from terrain.ledger.errors_said import SurveyErrors
from terrain.surface.locate import heights_at
from terrain.surface.overlay import overlay
from terrain.surface.rim import cut_region

NEAR = {"ft": 1.0, "ftUS": 1.0, "m": 0.3}
"""How near the dig line shots without codes count as toe, face or top. Our choice."""
CORNER = {"ft": 2.0, "ftUS": 2.0, "m": 0.6}
"""How near a corner of the dig line a toe shot is of that corner. Our choice."""
CLODS = {"ft": 0.3, "ftUS": 0.3, "m": 0.1}
"""So far off the existing ground a shot still stands on it: grass and clods. Our choice."""
OVER_GROUND = {"ft": 1.0, "ftUS": 1.0, "m": 0.3}
"""A floor or toe shot so far above the existing ground is of no hole. Our choice."""


WORDS = {
    Kind.FLOOR: "floor shot",
    Kind.TOE: "toe shot",
    Kind.TOP: "shot of a top",
    Kind.FACE: "shot of a face",
}

ToldApart = Literal["codes", "place", "scan"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DayHole:
    """The hole on one day: what the job asks of it, its shots as read, the hole they show.

    `told` says what the shots were told apart by; of a scan the hole's own are cut from it.
    """

    asked: AsDug
    later: Later
    hole: Hole
    told: ToldApart


def surveyed_hole(worked: Worked, number: int) -> DayHole:
    """The hole of the survey `asdug[number + 1]`.

    Raises:
        SurveyError: its files can't be read, are of another lot or in another unit, lie above the
            ground, or make no surface.
    """
    job, asked = worked.job, worked.job.asdug[number]
    key = f"asdug[{number + 1}]"
    later = read_later(job, key, asked, worked.existing, worked.layout.frame)
    codes = Codes(
        floor=tuple(asked.floor_codes),
        toe=tuple(asked.toe_codes),
        top=tuple(asked.top_codes),
        face=tuple(asked.face_codes),
    )
    told: ToldApart = "codes" if codes else "place"
    if any(file.cloud is not None for file in later.files):
        told = "scan"
        points, kind = _cut(worked, later)
    else:
        points, kind = later.points, _kinds(worked, later, codes)
        _require_unit(worked, later, kind)
        _require_on_lot(later, kind)
        _require_below(worked, later, kind)
    ground, reach = worked.existing.ground, CORNER[job.unit.name]
    try:
        hole = hole_of(points, kind, sides_of(worked), ground, reach)
    except SpoilbankError as error:
        raise job.located(under_key(error, f"{key}.shots")) from error
    return DayHole(asked=asked, later=later, hole=hole, told=told)


def sides_of(worked: Worked) -> Sides:
    """The straight sides of the design's dig line, steps left out."""
    ring = worked.dig.line.ring
    own = [k for k, front in enumerate(ring.fronts) if front.owner >= 0]
    return Sides(
        start=ring.corners[own],
        end=ring.ends[own],
        wall=np.array([ring.fronts[k].owner for k in own], dtype=np.int32),
    )


def plan_sigma_of(errors: SurveyErrors) -> float | None:
    """One standard deviation of a shot along any way in plan; as in height where nothing is said
    of it, None where nothing is said at all.
    """
    own = errors.horizontal_accuracy
    return errors.accuracy if own is None else own


def _cut(worked: Worked, later: Later) -> tuple[FloatArray, IntArray]:
    """Shots out of a scan of the hole, and their kind.

    Raises:
        SurveyError: nothing of a hole is in the scan.
    """
    name = worked.job.unit.name
    asked = ScanAsked(
        floor=worked.layout.design.floor,
        reach=CORNER[name],
        slice=2.0 * NEAR[name],
        cell=NEAR[name],
        ground=partial(heights_at, worked.existing.tin),
    )
    points, kind = scan_cut(later.points, sides_of(worked), asked)
    if not len(points):
        message = (
            "shows no hole: where the dig is to be, nothing lies in the lower half of its depth; "
            "is it a scan of before the dig, of another lot, or on another mark?"
        )
        raise worked.job.located(SurveyError(Fault(key=f"{later.key}.shots", message=message)))
    return points, kind


def _kinds(worked: Worked, later: Later, codes: Codes) -> IntArray:
    if codes:
        names = [later.shots.code_name(k) for k in range(len(later.shots))]
        kind = by_codes(names, codes)
        if not (kind != Kind.GROUND).any():
            said = ", ".join(sorted({name for name in names if name})[:8]) or "none"
            message = f"no shot has one of these codes; the codes there are: {said}"
            fault = Fault(key=f"{later.key}.floor_codes", message=message)
            raise worked.job.located(SurveyError(fault))
        return kind
    name = worked.job.unit.name
    design = Design(
        line=shapely.Polygon(worked.dig.line.ring.corners),
        daylight=_daylight(worked),
        floor=worked.layout.design.floor,
        near=NEAR[name],
        clods=CLODS[name],
    )
    return by_place(later.points, later.above, design)


def _daylight(worked: Worked) -> shapely.MultiPolygon:
    """Where the main dig of the design is below the ground."""
    ground, dig = worked.existing.ground.surface, worked.dig.main
    return cut_region(ground, worked.existing.tin.neighbours, dig, overlay(ground, dig))


def _require_unit(worked: Worked, later: Later, kind: IntArray) -> None:
    """Hold toes that lie off the dig line not to lie on it in another unit.

    Raises:
        SurveyError: at their first shot, if feet for metres or metres for feet would make them fit.
    """
    toe = np.flatnonzero(kind == Kind.TOE)
    sides, reach = sides_of(worked), CORNER[worked.job.unit.name]

    def off(plan: FloatArray) -> float:
        _, _, away = along_sides(sides, worked.layout.frame.to_local(plan))
        return float(np.median(away))

    plan = later.shots.plan[toe]
    if not len(toe) or off(plan) <= reach:
        return
    for factor, given in ((FEET_A_METRE, "metres"), (1.0 / FEET_A_METRE, "feet")):
        if off(plan * factor) <= reach:
            message = (
                f"the toes lie off the dig line, but on it if they were {given}: give them in the "
                f"job's unit, {worked.job.unit.name}"
            )
            raise SurveyError(later.fault(int(toe[0]), message))


def _require_on_lot(later: Later, kind: IntArray) -> None:
    """Hold every shot of the hole to lie on the ground surveyed before.

    Raises:
        SurveyError: at the first shot that does not.
    """
    beside = np.flatnonzero(np.isnan(later.above) & (kind != Kind.GROUND))
    if len(beside):
        k = int(beside[0])
        more = f" ({len(beside)} such shots in all)" if len(beside) > 1 else ""
        message = (
            f"this {WORDS[Kind(kind[k])]} lies beside the ground surveyed for this lot{more}: is "
            "it of another lot, or was it read wrong?"
        )
        raise SurveyError(later.fault(k, message))


def _require_below(worked: Worked, later: Later, kind: IntArray) -> None:
    """Hold floor and toe to lie below the ground that was there before.

    Raises:
        SurveyError: at the first shot that does not.
    """
    unit: LengthUnit = worked.job.unit
    low = (kind == Kind.FLOOR) | (kind == Kind.TOE)
    wrong = np.flatnonzero(low & (later.above > OVER_GROUND[unit.name]))
    if len(wrong):
        k = int(wrong[0])
        more = f" ({len(wrong)} such shots in all)" if len(wrong) > 1 else ""
        message = (
            f"this {WORDS[Kind(kind[k])]} lies {later.above[k]:.2f} {unit.name} above the ground "
            f"that was there before the dig{more}: is it of another lot, or on another mark?"
        )
        raise SurveyError(later.fault(k, message))
