"""The places of a dig plan as told: each side, the topsoil's stack, the truck."""

from dataclasses import replace

import shapely

from terrain.haul.piles import heap_height, heap_volume
from terrain.haul.places import Heaping, stack_for
from terrain.job.dig_plan_passes import TOPSOIL, TRUCK, Dug, buckets, in_unit, leg_names, polygons
from terrain.job.dig_plan_planned import Planned
from terrain.job.dig_plan_record import Place
from terrain.job.lot_line import lot_line
from terrain.ledger.entries import LooseVolume


def places_told(planned: Planned, dug: Dug) -> tuple[Place, ...]:
    """Every side, the topsoil's stack if there is any, and the truck."""
    best, unit, names = planned.best, planned.worked.job.unit, leg_names(planned)
    capacity, heaping = planned.machine.bucket_capacity, planned.spoil.heaping
    found = []
    for k, name in enumerate(names):
        cast = float(best.shipped.cast[:, k].sum())
        already = float(planned.terms.already[k])
        ground = best.places.ground[k]
        found.append(
            Place(
                name=name,
                kind="side",
                wall=planned.worked.layout.design.walls[planned.legs[k].wall].name,
                needed=in_unit(unit, float(planned.terms.need[k])),
                cast=in_unit(unit, cast),
                capacity=in_unit(unit, float(best.asked.capacity[k])),
                already=in_unit(unit, already),
                ground=polygons(ground),
                height=_height(ground, heaping, cast + already),
                buckets=buckets(cast, capacity),
                kept_open=k in heaping.bare,
                why=best.places.why[k],
            )
        )
    swell = 1.0 + planned.terms.swell
    topsoil = float(dug.topsoil.sum()) * swell
    if topsoil > 0.0:
        found.append(_topsoil(planned, topsoil))
    leaves = float(best.shipped.cast[:, -1].sum())
    whole = float(best.asked.supply.sum())
    surplus = max(whole - float(planned.terms.need.sum()), best.asked.must_leave)
    found.append(_apart(planned, TRUCK, leaves, surplus, "", whole))
    return tuple(found)


def _topsoil(planned: Planned, volume: float) -> Place:
    """The stack of topsoil on what is free of the lot; without a lot line it is not placed."""
    best, site, heaping = planned.best, planned.field.work.site, planned.spoil.heaping
    why = "stripped first and stacked apart; nothing else on it"
    plain = _apart(planned, TOPSOIL, volume, volume, why)
    if site.free is None or lot_line(planned.worked.job) is None:
        return plain
    half = planned.machine.track_width / 2
    ways = [shapely.LineString(way).buffer(half) for way in best.order.way if len(way) > 1]
    taken = [site.cut, best.order.clear, *best.places.ground, *best.loading.bays.ground(), *ways]
    room = site.free.difference(shapely.union_all(taken).buffer(site.setback))
    ground = stack_for(volume, room, heaping)
    holds = heap_volume(ground, heaping.repose, heaping.height)
    if holds < volume:
        unit = planned.worked.job.unit
        why += (
            f"; the lot's free ground holds {unit.volume(holds):,.1f} of it, drawn to scale: find "
            "the rest a place elsewhere"
        )
    return replace(
        plain, ground=polygons(ground), height=_height(ground, heaping, volume), why=why,
        capacity=in_unit(planned.worked.job.unit, max(holds, volume)),
    )  # fmt: skip


def _apart(
    planned: Planned, name: str, cast: float, needed: float, why: str, capacity: float = 0.0
) -> Place:
    unit = planned.worked.job.unit
    return Place(
        name=name,
        kind="truck" if name == TRUCK else "topsoil",
        wall=None,
        needed=in_unit(unit, needed),
        cast=in_unit(unit, cast),
        capacity=in_unit(unit, max(capacity, cast)),
        already=LooseVolume(0.0),
        ground=shapely.MultiPolygon(),
        height=0.0,
        buckets=buckets(cast, planned.machine.bucket_capacity),
        kept_open=False,
        why=why,
    )


def _height(ground: shapely.Geometry, heaping: Heaping, volume: float) -> float:
    return heap_height(ground, heaping.repose, heaping.height, volume)
