"""From which stand each cell is best cast to each place, and what casting to the nearest makes."""

from dataclasses import dataclass

import numpy as np
import shapely

from terrain.base.arrays import BoolArray, FloatArray, IntArray
from terrain.haul.bays import lift
from terrain.haul.loading import NO_TRUCK, Loading
from terrain.haul.order import Order
from terrain.haul.places import Places
from terrain.haul.rates import TRUCK_SWING
from terrain.haul.transport import Asked
from terrain.haul.work import Work

NOWHERE = -1


@dataclass(frozen=True, slots=True, kw_only=True)
class Swings:
    """Every stand (k,) that may dig a cell (n,), to every place (p), the truck last.

    Args:
        degrees: (k, n, p + 1) the least swing; inf where it digs or casts no such thing, and for a
            truck at a stand without a bay.
        spot: (k, n, p + 1) where the bucket is emptied, an index into the places' spots; `NOWHERE`
            for the truck.
        bay: (k,) where the truck stands, an index into the bays, or `NO_TRUCK`.
        may: (k, n) whether the stand may dig the cell.
    """

    degrees: FloatArray
    spot: IntArray
    bay: IntArray
    may: BoolArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Casting:
    """For each cell and place, the truck last, (n, p + 1) each.

    Args:
        degrees: the least swing from any stand that may dig the cell; inf where none casts there.
        stand: which stand that is, by number in the order.
        spot: where the bucket is emptied, an index into the places' spots; `NOWHERE` for the truck.
        bay: (n,) where the truck stands, an index into the bays, or `NO_TRUCK`: no stand that may
            dig the cell has a bay, and the earth is loaded from a pile in a second lift.
    """

    degrees: FloatArray
    stand: IntArray
    spot: IntArray
    bay: IntArray


def swings_of(work: Work, order: Order, places: Places, loading: Loading) -> Swings:
    """The swings of all stands of an order."""
    cells, count = work.cells, len(places)
    shape = (len(order.kind), len(cells), count + 1)
    degrees, spot = np.full(shape, np.inf), np.full(shape, NOWHERE)
    bay = np.full(len(order.kind), NO_TRUCK)
    top = (work.heights(places.spot) if len(places.spot) else np.zeros(0)) + places.crest
    for k, (at, digs) in enumerate(zip(order.stands.spot, order.digs, strict=True)):
        own = np.flatnonzero(digs)
        if not len(own):
            continue
        to_cell = _bearing(cells.middle[own] - at)
        bays = np.flatnonzero(loading.may[k])
        if len(bays):
            to_body = _bearing(loading.bays.body[bays] - at)
            swing = _between(to_cell[:, None], to_body[None, :])
            best = int((cells.bank[own] @ swing).argmin())  # a truck stays put at a stand
            degrees[k, own, count], bay[k] = swing[:, best], bays[best]
        away = np.hypot(*(places.spot - at).T)
        clear = (away >= work.machine.swings_in) & (away <= work.machine.casts_to)
        near = np.flatnonzero(clear & (top - order.level[k] <= lift(work.machine, away)))
        if not len(near):
            continue
        swing = _between(to_cell[:, None], _bearing(places.spot[near] - at)[None, :])
        owners, begin = np.unique(places.owner[near], return_index=True)
        for place, low, high in zip(owners, begin, np.append(begin[1:], len(near)), strict=True):
            least = swing[:, low:high].argmin(axis=1)
            degrees[k, own, place] = swing[np.arange(len(own)), low + least]
            spot[k, own, place] = near[low + least]
    return Swings(degrees=degrees, spot=spot, bay=bay, may=order.digs)


def casting_of(swings: Swings) -> Casting:
    """The best stand and spot for every cell and place."""
    stand = swings.degrees.argmin(axis=0)
    degrees = np.take_along_axis(swings.degrees, stand[None], axis=0)[0]
    spot = np.take_along_axis(swings.spot, stand[None], axis=0)[0]
    bay = np.where(np.isfinite(degrees[:, -1]), swings.bay[stand[:, -1]], NO_TRUCK)
    stand = np.where(np.isfinite(degrees), stand, NOWHERE)
    alone = (stand[:, -1] == NOWHERE) & swings.may.any(axis=0)
    stand[alone, -1] = swings.may.argmax(axis=0)[alone]
    degrees[alone, -1] = TRUCK_SWING
    return Casting(degrees=degrees, stand=stand, spot=spot, bay=bay)


def mostly_from(casting: Casting, cast: FloatArray) -> IntArray:
    """(n,): the stand from which most of each cell is cast, by `cast` (n, p + 1).

    A cell of which nothing is cast, being topsoil alone, has the first stand that may dig it.
    """
    stand = casting.stand
    main = stand[np.arange(len(stand)), cast.argmax(axis=1)]
    return np.asarray(np.where(main == NOWHERE, stand[:, -1], main))


def _bearing(away: FloatArray) -> FloatArray:
    return np.asarray(np.degrees(np.arctan2(away[..., 0], away[..., 1])))


def _between(one: FloatArray, two: FloatArray) -> FloatArray:
    turn = np.abs(one - two) % 360.0
    return np.asarray(np.minimum(turn, 360.0 - turn))


def cast_to_nearest(
    work: Work, casting: Casting, places: Places, asked: Asked, when: IntArray
) -> FloatArray:
    """Every cell cast to its nearest place that has room left, (n, p + 1).

    Cells come in the order `when` (n,) they are dug; what finds no room goes into the truck.
    """
    count = len(places)
    ground = np.array(places.ground, dtype=object)
    away = shapely.distance(shapely.points(work.cells.middle)[:, None], ground[None, :])
    away = np.where(np.isfinite(asked.cast[:, :count]), away, np.inf)
    room = np.maximum(asked.capacity - asked.already, 0.0)
    cast = np.zeros_like(asked.cast)
    for cell in np.argsort(when, kind="stable"):
        rest = float(asked.supply[cell])
        for place in np.argsort(away[cell], kind="stable"):
            if rest <= 0.0 or not np.isfinite(away[cell, place]):
                break
            put = min(rest, float(room[place]))
            cast[cell, place] += put
            room[place] -= put
            rest -= put
        cast[cell, count] += max(rest, 0.0)
    return cast
