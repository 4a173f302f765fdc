"""The corners of a hole as dug: where the straight lines of its walls meet, and how squarely."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from terrain.asdug.walls import WallDug
from terrain.base.arrays import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class CornerDug:
    """A corner: angle inside the hole in degrees, and how far from the design's it lies.

    `at` (2,) is the spot, in the local frame.
    """

    at: FloatArray
    angle_degrees: float
    asked_degrees: float
    offset: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Diagonal:
    """The way between two corners as dug and as asked, corners by number."""

    first: int
    last: int
    dug: float
    asked: float


def corner_dug(before: WallDug, after: WallDug, asked: FloatArray) -> CornerDug | None:
    """The corner from one wall to the next; `asked` (3, 2) are the design's corner before it,
    itself and the one after. None where the lines are too nearly parallel to meet.
    """
    (p, u), (q, v) = before.line, after.line
    cross = u[0] * v[1] - u[1] * v[0]
    if abs(cross) < math.sin(math.radians(5.0)):
        return None
    gap = q - p
    at = p + u * (gap[0] * v[1] - gap[1] * v[0]) / cross
    return CornerDug(
        at=np.asarray(at),
        angle_degrees=_inside(u, v),
        asked_degrees=_inside(asked[1] - asked[0], asked[2] - asked[1]),
        offset=float(math.dist(at, asked[1])),
    )


def _inside(before: FloatArray, after: FloatArray) -> float:
    """The angle inside a counter-clockwise ring between two directions, in degrees."""
    turn = math.atan2(
        before[0] * after[1] - before[1] * after[0], before[0] * after[0] + before[1] * after[1]
    )
    return 180.0 - math.degrees(turn)


def diagonals(corners: Sequence[CornerDug | None], asked: FloatArray) -> tuple[Diagonal, ...]:
    """Every way between two corners that are not neighbours, `asked` (k, 2) the design's."""
    count = len(corners)
    found = []
    for i in range(count):
        for j in range(i + 2, count):
            one, other = corners[i], corners[j]
            if one is None or other is None or (i == 0 and j == count - 1):
                continue
            found.append(
                Diagonal(
                    first=i, last=j, dug=math.dist(one.at, other.at),
                    asked=math.dist(asked[i], asked[j]),
                )
            )  # fmt: skip
    return tuple(found)
