"""What a job says of its machine, its spoil and its lot, ready for the dig plan."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import shapely

from terrain.base.arrays import FloatArray
from terrain.base.errors import EdgeError
from terrain.haul.cells import Cells
from terrain.haul.legs import Leg
from terrain.haul.machine import Machine, machine_of
from terrain.haul.outside import ON_A_RAMP, ExtraLine
from terrain.haul.places import Heaping
from terrain.haul.work import Heights
from terrain.job.graded import Graded, grade_out
from terrain.job.lot import asks_grade
from terrain.job.lot_line import lot_line
from terrain.job.lot_walls import house_walls
from terrain.job.volumes import Progress, Worked
from terrain.ledger.lot_rows import given_by_side, needed_by_side
from terrain.ledger.rules import DEFAULT_SLOPE, SPOIL_SETBACK, STEEPEST
from terrain.pit.dig import PARTS
from terrain.surface.locate import heights_at, triangle_grid

USUAL_REPOSE = 35.0
"""Degrees: within the range printed for moist sand, 30 to 45 (as quoted in the project's list of
check values)."""

USUAL_HEIGHT = {"ft": 6.0, "ftUS": 6.0, "m": 1.8}
"""Highest pile where the job gives none; common practice, no source."""

STEP_UP_M = 0.15
"""Metres below the ground at which a ramp may end and still be driven out of; common practice, no
source."""

ROUND_ABOUT = 1000.0
"""Length units of ground taken to be free round a dig without a lot line: beyond any cast."""

HEAPED_LOOSE = ("overdig", "side")
"""The parts of a wall's dig that are filled again where the job gives no finished lot."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SpoilAsked:
    """Setback, whether piles stay as far off as the cut is deep, repose, height, and which of the
    figures the job leaves out.
    """

    setback: float
    as_deep: bool
    heaping: Heaping
    typical: tuple[str, ...]


def machine_asked(worked: Worked) -> tuple[Machine, tuple[str, ...]]:
    """The job's machine in length units, and the names of figures that are only typical."""
    given, unit = worked.job.machine, worked.job.unit
    figures = given.model_dump(exclude={"weight_tonnes"})
    if figures["bucket_capacity"] is not None:
        figures["bucket_capacity"] *= unit.cubic_units_per_volume_unit
    return machine_of(figures, given.weight_tonnes, unit)


def spoil_asked(worked: Worked, legs: tuple[Leg, ...]) -> SpoilAsked:
    """How far back, how steep and how high the job lets piles be."""
    spoil, unit = worked.job.spoil, worked.job.unit
    bare = tuple(
        k
        for k, leg in enumerate(legs)
        if worked.layout.design.walls[leg.wall].name == spoil.keep_open
    )
    return SpoilAsked(
        setback=SPOIL_SETBACK.in_unit(unit) if spoil.setback is None else spoil.setback,
        as_deep=spoil.as_deep,
        heaping=Heaping(
            repose=spoil.repose or USUAL_REPOSE,
            height=spoil.height or USUAL_HEIGHT[unit.name],
            bare=bare,
        ),
        typical=tuple(
            name for name in ("setback", "repose", "height") if getattr(spoil, name) is None
        ),
    )


def free_ground(worked: Worked, cut: shapely.Geometry) -> shapely.Geometry | None:
    """The lot off the house, buildings and areas kept, local.

    Without a lot line it is all ground round about but for these; None where there are none.
    """
    job, frame = worked.job, worked.layout.frame
    line, barred = lot_line(job), _barred(worked, cut)
    if line is None and not barred:
        return None
    if line is None:
        free = shapely.box(*cut.bounds).buffer(ROUND_ABOUT, join_style="mitre")
    else:
        free = shapely.Polygon(frame.to_local(line)).buffer(0)
    return free.difference(shapely.union_all(barred))


def _barred(worked: Worked, cut: shapely.Geometry) -> list[shapely.Geometry]:
    """What stays as it is: the house where it is not dug, buildings, areas kept."""
    job = worked.job

    def area(corners: object) -> shapely.Geometry:
        return shapely.Polygon(worked.layout.frame.to_local(np.array(corners))).buffer(0)

    barred = []
    if job.house is not None and job.house.corners is not None:
        barred.append(area(job.house.corners).difference(cut))
    if job.lot is not None:
        barred += [area(keep.corners) for keep in job.lot.keep]
        barred += [area(corners) for corners in job.lot.buildings.values()]
    return [shape for shape in barred if not shape.is_empty]


def spared_ground(worked: Worked, cells: Cells) -> shapely.Geometry:
    """The ground as far round each cell as the floor of its dig is below it, local."""
    shapes, walls = np.array(cells.shape, dtype=object), len(worked.layout.design.walls)
    corners, of = shapely.get_coordinates(shapes, return_index=True)
    highest = np.full(len(cells), -np.inf)
    np.maximum.at(highest, of, ground_heights(worked)(corners))
    floor = np.where(cells.row < walls, np.array(worked.dig.floors)[cells.row], cells.bottom)
    deep = np.maximum(highest - floor, 0.0)
    around = shapely.buffer(shapes, deep, quad_segs=32)
    return shapely.union_all(around, grid_size=1e-6)


def extra_lines(worked: Worked, machine: Machine) -> tuple[ExtraLine, ...]:
    """The job's ramps and trenches as lines to dig along, local.

    A ramp leads out if the machine has the width and can climb it, from the floor to the ground.
    """
    dig, layout = worked.job.dig, worked.layout
    heights = ground_heights(worked)
    rows = {
        (extra.kind, extra.name): row
        for row, extra in enumerate(layout.design.extras, start=len(layout.design.walls))
    }
    found = []
    for ramp in dig.ramps:
        floor = layout.design.floor if ramp.floor is None else ramp.floor
        driven = ramp.width >= machine.track_width and ramp.run_per_rise >= ON_A_RAMP
        line = layout.frame.to_local(np.array(ramp.line))
        climb = float(np.hypot(*np.diff(line, axis=0).T).sum()) / ramp.run_per_rise
        short = float(heights(line[-1:])[0]) - floor - climb
        up = short <= STEP_UP_M / float(worked.job.unit.metres)
        from_floor = floor <= layout.design.floor + 1e-6
        found.append(
            ExtraLine(
                row=rows["ramp", ramp.name], line=line, leads_out=driven and up and from_floor
            )
        )
    for trench in dig.trenches:
        line = layout.frame.to_local(np.array(trench.line))
        found.append(
            ExtraLine(row=rows["trench", trench.name], line=line, leads_out=False, first=True)
        )
    return tuple(found)


def ground_heights(worked: Worked) -> Heights:
    """Elevations of the existing ground at plan points; where there is no survey, its mean."""
    tin = worked.existing.tin
    grid, mean = triangle_grid(tin), float(tin.points[:, 2].mean())

    def heights(plan: FloatArray) -> FloatArray:
        found = heights_at(tin, plan, grid)
        return np.where(np.isnan(found), mean, found)

    return heights


def soil_slope(worked: Worked) -> float:
    """Run per rise that the job's soil asks of a face nobody holds up, by the rules of its class.

    Soil without a class is taken as the rules take it.
    """
    given = worked.job.soil.soil_class
    return (DEFAULT_SLOPE if given is None else STEEPEST[given]).run_per_rise


@dataclass(frozen=True, slots=True, kw_only=True)
class Needs:
    """What each leg's side is to hold in the end, loose in cubic length units (p,).

    `unfit` is the share of the dig that is fit for no fill, `notes` what was taken and why.
    """

    loose: FloatArray
    unfit: float
    notes: tuple[str, ...]


def needs_of(worked: Worked, legs: tuple[Leg, ...], progress: Progress) -> Needs:
    """The needs of each side: the finished lot's, or those of the hole where there is none."""
    job = worked.job
    if not asks_grade(job):
        note = (
            "The job asks for no finished lot ([lot] with wall_grade): each side is taken to need "
            "what fills its own side of the hole again up to the ground as it was."
        )
        return _from_hole(worked, legs, note)
    try:
        graded = grade_out(worked, progress)
    except EdgeError as error:
        note = (
            f"The finished lot can't be worked out ({error.faults[0].message}): each side is taken "
            "to need what fills its own side of the hole again up to the ground as it was."
        )
        return _from_hole(worked, legs, note)
    return _from_lot(graded, legs)


def _from_hole(worked: Worked, legs: tuple[Leg, ...], note: str) -> Needs:
    parts = [PARTS.index(name) for name in HEAPED_LOOSE]
    count = len(worked.layout.design.walls)
    place = worked.figures.bank[:count, parts].sum(axis=1)
    loose = place / (1.0 - worked.soil.shrink) * (1.0 + worked.soil.swell)
    design = worked.layout.design
    middles = (design.corners + np.roll(design.corners, -1, axis=0)) / 2
    found = np.zeros(len(legs))
    for wall in range(count):
        found[_leg_for(legs, wall, middles[wall])] += loose[wall]
    return Needs(loose=found, unfit=0.0, notes=(note,))


def already_by_leg(
    worked: Worked, legs: tuple[Leg, ...], by_wall: Mapping[str, float]
) -> FloatArray:
    """(p,): what lies beside each leg, from what lies beside each wall of house or foundation."""
    design, house = worked.layout.design, house_walls(worked.job, worked.layout)
    numbers = {wall.name: k for k, wall in enumerate(design.walls)}
    found = np.zeros(len(legs))
    for name, loose in by_wall.items():
        own = [k for k, of in enumerate(house.names) if of == name]
        ring = house.corners
        spots = [(ring[k] + ring[(k + 1) % len(ring)]) / 2 for k in own] or [design.corners[0]]
        found[_leg_for(legs, numbers.get(name, -1), np.mean(spots, axis=0))] += loose
    return found


def _from_lot(graded: Graded, legs: tuple[Leg, ...]) -> Needs:
    """What fills the side and its grade, less what grading itself cuts there outside the dig."""
    terms, account, dug = graded.asked.terms, graded.account, graded.dug
    swell = 1.0 + terms.soil.swell
    by_dig = np.maximum(
        dug.out + dug.core - terms.topsoil_strip * (dug.area_out + dug.area_core), 0.0
    )
    outside = np.maximum(given_by_side(account, terms) - (1.0 - terms.unsuitable) * by_dig, 0.0)
    needed = needed_by_side(account, terms)
    wanted = np.maximum(needed - outside, 0.0)
    house, sides = graded.asked.design.house, graded.asked.sides
    found = np.zeros(len(legs))
    names = {wall.name: k for k, wall in enumerate(graded.worked.layout.design.walls)}
    for row, name in enumerate(sides.names):
        own = [k for k, of in enumerate(sides.of_house) if of == row]
        ends = [(house[k] + house[(k + 1) % len(house)]) / 2 for k in own] or [house[0]]
        found[_leg_for(legs, names.get(name, -1), np.mean(ends, axis=0))] += wanted[row] * swell
    notes = []
    spare = float(np.maximum(outside - needed, 0.0).sum())
    if spare > 1e-3 * float(needed.sum() + 1.0):
        unit = graded.worked.job.unit
        notes.append(
            f"Grading cuts {unit.volume(spare):,.1f} {unit.volume_name} bank outside the dig "
            "beyond what its own side needs; this plan leaves that earth to the grading."
        )
    return Needs(loose=found, unfit=terms.unsuitable, notes=tuple(notes))


def _leg_for(legs: tuple[Leg, ...], wall: int, spot: FloatArray) -> int:
    """The leg of a wall of the design, or where it has none the nearest to a spot."""
    away = [leg.line.distance(shapely.Point(spot)) for leg in legs]
    own = [k for k, leg in enumerate(legs) if leg.wall == wall]
    return min(own or range(len(legs)), key=lambda k: away[k])
