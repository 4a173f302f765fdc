"""The dig line as the machine follows it: a leg a wall, in the direction of travel."""

from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np
import shapely

from terrain.base.arrays import FloatArray
from terrain.surface.outline import Ring

Direction: TypeAlias = Literal["clockwise", "counter-clockwise"]
DIRECTIONS: tuple[Direction, Direction] = ("counter-clockwise", "clockwise")

NO_CORNER = 10.0
"""Degrees: walls that turn by less go on in line. Common practice, no source."""

SHORTEST = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Leg:
    """The dig line of one wall, travelled from `start` to `end`.

    Args:
        wall: the wall's number in the design.
        along, inward: unit vectors: the way of travel, and into the dig.
        turn: degrees the next leg turns off at the end, inward positive: an outside corner of the
            house is positive, an inside corner negative.
    """

    wall: int
    start: FloatArray
    end: FloatArray
    along: FloatArray
    inward: FloatArray
    length: float
    turn: float

    def station(self, plan: FloatArray) -> FloatArray:
        """How far along the leg plan points (n, 2) lie."""
        return np.asarray((plan - self.start) @ self.along)

    def at(self, station: float, inside: float) -> FloatArray:
        """The plan point at a station, so far inside the dig line."""
        return np.asarray(self.start + station * self.along + inside * self.inward)

    @property
    def line(self) -> shapely.LineString:
        """The leg in plan."""
        return shapely.LineString([self.start, self.end])


def legs_of(ring: Ring, direction: Direction) -> tuple[Leg, ...]:
    """The legs of a dig line in the order of travel; square steps between walls are no legs."""
    forward = direction == "counter-clockwise"
    found = [
        (front.owner, start, end)
        for front, start, end in zip(ring.fronts, ring.corners, ring.ends, strict=True)
        if front.owner >= 0 and float(np.hypot(*(end - start))) > SHORTEST
    ]
    if not forward:
        found = [(wall, end, start) for wall, start, end in reversed(found)]
    alongs = [(end - start) / np.hypot(*(end - start)) for _, start, end in found]
    sign = 1.0 if forward else -1.0
    legs = []
    for k, (wall, start, end) in enumerate(found):
        one, two = alongs[k], alongs[(k + 1) % len(found)]
        turn = np.degrees(np.arctan2(one[0] * two[1] - one[1] * two[0], one @ two))
        legs.append(
            Leg(
                wall=wall,
                start=start,
                end=end,
                along=one,
                inward=sign * np.array([-one[1], one[0]]),
                length=float(np.hypot(*(end - start))),
                turn=float(sign * turn),
            )
        )
    return tuple(legs)


def footprint(spot: FloatArray, facing: FloatArray, length: float, width: float) -> FloatArray:
    """The corners (4, 2) of a rectangle about a spot, its length along a unit vector."""
    across = np.array([-facing[1], facing[0]])
    ahead, aside = facing * length / 2, across * width / 2
    return np.array(
        [spot + ahead - aside, spot + ahead + aside, spot - ahead + aside, spot - ahead - aside]
    )
