"""From a job to the finished lot it asks for: design, structure, sides and terms, all checked."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
import shapely

from terrain.base.arrays import FloatArray
from terrain.base.errors import DesignError, Fault, SpoilbankError
from terrain.base.frame import LocalFrame
from terrain.job.design import Layout
from terrain.job.faults import key_text
from terrain.job.load import Job
from terrain.job.lot_line import lot_line
from terrain.job.lot_rules import plane_of
from terrain.job.lot_tables import Lot
from terrain.job.lot_walls import HouseWalls, house_walls, sides_of, wall_grades
from terrain.ledger.entries import LooseVolume
from terrain.ledger.lot_dug import Sides
from terrain.ledger.lot_rows import LotTerms
from terrain.ledger.soil import SoilFactors
from terrain.lot.design import Apron, Keep, LotDesign, Pad, Swale
from terrain.lot.finish import place_faults
from terrain.lot.structure import Structure
from terrain.pit.foundation import counter_clockwise, outline_problems
from terrain.surface.strips import strip_problems

T = TypeVar("T")

USUAL_FALL = 0.05
USUAL_DISTANCE = {"ft": 10.0, "ftUS": 10.0, "m": 3.0}
"""6 in of fall in the first 10 ft: IRC R401.3, as quoted. 3.0 m is the round figure beside it."""

USUAL_SLOPE = 3.0
"""Run per rise beyond the apron: a slope that can be mown; common practice, no source."""

SHORT_OF_COVER = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class LotAsked:
    """The finished lot as a job asks for it; `notes` say what was taken where the job is silent."""

    design: LotDesign
    structure: Structure
    sides: Sides
    terms: LotTerms
    notes: tuple[str, ...]


def lot_of(job: Job, layout: Layout, soil: SoilFactors) -> LotAsked:
    """The finished lot a job asks for, in the local frame of its layout.

    Raises:
        DesignError: what is missing or impossible; every fault names its key and line.
    """
    lot = job.lot
    if lot is None:
        message = "the table [lot] is required to grade: give at least boundary and wall_grade"
        raise job.located(DesignError(Fault(key="lot", message=message)))
    faults: list[Fault] = []
    line = _gathered(faults, lambda: lot_line(job))
    if line is None and lot.boundary is None:
        message = "give the lot line, as corners or a file: grading never crosses it"
        faults.append(Fault(key="lot.boundary", message=message))
    house = house_walls(job, layout)
    grades, wrong = wall_grades(lot, house, layout.frame)
    faults += wrong
    structure = structure_of(job, layout)
    if grades is not None:
        faults += _depth_faults(lot, house, grades, structure)
    faults += _cover_faults(house, layout)
    pads, swales, keeps = _things(lot, layout.frame, faults)
    design = None
    if line is not None and grades is not None:
        design = LotDesign(
            house=house.corners,
            walls=house.names,
            apron=_apron(job, lot, grades),
            boundary=counter_clockwise(layout.frame.to_local(line))[0],
            pads=pads,
            swales=swales,
            keeps=keeps,
        )
        faults += place_faults(design)
    if faults or design is None:
        raise job.located(DesignError(*faults))
    return LotAsked(
        design=design,
        structure=structure,
        sides=sides_of(layout, house),
        terms=_terms(job, lot, soil),
        notes=_notes(job, lot, structure),
    )


def asks_grade(job: Job) -> bool:
    """Whether a job says anything of finished ground at the house."""
    lot = job.lot
    if lot is None:
        return False
    return lot.wall_grade is not None or any(w.wall_grade for w in lot.walls.values())


def _gathered(faults: list[Fault], make: Callable[[], T]) -> T | None:
    try:
        return make()
    except SpoilbankError as error:
        faults += error.faults
        return None


def structure_of(job: Job, layout: Layout) -> Structure:
    """What the foundation puts into the ground, as far as the job gives its measures."""
    foundation, levels = job.foundation, layout.levels
    footing, stone = foundation.footing, foundation.stone
    underside = levels.floor if levels.footing_bottom is None else levels.footing_bottom
    base = levels.floor if levels.footing_top is None else levels.footing_top
    tops = [level.elevation for level in levels.chain if level.name == "top of wall"]
    return Structure(
        corners=layout.design.corners,
        underside=underside,
        footing_width=footing.width if footing else 0.0,
        footing_depth=footing.depth if footing else 0.0,
        projection=layout.projection,
        wall_thickness=foundation.wall_thickness or 0.0,
        wall_height=tops[0] - base if tops else 0.0,
        beyond=stone.beyond if stone else 0.0,
        over=stone.over if stone else 0.0,
        under_slab=stone.under_slab if stone else 0.0,
    )


def _depth_faults(
    lot: Lot, house: HouseWalls, grades: FloatArray, structure: Structure
) -> list[Fault]:
    """Finished ground below the underside of the footing, or of the dig where there is none."""
    faults: dict[str, Fault] = {}
    what = "the underside of the footing" if structure.footing_depth else "the floor of the dig"
    for name, ends in zip(house.names, grades, strict=True):
        lowest = float(ends.min())
        if lowest >= structure.underside:
            continue
        own = name in lot.walls and lot.walls[name].wall_grade is not None
        key = key_text(("lot", "walls", name, "wall_grade")) if own else "lot.wall_grade"
        message = (
            f"finished ground at wall {name}, {lowest:g}, is below {what}, "
            f"{structure.underside:g}: raise it, or deepen the footing"
        )
        faults.setdefault(key, Fault(key=key, message=message))
    return list(faults.values())


def _cover_faults(house: HouseWalls, layout: Layout) -> list[Fault]:
    foundation = shapely.Polygon(layout.design.corners)
    bare = foundation.difference(shapely.Polygon(house.corners)).area
    if bare <= SHORT_OF_COVER * foundation.area:
        return []
    message = (
        f"the house leaves {bare:.1f} of the foundation out: its corners go round all that the "
        "ground falls away from"
    )
    return [Fault(key="house.corners", message=message)]


def _apron(job: Job, lot: Lot, grades: FloatArray) -> Apron:
    usual = USUAL_DISTANCE[job.unit.name]
    return Apron(
        grades=grades,
        fall=USUAL_FALL if lot.fall is None else lot.fall,
        fall_distance=usual if lot.fall_distance is None else lot.fall_distance,
        cut_slope=USUAL_SLOPE if lot.cut_slope is None else lot.cut_slope,
        fill_slope=USUAL_SLOPE if lot.fill_slope is None else lot.fill_slope,
    )


def _things(
    lot: Lot, frame: LocalFrame, faults: list[Fault]
) -> tuple[tuple[Pad, ...], tuple[Swale, ...], tuple[Keep, ...]]:
    """Pads, swales and areas kept whose shapes are sound; adds what is wrong with the others."""
    pads, swales, keeps = [], [], []
    for i, pad in enumerate(lot.pads):
        key, name = f"lot.pads[{i + 1}]", pad.name or f"pad {i + 1}"
        drawn = frame.to_local(np.array(pad.corners))
        if _unsound(faults, f"{key}.corners", f'pad "{name}"', np.array(pad.corners)):
            continue
        if pad.elevations is not None:
            plane = plane_of(drawn, np.array(pad.elevations))
        else:
            plane = np.array([*drawn[0], pad.elevation, 0.0, 0.0])
        corners, _ = counter_clockwise(drawn)
        pads.append(Pad(name=name, corners=corners, plane=plane, key=key))
    for i, swale in enumerate(lot.swales):
        key, name = f"lot.swales[{i + 1}]", swale.name or f"swale {i + 1}"
        line = frame.to_local(np.array(swale.line))
        problems = strip_problems(line, swale.bottom_width)
        faults += (Fault(key=f"{key}.line", message=f'swale "{name}": {m}') for m in problems)
        if not problems:
            inverts = np.array(swale.inverts)
            width, side = swale.bottom_width, swale.side
            swales.append(
                Swale(name=name, line=line, inverts=inverts, width=width, side=side, key=key)
            )
    for i, keep in enumerate(lot.keep):
        key, drawn = f"lot.keep[{i + 1}]", np.array(keep.corners)
        if not _unsound(faults, f"{key}.corners", f'area "{keep.name}"', drawn):
            corners, _ = counter_clockwise(frame.to_local(drawn))
            keeps.append(Keep(name=keep.name, corners=corners, key=key))
    return tuple(pads), tuple(swales), tuple(keeps)


def _unsound(faults: list[Fault], key: str, what: str, corners: FloatArray) -> bool:
    sides = tuple(f"side {i + 1}" for i in range(len(corners)))
    problems = outline_problems(corners, sides)
    faults += (Fault(key=key, message=f"{what}: {m}") for m in problems)
    return bool(problems)


def _terms(job: Job, lot: Lot, soil: SoilFactors) -> LotTerms:
    truck = job.haul.truck
    return LotTerms(
        unit=job.unit,
        soil=soil,
        truck=None if truck is None else LooseVolume(truck),
        topsoil_strip=job.dig.topsoil_strip,
        topsoil_respread=lot.topsoil_respread,
        slab_fill=0.0 if job.house is None else job.house.slab_fill,
        unsuitable=lot.unsuitable,
    )


def _notes(job: Job, lot: Lot, structure: Structure) -> tuple[str, ...]:
    """What was taken where the job is silent."""
    unit = job.unit.name
    usual = {
        "fall": f"{USUAL_FALL:g} (IRC R401.3, as quoted)",
        "fall_distance": f"{USUAL_DISTANCE[unit]:g} {unit} (IRC R401.3, as quoted)",
        "cut_slope": f"{USUAL_SLOPE:g} run per rise (common practice, no source)",
        "fill_slope": f"{USUAL_SLOPE:g} run per rise (common practice, no source)",
    }
    notes = [f"lot.{k} is not given: {v} was taken." for k, v in usual.items()
             if getattr(lot, k) is None]  # fmt: skip
    lacking = {
        "foundation.footing": structure.footing_width,
        "foundation.wall_thickness": structure.wall_thickness,
        "foundation.wall_height (or top)": structure.wall_height,
        "foundation.stone": structure.beyond + structure.over + structure.under_slab,
    }
    notes += [f"{key} is not given: its volume is nought." for key, v in lacking.items() if v == 0]
    return tuple(notes)
