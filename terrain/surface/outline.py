"""An outline as rings of fronts: straight pieces that each move out at a speed of their own.

The swept region lies on the left of every front, so an outer ring goes counter-clockwise and a
ring round ground that is left standing goes clockwise.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from terrain.base.arrays import FloatArray

STEP = -1
"""Owner of a step: a front that joins two near-parallel ones, faces a jump and never moves."""

NEAR_PARALLEL = math.cos(math.radians(5.0))
"""Two fronts whose directions' dot product exceeds this turn by under 5 degrees."""

FLAT_SINE = 0.08
"""Below this sine of the turn two lines cross too flatly to be intersected."""


@dataclass(slots=True, eq=False, kw_only=True)
class Front:
    """One moving piece: the line `normal . p = offset`, outward unit normal, run in this move."""

    owner: int
    normal: FloatArray
    offset: float
    speed: float = 0.0

    @property
    def direction(self) -> FloatArray:
        """The unit vector along the front, the swept region on its left."""
        return np.array([-self.normal[1], self.normal[0]])

    def copy(self) -> "Front":
        """Another front on the same line."""
        return Front(owner=self.owner, normal=self.normal, offset=self.offset, speed=self.speed)


@dataclass(slots=True, kw_only=True)
class Ring:
    """A closed ring: `fronts[i]` runs from `corners[i]` to the next corner, (n, 2)."""

    fronts: list[Front]
    corners: FloatArray

    @property
    def ends(self) -> FloatArray:
        """Where each front ends, (n, 2)."""
        return np.roll(self.corners, -1, axis=0)


def front_through(start: FloatArray, end: FloatArray, owner: int) -> Front:
    """The front from `start` to `end`."""
    run = end - start
    length = math.hypot(run[0], run[1])
    normal = np.array([run[1], -run[0]]) / length
    middle = (start + end) / 2
    return Front(owner=owner, normal=normal, offset=float(normal @ middle))


def ring_through(corners: FloatArray, owners: Sequence[int]) -> Ring:
    """The ring over `corners` (n, 2); front i, from corner i to the next, has `owners[i]`."""
    corners = np.asarray(corners, dtype=np.float64)
    ends = np.roll(corners, -1, axis=0)
    fronts = [front_through(a, b, o) for a, b, o in zip(corners, ends, owners, strict=True)]
    return Ring(fronts=fronts, corners=corners)


def copied(rings: Sequence[Ring]) -> list[Ring]:
    """The same rings in fronts of their own, free to move."""
    return [Ring(fronts=[f.copy() for f in r.fronts], corners=r.corners.copy()) for r in rings]


def ring_area(corners: FloatArray) -> float:
    """The signed area of a closed ring (n, 2), counter-clockwise positive."""
    if len(corners) < 3:
        return 0.0
    local = corners - corners[0]
    nxt = np.roll(local, -1, axis=0)
    return math.fsum(local[:, 0] * nxt[:, 1] - local[:, 1] * nxt[:, 0]) / 2


def outline_area(rings: Sequence[Ring]) -> float:
    """The area on the left of the rings."""
    return math.fsum(ring_area(r.corners) for r in rings)


def meeting(before: Front, after: Front, near: FloatArray) -> FloatArray:
    """Where the lines of two neighbours cross; `near` where they cross too flatly to tell."""
    sine = before.normal[0] * after.normal[1] - before.normal[1] * after.normal[0]
    if abs(sine) < FLAT_SINE:
        return near
    gap_before = before.offset - float(before.normal @ near)
    gap_after = after.offset - float(after.normal @ near)
    shift = np.array(
        [
            gap_before * after.normal[1] - gap_after * before.normal[1],
            gap_after * before.normal[0] - gap_before * after.normal[0],
        ]
    )
    crossing: FloatArray = near + shift / sine
    return crossing


def corner_velocity(before: Front, after: Front) -> FloatArray:
    """How a common corner moves: at each front's speed along that front's normal.

    Two ways to solve the same pair of equations. Fronts that nearly face each other, as along a
    ridge, take the plain one: it keeps the corner on the line half-way however far it runs. Fronts
    that nearly go on in line take the mean of the speeds along the bisector and what the speeds
    differ by across it: neighbours of one speed need only the first, sound however flat the turn.
    """
    one, two = before.normal, after.normal
    if float(one @ two) < 0.0:
        across = np.array(
            [
                before.speed * two[1] - after.speed * one[1],
                after.speed * one[0] - before.speed * two[0],
            ]
        )
        return np.asarray(across / (one[0] * two[1] - one[1] * two[0]))
    both = one + two
    velocity = (before.speed + after.speed) * both / (both @ both)
    if before.speed != after.speed:
        apart = two - one
        velocity = velocity + (after.speed - before.speed) * apart / (apart @ apart)
    return np.asarray(velocity)


def ring_velocities(ring: Ring) -> FloatArray:
    """The velocity of every corner of a ring, (n, 2)."""
    pairs = zip([ring.fronts[-1], *ring.fronts[:-1]], ring.fronts, strict=True)
    return np.array([corner_velocity(before, after) for before, after in pairs])


def are_near_parallel(before: Front, after: Front) -> bool:
    """Whether two fronts turn by under 5 degrees."""
    return float(before.normal @ after.normal) > NEAR_PARALLEL


def step_between(before: Front, after: Front, corner: FloatArray) -> Front:
    """The square step at the corner of two near-parallel fronts that part.

    It stands on the bisector and faces the one that falls behind.
    """
    along = before.direction + after.direction
    along = along / math.hypot(along[0], along[1])
    normal = along if before.speed > after.speed else -along
    return Front(owner=STEP, normal=normal, offset=float(normal @ corner))
