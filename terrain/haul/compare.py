"""Every order solved, ranked: those that leave much undug last, then rim corners, then hours."""

from dataclasses import dataclass, replace

import numpy as np

from terrain.base.arrays import FloatArray
from terrain.haul.casting import Casting, Swings, cast_to_nearest, casting_of, swings_of
from terrain.haul.field import Field
from terrain.haul.gather import choice_of, gathered
from terrain.haul.loading import (
    NO_TRUCK,
    Loading,
    Wanted,
    beside_piles,
    gaps_of,
    with_gap,
    without_bay,
)
from terrain.haul.order import Order, order_of
from terrain.haul.places import Heaping, Places, without
from terrain.haul.rates import Rates
from terrain.haul.round import Round
from terrain.haul.transport import Asked, Shipped, settle, ship

TRUCK_TRIP_HOURS = 0.5
"""There and back with a load, charged to earth that is hauled off only to be brought in again;
common practice, no source."""

USUAL_TRUCK = 10.7
"""Cubic metres in a load where the job names no truck; common practice, no source."""

MOST_GAPS = 4
"""Gaps left for trucks after which no more are looked for: a lot has so many ways in at most."""

WORTH_A_GAP = 3.0
"""Buckets below which no gap is left for a truck. Common practice, no source."""

PATCHED = (1.0, 0.5, 0.2)
"""Shares of what a stand more and a ragged edge count, tried in turn until the plan is no dearer
than casting to the nearest."""

MUCH_LEFT, SAME_LEFT = 0.02, 0.005
"""Shares of the dig that an order leaves undug beyond what the best of them must: each such share
more counts before rim corners, and before hours among orders with as many. Common practice, no
source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Terms:
    """What the earth is wanted for; volumes loose, in cubic length units.

    Args:
        swell: loose volume of a bank volume, as a share more.
        rates: machine-hours.
        heaping: how it may be heaped.
        need: (p,) what each side is to hold in the end, beside the legs counter-clockwise.
        already: (p,) what lies there before.
        unfit: share of what is dug that is fit for no fill, and leaves.
        load: of a truck.
    """

    swell: float
    rates: Rates
    heaping: Heaping
    need: FloatArray
    already: FloatArray
    unfit: float
    load: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Solved:
    """One order with its earth placed.

    `hours` are swing, re-handling and haul-off at the mean factors; `nearest` the same with every
    cell cast to its nearest side. `volume_distance` is of what is pushed.
    """

    order: Order
    places: Places
    loading: Loading
    casting: Casting
    asked: Asked
    shipped: Shipped
    nearest: float
    left_bank: float
    volume_distance: float

    @property
    def hours(self) -> float:
        """Machine-hours at the mean of the published factors."""
        return self.shipped.hours

    @property
    def rehandled(self) -> float:
        """Loose volume moved a second time."""
        return float(self.shipped.moved.sum())


def solved_orders(
    field: Field, rounds: tuple[Round, ...], places: Places, terms: Terms
) -> tuple[Solved, ...]:
    """Every starting wall both ways round, best first."""
    found = [
        solve(field, order_of(field, ring, first), places, terms)
        for ring in rounds
        for first in range(len(ring.legs))
    ]
    whole = float(field.work.cells.bank.sum())
    least = min(one.left_bank for one in found)

    def rank(one: Solved) -> tuple[bool, int, int, int, float]:
        more = (one.left_bank - least) / whole
        corners = len(one.order.corners)
        return one.order.shut_in, int(more / MUCH_LEFT), corners, int(more / SAME_LEFT), one.hours

    return tuple(sorted(found, key=rank))


def solve(field: Field, order: Order, places: Places, terms: Terms) -> Solved:
    """Place the earth of one order, each stand's ground in whole pieces.

    Where stands load trucks that find no bay beside the piles, gaps are left between these.
    """
    free = without(places, order.clear, terms.heaping)
    loading = beside_piles(field, order, free)
    swings = swings_of(field.work, order, free, loading)
    one = _placed(field, order, (free, loading), (swings, terms))
    while True:
        more = _with_gap(field, one)
        if more is one.loading:
            break
        free = without(one.places, gaps_of(more), terms.heaping, "a gap for the truck")
        opened = swings_of(field.work, order, free, more)
        found = _placed(field, order, (free, more), (opened, terms))
        if found.hours >= one.hours:
            break
        one, swings = found, opened
    return _in_pieces(field, one, (swings, terms))


def _in_pieces(field: Field, one: Solved, given: tuple[Swings, Terms]) -> Solved:
    """The same from stands chosen so that each digs whole pieces; as it is where that is dearer
    than to cast every cell to its nearest side.
    """
    swings, terms = given
    for share in PATCHED:
        stand = gathered(
            choice_of(field, one.order, (swings, terms.rates), one.shipped.cast, share)
        )
        only = stand[None, :] == np.arange(len(one.order.kind))[:, None]
        order = replace(one.order, digs=only)
        kept = swings_of(field.work, order, one.places, one.loading)
        found = _placed(field, order, (one.places, one.loading), (kept, terms))
        if found.hours <= one.nearest:
            return replace(found, order=one.order, nearest=one.nearest)
    return one


def _with_gap(field: Field, one: Solved) -> Loading:
    """A further bay for what an order loads without one; the same where there is none."""
    least = WORTH_A_GAP * field.work.machine.bucket_capacity
    if one.loading.gaps >= MOST_GAPS:
        return one.loading
    stand, cast, moved = one.casting.stand, one.shipped.cast, one.shipped.moved
    truck = without_bay(stand[:, -1], one.casting.bay, cast[:, -1], len(one.order.kind))
    laid = cast[:, :-1].sum(axis=0)
    again = np.divide(moved[:, -1], laid, out=np.zeros_like(laid), where=laid > 0)
    for place in np.flatnonzero(again).tolist():  # piled only to be loaded later
        own = cast[:, place] > 0
        np.add.at(truck, stand[own, place], again[place] * cast[own, place])
    return with_gap(
        field, one.order, (one.places, one.loading),
        Wanted(truck=truck, cast=laid * (1.0 - again), least=least),
    )  # fmt: skip


def _placed(
    field: Field, order: Order, laid: tuple[Places, Loading], given: tuple[Swings, Terms]
) -> Solved:
    work, (free, loading), (swings, terms) = field.work, laid, given
    casting = casting_of(swings)
    asked = _asked(field, order, casting, (free, terms))
    shipped = ship(asked)
    when = np.where(order.digs.any(axis=0), order.digs.argmax(axis=0), len(order.kind))
    nearest = settle(asked, cast_to_nearest(work, casting, free, asked, when))
    count = len(free)
    return Solved(
        order=order,
        places=free,
        loading=loading,
        casting=casting,
        asked=asked,
        shipped=shipped,
        nearest=nearest.hours,
        left_bank=float(work.cells.bank[order.left].sum()),
        volume_distance=float((shipped.moved[:, :count] * free.apart).sum()),
    )


def _asked(field: Field, order: Order, casting: Casting, wanted: tuple[Places, Terms]) -> Asked:
    """The transport problem of an order: what is left undug is no supply, topsoil goes apart."""
    places, terms = wanted
    cells, rates, count = field.work.cells, terms.rates, len(places)
    supply = np.where(order.left, 0.0, cells.bank - cells.topsoil) * (1.0 + terms.swell)
    cast = np.where(
        np.isfinite(casting.degrees),
        rates.swing(np.nan_to_num(casting.degrees, posinf=0.0)),
        np.inf,
    )
    truck = rates.truck(np.nan_to_num(casting.degrees[:, count], posinf=0.0))
    cast[:, count] = truck + np.where(casting.bay == NO_TRUCK, rates.to_truck, 0.0)
    cast[supply <= 0] = np.inf
    push = np.full((count, count + 1), np.inf)
    push[:, :count] = rates.push * places.apart
    np.fill_diagonal(push, np.inf)
    push[:, count] = rates.to_truck
    return Asked(
        supply=supply,
        cast=cast,
        need=terms.need,
        capacity=np.maximum(places.capacity, terms.already),
        already=terms.already,
        push=push,
        bring=2.0 * rates.to_truck + TRUCK_TRIP_HOURS / terms.load,
        must_leave=terms.unfit * float(supply.sum()),
    )
