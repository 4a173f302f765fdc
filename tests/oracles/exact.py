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


def wedges(
    walls: Walls, runs: list[Fraction], depth: Fraction, heights: tuple[Fraction, Fraction]
) -> list[Fraction]:
    """Each wall's side between two heights: `walls` as at the lower one, `runs` per rise."""
    low, high = heights

    def swept(wall: int) -> Callable[[Fraction], Fraction]:
        return lambda h: walls.at([r * (h - low) for r in runs])[wall] * runs[wall] * (depth - h)

    return [simpson(swept(i), low, high) for i in range(len(runs))]


def treads(walls: Walls, runs: list[Fraction], left: Fraction) -> list[Fraction]:
    """Each wall's side over a tread of these runs, with ground `left` above it."""
    return [area * left for area in walls.strips(runs)]


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
