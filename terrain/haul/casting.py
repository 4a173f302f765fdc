"""From which stand each cell is best cast to each place, and what casting to the nearest makes."""

from dataclasses import dataclass

import numpy as np
import shapely

from terrain.base.arrays import FloatArray, IntArray
from terrain.haul.loading import NO_TRUCK, Loading
from terrain.haul.order import Order
from terrain.haul.places import Places
from terrain.haul.rates import TRUCK_SWING
from terrain.haul.reach import Work
from terrain.haul.transport import Asked

NOWHERE = -1


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


def casting_of(work: Work, order: Order, places: Places, loading: Loading) -> Casting:
    """The best stand and spot for every cell and place."""
    cells, count = work.cells, len(places)
    degrees = np.full((len(cells), count + 1), np.inf)
    stand = np.full(degrees.shape, NOWHERE)
    spot = np.full(degrees.shape, NOWHERE)
    degrees[:, count], stand[:, count], bay = _into_truck(work, order, loading)
    for k, (at, digs) in enumerate(zip(order.stands.spot, order.digs, strict=True)):
        own = np.flatnonzero(digs)
        if not len(own) or not len(places.spot):
            continue
        to_spot, to_cell = places.spot - at, cells.middle[own] - at
        near = np.flatnonzero(np.hypot(*to_spot.T) <= work.machine.casts_to)
        if not len(near):
            continue
        swing = _between(_bearing(to_cell)[:, None], _bearing(to_spot[near])[None, :])
        owners, begin = np.unique(places.owner[near], return_index=True)
        ends = np.append(begin[1:], len(near))
        for place, low, high in zip(owners, begin, ends, strict=True):
            least = swing[:, low:high].argmin(axis=1)
            angle = swing[np.arange(len(own)), low + least]
            better = angle < degrees[own, place]
            degrees[own[better], place] = angle[better]
            stand[own[better], place] = k
            spot[own[better], place] = near[low + least[better]]
    return Casting(degrees=degrees, stand=stand, spot=spot, bay=bay)


def _into_truck(
    work: Work, order: Order, loading: Loading
) -> tuple[FloatArray, IntArray, IntArray]:
    """Degrees, stand and bay (n,) by which each cell goes into a truck with the least swing."""
    middle = work.cells.middle
    degrees, stand = np.full(len(middle), np.inf), np.full(len(middle), NOWHERE)
    bay = np.full(len(middle), NO_TRUCK)
    for k, (at, digs) in enumerate(zip(order.stands.spot, order.digs, strict=True)):
        own = np.flatnonzero(digs)
        first = own[stand[own] == NOWHERE]
        stand[first] = k
        bays = np.flatnonzero(loading.may[k])
        if not len(own) or not len(bays):
            continue
        to_body = _bearing(loading.bays.body[bays] - at)
        swing = _between(_bearing(middle[own] - at)[:, None], to_body[None, :])
        best = int((work.cells.bank[own] @ swing).argmin())  # a truck stays put at a stand
        better = swing[:, best] < degrees[own]
        degrees[own[better]], stand[own[better]] = swing[better, best], k
        bay[own[better]] = bays[best]
    degrees[(stand != NOWHERE) & (bay == NO_TRUCK)] = TRUCK_SWING
    return degrees, stand, bay


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
