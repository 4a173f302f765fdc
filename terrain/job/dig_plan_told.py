"""The dig plan as its record tells it, from the orders that are solved."""

import datetime
from collections.abc import Iterator
from importlib.metadata import version
from pathlib import Path

import numpy as np
import shapely

from terrain.base.arrays import FloatArray
from terrain.haul.compare import Solved
from terrain.haul.rates import hoe_hours
from terrain.job.dig_plan_buckets import whole_buckets
from terrain.job.dig_plan_card import card_of, card_terms
from terrain.job.dig_plan_cautions import dig_plan_cautions, left_why
from terrain.job.dig_plan_corners import rim_corners
from terrain.job.dig_plan_ground import ground_told
from terrain.job.dig_plan_passes import (
    TRUCK,
    dug_of,
    in_unit,
    leg_names,
    leg_number,
    passes_of,
    polygons,
)
from terrain.job.dig_plan_places import places_told
from terrain.job.dig_plan_planned import Planned
from terrain.job.dig_plan_record import (
    DigPlan,
    Hours,
    MachineUsed,
    Move,
    OrderTold,
    SiteDrawn,
    SpoilUsed,
)
from terrain.job.dig_plan_stakes import stake_points
from terrain.job.dig_plan_trucks import truck_spots
from terrain.job.dig_plan_words import assumed, notes, why_of
from terrain.job.lot_line import lot_line
from terrain.ledger.entries import BankVolume, LooseVolume
from terrain.ledger.loads import truck_loads


def plan_told(planned: Planned) -> DigPlan:
    """The record of a job's dig plan; the best order in full."""
    job, layout, best = planned.worked.job, planned.worked.layout, planned.best
    unit = job.unit
    dug = dug_of(planned)
    passes, places = whole_buckets(
        passes_of(planned, dug),
        places_told(planned, dug),
        unit.volume(planned.machine.bucket_capacity),
    )
    trucks = truck_spots(planned, dug, passes)
    corners = rim_corners(planned, dug)
    ground = ground_told(planned, dug, places)
    haul, dug_away = hauled(best), float(best.shipped.cast[:, -1].sum())
    cells = planned.field.work.cells
    left = polygons(shapely.union_all(planned.field.work.shapes[best.order.left], grid_size=1e-6))
    truck = job.haul.truck
    bank = float(cells.bank.sum())
    return DigPlan(
        title=job.title,
        job_file=Path(job.file).name,
        version=version("spoilbank"),
        date=datetime.date.today().isoformat(),
        start=planned.start.told,
        length_unit=unit.name,
        volume_unit=unit.volume_name,
        crs=job.site.crs,
        frame=layout.frame,
        machine=_machine(planned),
        spoil=_spoil(planned),
        site=_site(planned),
        orders=tuple(_order(planned, one) for one in planned.orders),
        passes=passes,
        places=places,
        trucks=trucks,
        rim_corners=corners,
        moves=_moves(planned),
        bank=BankVolume(unit.volume(bank)),
        loose=in_unit(unit, bank * (1.0 + planned.terms.swell)),
        topsoil_bank=BankVolume(unit.volume(float(cells.topsoil.sum()))),
        left_bank=BankVolume(unit.volume(best.left_bank)),
        left_why=left_why(planned),
        left=left,
        haul_loose=in_unit(unit, haul),
        loads=None if truck is None else truck_loads(in_unit(unit, haul), LooseVolume(truck)),
        loads_dug=None
        if truck is None
        else truck_loads(in_unit(unit, dug_away), LooseVolume(truck)),
        short_loose=in_unit(unit, float(best.shipped.brought.sum())),
        rehandled_loose=in_unit(unit, best.rehandled),
        volume_distance=unit.volume(best.volume_distance),
        hours=_hours(planned, best.hours, best),
        hoe_hours=hoe_hours(bank, unit),
        stakes=stake_points(planned, passes, places, trucks),
        card=card_of(planned, passes, places, corners),
        card_terms=card_terms(planned),
        ground=ground,
        cautions=dig_plan_cautions(planned, corners, (ground, passes)),
        assumed=assumed(planned),
        notes=notes(planned),
    )


def hauled(one: Solved) -> float:
    """What leaves by truck, loose in cubic length units."""
    return one.shipped.hauled


def _hours(planned: Planned, mean: float, one: Solved) -> Hours:
    """The range of an order's hours: its earth, its topsoil, without what no order can help."""
    rates, cells = planned.rates, planned.field.work.cells
    topsoil = float(cells.topsoil[~one.order.left].sum()) * (1.0 + planned.terms.swell)
    short = max(float(one.asked.need.sum() - one.asked.already.sum() - one.asked.supply.sum()), 0.0)
    worked = mean + topsoil * rates.push_usual - one.asked.bring * short
    return Hours(low=worked * rates.low, high=worked * rates.high)


def _order(planned: Planned, one: Solved) -> OrderTold:
    unit, order = planned.worked.job.unit, one.order
    return OrderTold(
        start_wall=leg_names(planned)[leg_number(order, order.first)],
        direction=order.direction,
        rim_corners=len(order.corners),
        rehandled_loose=in_unit(unit, one.rehandled),
        volume_distance=unit.volume(one.volume_distance),
        haul_loose=in_unit(unit, hauled(one)),
        hours=_hours(planned, one.hours, one),
        nearest_hours=_hours(planned, one.nearest, one),
        left_bank=BankVolume(unit.volume(one.left_bank)),
        why=why_of(planned, one),
    )


def _moves(planned: Planned) -> tuple[Move, ...]:
    """What a dozer pushes from side to side, or is loaded from a pile, most first."""
    best, unit = planned.best, planned.worked.job.unit
    names = (*leg_names(planned), TRUCK)
    source, target = np.nonzero(best.shipped.moved)
    apart = np.hstack([best.places.apart, np.zeros((len(best.places), 1))])
    moves = [
        Move(
            source=names[one],
            target=names[two],
            loose=in_unit(unit, float(best.shipped.moved[one, two])),
            distance=float(apart[one, two]),
        )
        for one, two in zip(source.tolist(), target.tolist(), strict=True)
    ]
    return tuple(sorted(moves, key=lambda move: -move.loose))


def _machine(planned: Planned) -> MachineUsed:
    machine, unit = planned.machine, planned.worked.job.unit
    return MachineUsed(
        weight_tonnes=planned.worked.job.machine.weight_tonnes,
        reach=machine.reach,
        digging_depth=machine.digging_depth,
        track_length=machine.track_length,
        track_width=machine.track_width,
        tail_swing=machine.tail_swing,
        tail_clear=machine.tail_clear,
        bucket_width=machine.bucket_width,
        bucket_capacity=unit.volume(machine.bucket_capacity),
        cycle_seconds=machine.cycle_seconds,
        step=machine.step,
        typical=planned.typical,
    )


def _spoil(planned: Planned) -> SpoilUsed:
    spoil = planned.spoil
    return SpoilUsed(
        setback=spoil.setback,
        repose=spoil.heaping.repose,
        height=spoil.heaping.height,
        keep_open=planned.worked.job.spoil.keep_open,
        as_deep=spoil.as_deep,
        typical=spoil.typical,
    )


def _site(planned: Planned) -> SiteDrawn:
    job, layout = planned.worked.job, planned.worked.layout
    line = lot_line(job)
    house = None if job.house is None else job.house.corners
    order = np.argsort(layout.design.number)

    def local(corners: object) -> FloatArray:
        return layout.frame.to_local(np.array(corners))

    rows = enumerate(layout.design.extras, start=len(layout.design.walls))
    lines, cut = planned.worked.dig.extra_lines, polygons(planned.field.work.site.cut)
    return SiteDrawn(
        corners=layout.figure.corners,
        walls=tuple(layout.design.walls[i].name for i in order),
        dig_line=planned.worked.dig.line.ring.corners,
        daylight=cut,
        boundary=None if line is None else local(line),
        house=None if house is None else local(house),
        keeps=tuple((k.name, local(k.corners)) for k in (job.lot.keep if job.lot else [])),
        buildings=tuple(
            (name, local(ring)) for name, ring in (job.lot.buildings if job.lot else {}).items()
        ),
        extras=tuple(
            (
                extra.name,
                extra.kind,
                tuple(
                    ring
                    for r, one in lines
                    if r == row
                    for ring in _dug_rings(one.ring.corners, cut)
                ),
            )
            for row, extra in rows
        ),
    )


def _dug_rings(ring: FloatArray, cut: shapely.MultiPolygon) -> Iterator[FloatArray]:
    """The outlines (m, 2) of what of a ring is dug: a ramp's line may run on past that."""
    for part in polygons(shapely.Polygon(ring).buffer(0).intersection(cut)).geoms:
        yield np.asarray(part.exterior.coords)[:-1]
