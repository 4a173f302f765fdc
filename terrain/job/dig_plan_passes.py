"""The best order as passes: what is dug from each stand and where each bucket goes."""

from dataclasses import dataclass

import numpy as np
import shapely

from terrain.base.arrays import FloatArray, IntArray
from terrain.base.units import LengthUnit
from terrain.haul.casting import NOWHERE, mostly_from
from terrain.haul.legs import Leg
from terrain.haul.loading import NO_TRUCK
from terrain.haul.order import Order
from terrain.job.dig_plan_face import face_before
from terrain.job.dig_plan_planned import Planned
from terrain.job.dig_plan_record import Cast, Pass, Spot, Stand, StandKind
from terrain.ledger.entries import BankVolume, LooseVolume

TOPSOIL = "topsoil"
TRUCK = "truck"
"""Names of the two places that are no side of the house."""

SAME_SPOT = 1e-9

KINDS: dict[str, StandKind] = {
    "wall": "wall", "out": "rim", "rim": "rim", "extra": "extra", "floor": "floor",
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Dug:
    """What is dug from each stand of an order, in cubic length units.

    Args:
        loose: (k, n, p + 1) loose, of each cell to each place, the truck last; no topsoil.
        topsoil: (k, n) bank.
    """

    loose: FloatArray
    topsoil: FloatArray

    def bank(self, swell: float) -> FloatArray:
        """(k, n): bank volume of each cell from each stand, topsoil with it."""
        return np.asarray(self.loose.sum(axis=2) / (1.0 + swell) + self.topsoil)


def dug_of(planned: Planned) -> Dug:
    """What is dug from each stand of the best order; topsoil goes with most of its cell."""
    best, cells = planned.best, planned.field.work.cells
    cast, stand = best.shipped.cast, best.casting.stand
    count = len(best.order.kind)
    loose = np.zeros((count, *cast.shape))
    cell, place = np.nonzero(cast > 0)
    loose[stand[cell, place], cell, place] = cast[cell, place]
    topsoil = np.zeros((count, len(cells)))
    dug = np.flatnonzero(~best.order.left)
    topsoil[mostly_from(best.casting, cast)[dug], dug] = cells.topsoil[dug]
    return Dug(loose=loose, topsoil=topsoil)


def leg_names(planned: Planned) -> tuple[str, ...]:
    """The name of each leg's wall; a wall with two legs has a number after it the second time."""
    walls = planned.worked.layout.design.walls
    names: list[str] = []
    for leg in planned.legs:
        name, count = walls[leg.wall].name, 1
        while name in (*names, TOPSOIL, TRUCK):
            count += 1
            name = f"{walls[leg.wall].name} ({count})"
        names.append(name)
    return tuple(names)


def leg_number(order: Order, of: int) -> int:
    """A leg of the round by its number counter-clockwise."""
    count = len(order.round.legs)
    return of if order.direction == "counter-clockwise" else count - 1 - of


def passes_of(planned: Planned, dug: Dug) -> tuple[Pass, ...]:
    """The passes of the best order; a stand from which nothing is dug is none."""
    order, unit = planned.best.order, planned.worked.job.unit
    bank = dug.bank(planned.terms.swell)
    passes: list[Pass] = []
    way: list[FloatArray] = []
    for k in range(len(order.kind)):
        way.append(order.way[k])
        if bank[k].sum() <= 0.0:
            continue
        stand = _stand(planned, k, len(passes) + 1, np.vstack(way))
        cells = np.flatnonzero(bank[k] > 0.0)
        stations = _stations(planned, stand.wall, cells)
        whole = unit.volume(float(bank[k].sum()))
        passes.append(
            Pass(
                stand=stand,
                wall=stand.wall,
                station_from=stations[0],
                station_to=stations[1],
                bank=BankVolume(whole),
                loose=LooseVolume(whole * (1.0 + planned.terms.swell)),
                to=_casts(planned, dug, k),
                dug=_ground(planned, cells),
                face=face_before(planned, k, cells),
                sides=_sides(planned, bank[k]),
            )
        )
        way = [order.stands.spot[k][None]]
    return tuple(passes)


def _stand(planned: Planned, k: int, number: int, way: FloatArray) -> Stand:
    order = planned.best.order
    spot, facing = order.stands.spot[k], order.stands.facing[k]
    own = planned.legs[_leg(planned, k)]
    wall = _wall(planned, k)
    moved = np.abs(np.diff(way, axis=0, prepend=np.nan)).max(axis=1)
    return Stand(
        number=number,
        kind=KINDS[order.kind[k]],
        wall=wall,
        station=_along_face(planned, own, spot),
        spot=(float(spot[0]), float(spot[1])),
        heading=float(np.degrees(np.arctan2(facing[0], facing[1])) % 360.0),
        tracks=order.stands.tracks(planned.machine)[k],
        way=way[~(moved <= SAME_SPOT)],
    )


def _leg(planned: Planned, k: int) -> int:
    """The leg, by its number counter-clockwise, that a stand of the best order works along."""
    order = planned.best.order
    if order.kind[k] in ("rim", "floor"):
        return int(order.of[k])
    if order.kind[k] == "extra":
        spot = shapely.Point(order.stands.spot[k])
        return min(range(len(planned.legs)), key=lambda n: planned.legs[n].line.distance(spot))
    return leg_number(order, int(order.of[k]))


def _wall(planned: Planned, k: int) -> str:
    order, design = planned.best.order, planned.worked.layout.design
    if order.kind[k] == "extra":
        row = planned.field.outside.lines[int(order.of[k])].row
        return design.extras[row - len(design.walls)].name
    return leg_names(planned)[_leg(planned, k)]


def _along_face(planned: Planned, leg: Leg, spot: FloatArray) -> float:
    """How far along the wall's outside face a spot lies, from its first corner as drawn."""
    design = planned.worked.layout.design
    start = design.corners[leg.wall]
    end = design.corners[(leg.wall + 1) % len(design.corners)]
    if design.number != tuple(range(len(design.corners))):
        start, end = end, start
    along = (end - start) / np.hypot(*(end - start))
    return float((spot - start) @ along)


def _stations(planned: Planned, wall: str, cells: IntArray) -> tuple[float, float]:
    """Where along a wall's face the ground dug begins and ends."""
    names = leg_names(planned)
    if wall not in names:
        return 0.0, 0.0
    leg = planned.legs[names.index(wall)]
    corners = planned.field.work.corners[cells].reshape(-1, 2)
    found = [_along_face(planned, leg, corner) for corner in corners]
    return min(found), max(found)


def _casts(planned: Planned, dug: Dug, k: int) -> tuple[Cast, ...]:
    """Where a stand's earth goes, most first, topsoil last."""
    best, unit, capacity = planned.best, planned.worked.job.unit, planned.machine.bucket_capacity
    names = (*leg_names(planned), TRUCK)
    casts = []
    for place in range(dug.loose.shape[2]):
        share = dug.loose[k, :, place]
        loose = float(share.sum())
        if loose <= 0.0:
            continue
        own = share > 0
        swing = float(share[own] @ best.casting.degrees[own, place] / loose)
        bay = int(best.casting.bay[own][0]) if names[place] == TRUCK else NO_TRUCK
        casts.append(
            Cast(
                place=names[place],
                loose=LooseVolume(unit.volume(loose)),
                buckets=buckets(loose, capacity),
                spot=_emptied_at(planned, share, place, bay),
                swing=swing,
                truck=None if bay == NO_TRUCK else used_bays(planned, dug).index(bay) + 1,
            )
        )
    casts.sort(key=lambda cast: -cast.loose)
    topsoil = float(dug.topsoil[k].sum()) * (1.0 + planned.terms.swell)
    if topsoil > 0.0:
        told = LooseVolume(unit.volume(topsoil))
        casts.append(
            Cast(
                place=TOPSOIL, loose=told, buckets=buckets(topsoil, capacity), spot=None, swing=None
            )
        )
    return tuple(casts)


def buckets(loose: float, capacity: float) -> int:
    """Heaped buckets of a loose volume, both in one unit: the next whole number."""
    return int(np.ceil(loose / capacity - 1e-9))


def used_bays(planned: Planned, dug: Dug) -> list[int]:
    """The bays that trucks are loaded in, in the order of the stands; a stand has one at most."""
    bay = planned.best.casting.bay
    found: list[int] = []
    for loose in dug.loose[:, :, -1]:
        own = bay[(loose > 0) & (bay != NO_TRUCK)]
        found += [k for k in own[:1].tolist() if k not in found]
    return found


def _emptied_at(planned: Planned, share: FloatArray, place: int, bay: int) -> Spot | None:
    """Where most of a cast is emptied; None for a truck without a bay."""
    if bay != NO_TRUCK:
        east, north = planned.best.loading.bays.body[bay]
        return float(east), float(north)
    spot = planned.best.casting.spot[:, place]
    own = np.flatnonzero((share > 0) & (spot != NOWHERE))
    if not len(own):
        return None
    weight = np.bincount(spot[own], share[own])
    east, north = planned.best.places.spot[int(weight.argmax())]
    return float(east), float(north)


def _sides(planned: Planned, bank: FloatArray) -> tuple[str, ...]:
    """The walls of whose sides more than a shovelful is dug, of `bank` (n,) of each cell."""
    work, walls = planned.field.work, planned.worked.layout.design.walls
    own = work.cells.side & (work.cells.row < len(walls))
    by_wall = np.bincount(work.cells.row[own], bank[own], len(walls))
    return tuple(
        wall.name
        for wall, much in zip(walls, by_wall[: len(walls)], strict=True)
        if much > work.shovelful
    )


def _ground(planned: Planned, cells: IntArray) -> shapely.MultiPolygon:
    shapes = planned.field.work.shapes[cells]
    return polygons(shapely.union_all(shapes, grid_size=1e-6))


def polygons(shape: shapely.Geometry) -> shapely.MultiPolygon:
    """The polygons of a shape."""
    parts = shapely.get_parts(shape)
    return shapely.MultiPolygon([p for p in parts if p.geom_type == "Polygon" and p.area > 0])


def in_unit(unit: LengthUnit, volume: float) -> LooseVolume:
    """A loose volume in the job's unit."""
    return LooseVolume(unit.volume(volume))
