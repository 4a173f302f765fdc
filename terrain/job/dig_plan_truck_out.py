"""Where trucks are loaded as one sets it out: two stakes by two tapes each, and from each stand."""

from dataclasses import dataclass

import numpy as np
import shapely

from terrain.job.dig_plan_record import Cast, DigPlan, Pass, TruckSpot
from terrain.job.dig_plan_set_out import Tape, two_tapes
from terrain.ledger.entries import LooseVolume

HALF_TURN = 180.0

LEAST_LEFT = 0.05
"""Share of a load that is neither missed nor minded."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TruckOut:
    """A truck's place as set out.

    Args:
        truck: the place.
        tail, front: the middle of its tail and of its front, by two corners each.
        tail_side, front_side: the way, in degrees, that each lies off the line of its corners.
        length, width: of the ground it takes, in length units.
        buckets: all that are loaded there.
    """

    truck: TruckSpot
    tail: tuple[Tape, Tape]
    tail_side: float
    front: tuple[Tape, Tape]
    front_side: float
    length: float
    width: float
    buckets: int


@dataclass(frozen=True, slots=True, kw_only=True)
class FromStand:
    """A truck's body seen from a stand: how far from the machine's middle, in length units, and
    how many degrees to the right of where its tracks face (to the left below nought).
    """

    truck: TruckSpot
    away: float
    right: float


def trucks_out(plan: DigPlan) -> tuple[TruckOut, ...]:
    """Every place of the truck as set out, in order of number."""
    found = []
    for truck in plan.trucks:
        ends = truck.ring[2:].mean(axis=0), truck.ring[:2].mean(axis=0)
        (tail, tail_side), (front, front_side) = (two_tapes(plan, end) for end in ends)
        casts = [c for one in plan.passes for c in one.to if c.truck == truck.number]
        found.append(
            TruckOut(
                truck=truck,
                tail=tail,
                tail_side=tail_side,
                front=front,
                front_side=front_side,
                length=float(np.hypot(*(ends[1] - ends[0]))),
                width=float(np.hypot(*(truck.ring[1] - truck.ring[0]))),
                buckets=sum(cast.buckets for cast in casts),
            )
        )
    return tuple(found)


def truck_from(plan: DigPlan, one: Pass, cast: Cast) -> FromStand | None:
    """Where a stand finds the truck of one of its casts; None where that has no place."""
    truck = next((each for each in plan.trucks if each.number == cast.truck), None)
    if truck is None:
        return None
    east, north = np.array(truck.body) - np.array(one.stand.spot)
    bearing = float(np.degrees(np.arctan2(east, north)))
    right = (bearing - one.stand.heading + HALF_TURN) % (2 * HALF_TURN) - HALF_TURN
    return FromStand(truck=truck, away=float(np.hypot(east, north)), right=right)


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiting:
    """What a stand leaves in a truck that is not full: loose, of a `load`; the stand that goes on
    with it, None after the last; how many stands that is away, and whether in the same place.
    """

    held: LooseVolume
    load: LooseVolume
    stand: int | None
    after: int
    same: bool


def in_tail(plan: DigPlan, one: Pass) -> tuple[int, ...]:
    """Places of trucks not loaded from a stand that lie in its tail or what stays free round it."""
    spot, machine = shapely.Point(one.stand.spot), plan.machine
    return tuple(
        truck.number
        for truck in plan.trucks
        if one.stand.number not in truck.stands
        and shapely.Polygon(truck.ring).distance(spot) < machine.tail_swing + machine.tail_clear
    )


def waiting(plan: DigPlan, one: Pass, cast: Cast) -> Waiting | None:
    """What waits in the truck after a cast; None for other places, and where a load is full."""
    load = plan.ground.truck_load
    casts = [(p.stand.number, c) for p in plan.passes for c in p.to if c.place == cast.place]
    if load is None or not any(p.kind == "truck" and p.name == cast.place for p in plan.places):
        return None
    before = [c for number, c in casts if number <= one.stand.number]
    held = sum(float(c.loose) for c in before) % float(load)
    if not LEAST_LEFT * load < held < (1.0 - LEAST_LEFT) * load:
        return None
    later = [(n, c) for n, c in casts if n > one.stand.number and c.buckets > 0]
    number, following = later[0] if later else (None, None)
    return Waiting(
        held=LooseVolume(held),
        load=load,
        stand=number,
        after=0 if number is None else number - one.stand.number,
        same=following is not None and following.truck == cast.truck,
    )
