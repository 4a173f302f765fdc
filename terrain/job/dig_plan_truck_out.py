"""Where trucks are loaded as one sets it out: two stakes by two tapes each, and from each stand."""

from dataclasses import dataclass

import numpy as np

from terrain.job.dig_plan_record import Cast, DigPlan, Pass, TruckSpot
from terrain.job.dig_plan_set_out import Tape, two_tapes

HALF_TURN = 180.0


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
