"""Closed forms in exact fractions: pits on level ground, wall by wall, from lengths and turns.

Between two events a wall's length is linear in the height and what it sweeps in a step dh is
length * run * dh, dug `depth - h` deep; so each wall's side is the integral of a quadratic,
which Simpson's rule gives exactly. Lengths come from the mitre rule alone: where two walls
that turn by t stand d and e beyond their faces, the first grows by (e - d cos t) / sin t.
"""

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from math import isqrt

DIGITS = 10**60
ROOT_TWO = Fraction(isqrt(2 * DIGITS**2), DIGITS)
HALF_ROOT_TWO = ROOT_TWO / 2

RIGHT = (Fraction(0), Fraction(1))
"""Cosine and sine of a left turn of 90 degrees."""
BACK = (Fraction(0), Fraction(-1))
HALF_RIGHT = (HALF_ROOT_TWO, HALF_ROOT_TWO)
HALF_BACK = (HALF_ROOT_TWO, -HALF_ROOT_TWO)

STRAIGHT = (Fraction(1), Fraction(0))
"""Collinear neighbours: they part square to their line, so neither grows at that end."""

Turn = tuple[Fraction, Fraction]


def simpson(value: Callable[[Fraction], Fraction], low: Fraction, high: Fraction) -> Fraction:
    """The integral of a polynomial of degree three or less, exactly."""
    middle = (low + high) / 2
    return (high - low) * (value(low) + 4 * value(middle) + value(high)) / 6


@dataclass
class Walls:
    """An outline that keeps its walls: lengths, and the turn from each wall to the next."""

    lengths: list[Fraction]
    turns: list[Turn]

    def at(self, beyond: list[Fraction]) -> list[Fraction]:
        """Every wall's length when wall i stands `beyond[i]` past its face."""
        out = []
        for i, length in enumerate(self.lengths):
            after = (i + 1) % len(self.lengths)
            for turn, other in ((self.turns[i - 1], i - 1), (self.turns[i], after)):
                cos, sin = turn
                if sin == 0:
                    continue
                length = length + (beyond[other] - beyond[i] * cos) / sin
            out.append(length)
        return out

    def strips(self, overdig: list[Fraction]) -> list[Fraction]:
        """The plan area of each wall's overdig: a trapezoid from the face to the dig line."""
        outer = self.at(overdig)
        return [
            o * (inner + out) / 2
            for o, inner, out in zip(overdig, self.lengths, outer, strict=True)
        ]


@dataclass
class Climb:
    """All walls go up by `rise`, each out by its `runs` for one of rise."""

    runs: list[Fraction]
    rise: Fraction


@dataclass
class Tread:
    """All walls go out by their `runs` on the level."""

    runs: list[Fraction]


def sides(
    walls: Walls, moves: list[Climb | Tread], depth: Fraction, start: Fraction = Fraction(0)
) -> list[Fraction]:
    """Each wall's side under level ground `depth` above the floor; the moves begin at `start`.

    `walls` are as they stand at the start; no wall may drop out during the moves.
    """
    total = [Fraction(0)] * len(walls.lengths)
    height = start
    for move in moves:
        if isinstance(move, Tread):
            swept = [area * (depth - height) for area in walls.strips(move.runs)]
            walls = moved(walls, move.runs)
        else:
            rise = min(move.rise, depth - height)
            swept = [_wedge(walls, move.runs, i, (depth - height, rise)) for i in range(len(total))]
            walls = moved(walls, [run * rise for run in move.runs])
            height += rise
        total = [t + s for t, s in zip(total, swept, strict=True)]
    return total


def _wedge(walls: Walls, runs: list[Fraction], wall: int, climb: tuple[Fraction, Fraction]):
    """What one wall sweeps: the integral over the rise of length * run * depth left."""
    left, rise = climb

    def swept(height: Fraction) -> Fraction:
        return walls.at([run * height for run in runs])[wall] * runs[wall] * (left - height)

    return simpson(swept, Fraction(0), rise)


def drop_height(walls: Walls, runs: list[Fraction], wall: int) -> Fraction:
    """The height at which a wall has shrunk to nought."""
    now = walls.lengths[wall]
    return now / (now - walls.at(runs)[wall])


def moved(walls: Walls, beyond: list[Fraction]) -> Walls:
    """The same walls with each one so far out."""
    return Walls(walls.at(beyond), walls.turns)


def rectangle(length: Fraction, width: Fraction) -> Walls:
    """Front, right, back, left."""
    return Walls([length, width, length, width], [RIGHT] * 4)


def rectangle_cores(length: Fraction, width: Fraction) -> list[Fraction]:
    """Plan areas of the straight skeleton's faces of a rectangle not deeper than it is long."""
    short = width * width / 4
    long = (length * width - 2 * short) / 2
    return [long, short, long, short]


def frustum(
    size: tuple[Fraction, Fraction], overdig: list[Fraction], runs: list[Fraction], depth: Fraction
) -> Fraction:
    """A rectangular pit as a whole: the integral of (L + (s1 + s3) h)(W + (s0 + s2) h)."""
    length = size[0] + overdig[1] + overdig[3]
    width = size[1] + overdig[0] + overdig[2]
    along, across = runs[1] + runs[3], runs[0] + runs[2]
    return simpson(lambda h: (length + along * h) * (width + across * h), Fraction(0), depth)


def tilted(
    size: tuple[Fraction, Fraction], runs: list[Fraction], ground: tuple[Fraction, Fraction]
) -> Fraction:
    """A rectangular pit in ground that is `ground[0]` above the floor at the left wall, tilted
    `ground[1]` per unit along it: at each station the section is a trapezoid."""
    length, width = size
    front, right, back, left = runs
    start, grade = ground

    def section(x: Fraction, base: Fraction) -> Fraction:
        top = start + grade * x
        return width * (top - base) + (front + back) * (top * top - base * base) / 2

    west = -left * start / (1 + left * grade)
    east = length + right * (start + grade * length) / (1 - right * grade)
    out = simpson(lambda x: section(x, -x / left), west, Fraction(0)) if left else Fraction(0)
    out += simpson(lambda x: section(x, Fraction(0)), Fraction(0), length)
    if right:
        out += simpson(lambda x: section(x, (x - length) / right), length, east)
    return out
