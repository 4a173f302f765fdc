"""Which spots trucks are loaded at in an order: few of them, each in reach of many stands."""

from dataclasses import dataclass

import numpy as np
import shapely

from terrain.base.arrays import BoolArray, FloatArray, IntArray
from terrain.haul.bays import Bays, may_load
from terrain.haul.field import Field
from terrain.haul.order import Order
from terrain.haul.outside import picked_for
from terrain.haul.places import Places

NO_TRUCK = -1

AREA = 1e-9
"""Square length units below which a strip is no ground."""

DISPLACED = 2.0
"""A volume that a gap takes from piles counts so many times: it is loaded, and fill is brought in
again. Common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Loading:
    """The bays of an order, and which of its stands may load at each.

    Args:
        bays: (b,) of them.
        may: (k, b) whether a stand loads a truck there.
        gaps: how many of them take ground that earth could have lain on.
    """

    bays: Bays
    may: BoolArray
    gaps: int = 0


def beside_piles(field: Field, order: Order, places: Places) -> Loading:
    """Bays on ground where no earth may lie, as few as serve most that is dug."""
    bays = field.bays
    off = ~on_piles(bays, places)
    may = may_load(field.work.machine, bays.of(off), order.stands.spot, order.level)
    weight = order.digs @ field.work.cells.bank
    least = field.work.machine.bucket_capacity
    picked = picked_for(np.ones(len(may), dtype=bool), may.T, weight, least)
    chosen: list[int] = []
    free = bays.of(off)
    for k in picked:
        if not chosen or not free.of(np.array([k])).over(free.of(np.array(chosen)))[0]:
            chosen.append(k)
    return Loading(bays=free.of(np.array(chosen, dtype=int)), may=may[:, chosen])


def on_piles(bays: Bays, places: Places) -> BoolArray:
    """(b,): whether a bay takes ground where earth may lie."""
    if not len(bays):
        return np.zeros(0, dtype=bool)
    strips = shapely.union_all(list(places.ground))
    shapely.prepare(strips)
    return np.asarray(shapely.intersects(strips, bays.ground()))


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What an order loads and casts before gaps are left for trucks; loose, cubic length units.

    Args:
        truck: (k,) what each stand loads without a bay.
        cast: (p,) what lies on each place's ground.
        least: what no gap is left for.
    """

    truck: FloatArray
    cast: FloatArray
    least: float


def with_gap(field: Field, order: Order, laid: tuple[Places, Loading], wanted: Wanted) -> Loading:
    """The same with one bay more in a gap between piles, for stands that find none to load at.

    A gap is left where it serves more than it takes room from piles; the same where there is none.
    """
    places, loading = laid
    bays = field.bays
    if not len(bays):
        return loading
    may = may_load(field.work.machine, bays, order.stands.spot, order.level)
    ground = bays.ground()
    strips = np.array(places.ground, dtype=object)
    area = np.maximum(shapely.area(strips), AREA)
    taken = shapely.area(shapely.intersection(ground[:, None], strips[None, :])) / area
    room = places.capacity
    lost = np.maximum(wanted.cast - room * (1.0 - taken), 0.0).sum(axis=1)
    lost -= np.maximum(wanted.cast - room, 0.0).sum()
    gain = np.where(bays.over(loading.bays), -np.inf, may.T @ wanted.truck - DISPLACED * lost)
    best = int(gain.argmax())
    if gain[best] <= wanted.least:
        return loading
    return Loading(
        bays=_joined(loading.bays, bays.of(np.array([best]))),
        may=np.hstack([loading.may, may[:, [best]]]),
        gaps=loading.gaps + 1,
    )


def _joined(one: Bays, two: Bays) -> Bays:
    return Bays(
        body=np.vstack([one.body, two.body]),
        facing=np.vstack([one.facing, two.facing]),
        ring=np.vstack([one.ring, two.ring]),
        way=np.concatenate([one.way, two.way]),
        top=np.concatenate([one.top, two.top]),
    )


def gaps_of(loading: Loading) -> shapely.Geometry:
    """The ground to be kept free of piles for trucks."""
    return shapely.union_all(loading.bays.ground())


def without_bay(stand: IntArray, bay: IntArray, truck: FloatArray, count: int) -> FloatArray:
    """(k,): what is loaded from each of `count` stands without a bay, loose.

    `stand` and `bay` (n,) say from which each cell goes into the truck, and where; `truck` (n,)
    how much of it.
    """
    own = (truck > 0.0) & (bay == NO_TRUCK)
    return np.asarray(np.bincount(stand[own], truck[own], count), dtype=np.float64)
