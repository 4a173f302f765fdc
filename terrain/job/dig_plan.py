"""The question `plan`: where the machine stands, in what order, and where each bucket goes."""

import numpy as np
import shapely

from terrain.base.arrays import FloatArray
from terrain.base.errors import DesignError, Fault
from terrain.haul.bays import bays_of, usual_truck
from terrain.haul.cells import Digging, cells_of
from terrain.haul.compare import USUAL_TRUCK, Terms, solved_orders
from terrain.haul.faces import faces_of
from terrain.haul.field import Field, field_of
from terrain.haul.legs import DIRECTIONS, Leg, legs_of
from terrain.haul.machine import Machine
from terrain.haul.outside import outside_of
from terrain.haul.places import Places, places_of
from terrain.haul.rates import Rates, rates_of
from terrain.haul.round import Round, rounds_of
from terrain.haul.stands import Site
from terrain.haul.walk import walk_round
from terrain.haul.work import work_of
from terrain.job.dig_plan_planned import Planned
from terrain.job.dig_plan_record import DigPlan
from terrain.job.dig_plan_site import (
    Needs,
    SpoilAsked,
    already_by_leg,
    extra_lines,
    free_ground,
    ground_heights,
    machine_asked,
    needs_of,
    soil_slope,
    spared_ground,
    spoil_asked,
)
from terrain.job.dig_plan_start import Start, from_design, to_dig
from terrain.job.dig_plan_survey import start_of
from terrain.job.dig_plan_told import plan_told
from terrain.job.load import Job
from terrain.job.volumes import Progress, Worked, work_out

CELLS_ALONG = 24
"""Cells along the shorter side of the dig line, unless a bucket's width is wider."""


def _silent(stage: str) -> None:
    """Say nothing."""


def plan(job: Job, progress: Progress = _silent, day: str | None = None) -> DigPlan:
    """The best order of digging with its passes, places, rim corners and hours, and the others.

    Args:
        job: the job as its file tells it.
        progress: called with a few words as each stage begins.
        day: of `[[asdug]]`, to plan what is left to dig then with the piles so far; else the
            whole dig is planned.

    Raises:
        SpoilbankError: the job can't be computed as asked; the faults say where and why.
    """
    worked = work_out(job, progress)
    return plan_told(plan_out(worked, progress, start_of(worked, day)))


def plan_out(worked: Worked, progress: Progress = _silent, start: Start | None = None) -> Planned:
    """Every order of digging of a job that is worked out, by default from its design.

    Errors as for `plan`.
    """
    start = from_design(worked) if start is None else start
    both = (
        legs_of(worked.dig.line.ring, DIRECTIONS[0]),
        legs_of(worked.dig.line.ring, DIRECTIONS[1]),
    )
    machine, typical = machine_asked(worked)
    spoil = spoil_asked(worked, both[0])
    needs = needs_of(worked, both[0], progress)
    progress("cutting the dig into cells")
    field, rounds, places = _field(worked, both, machine, (spoil, start))
    rates = rates_of(
        machine.bucket_capacity,
        machine.cycle_seconds,
        (worked.soil.swell, worked.soil.shrink),
        worked.job.unit,
    )
    terms = _terms(worked, (spoil, needs, rates), already_by_leg(worked, both[0], start.already))
    progress("comparing orders of digging")
    return Planned(
        worked=worked,
        start=start,
        machine=machine,
        typical=typical,
        spoil=spoil,
        legs=both[0],
        field=field,
        rounds=rounds,
        places=places,
        needs=needs,
        rates=rates,
        terms=terms,
        orders=solved_orders(field, rounds, places, terms),
    )


def _field(
    worked: Worked,
    both: tuple[tuple[Leg, ...], tuple[Leg, ...]],
    machine: Machine,
    asked: tuple[SpoilAsked, Start],
) -> tuple[Field, tuple[Round, Round], Places]:
    """Cells, faces, places and the tables of stands, made once for all orders."""
    spoil, start = asked
    surface, rest = to_dig(worked, start)
    if rest.is_empty:
        message = "nothing is left to dig: there is nothing to plan; check dig.floor"
        raise worked.job.located(DesignError(Fault(key="dig.floor", message=message)))
    ring = worked.dig.line.ring.corners
    digging = Digging(
        ground=surface,
        dig=worked.dig,
        region=rest,
        topsoil=start.topsoil,
        along=max(both[0], key=lambda leg: leg.length).along,
    )
    across = float(np.ptp(ring, axis=0).min())
    cells = cells_of(digging, min(machine.bucket_width, across / CELLS_ALONG * 2))
    walls = len(worked.layout.design.walls)
    cut = rest if start.dug.is_empty else rest.union(start.dug)
    site = Site(
        dig=shapely.Polygon(ring), cut=cut, free=free_ground(worked, cut), setback=spoil.setback,
        dug=start.dug,
        extras=shapely.union_all(
            [shape for shape, row in zip(cells.shape, cells.row, strict=True) if row >= walls],
            grid_size=1e-6,
        ),
        spared=spared_ground(worked, cells) if spoil.as_deep else shapely.Polygon(),
    )  # fmt: skip
    places = places_of(both[0], site, machine, spoil.heaping)
    walk = walk_round([cut, *places.ground], machine.track_width, site.free)
    sides = tuple(wall.side for wall in worked.layout.design.walls)
    ground = ground_heights(worked), sides, soil_slope(worked)
    work = work_of(cells, machine, site, ground, walk)
    rounds = rounds_of(work, both, faces_of(work, both[0], walls))
    lines = extra_lines(worked, machine)
    outside = outside_of(work, both[0], lines, worked.layout.design.floor)
    bays = bays_of(work, both[0], usual_truck(worked.job.unit), places)
    return field_of(work, outside, rounds, bays), rounds, places


def _terms(worked: Worked, made: tuple[SpoilAsked, Needs, Rates], already: FloatArray) -> Terms:
    spoil, needs, rates = made
    unit, truck = worked.job.unit, worked.job.haul.truck
    usual = USUAL_TRUCK / float(unit.metres) ** 3
    return Terms(
        swell=worked.soil.swell,
        rates=rates,
        heaping=spoil.heaping,
        need=needs.loose,
        already=already,
        unfit=needs.unfit,
        load=usual if truck is None else truck * unit.cubic_units_per_volume_unit,
    )
