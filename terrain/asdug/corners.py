"""The corners of a hole as dug: where the straight lines of its walls meet, and how squarely.

Each figure comes with half the width of its 95 % interval, to first order in what the shots of the
lines are off in plan. Walls share the shot of their corner, so every shot's pull is kept apart.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from terrain.asdug.walls import Figure, WallDug
from terrain.base.arrays import FloatArray
from terrain.ledger.doubt import NSSDA_95

IN_PLAN_95 = math.sqrt(-2.0 * math.log(0.05))
"""Standard deviations within which a spot lies 19 times in 20 if it is as doubtful each way: of a
Rayleigh distribution, 2.448."""

Spot = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class CornerDug:
    """A corner: angle inside the hole in degrees, and how far from the design's it lies.

    `at` (2,) is the spot, in the local frame; `pull` says how far, (2, 2), it moves for a unit that
    the shot at a spot is off to the east and to the north.
    """

    at: FloatArray
    angle_degrees: Figure
    asked_degrees: float
    offset: Figure
    pull: Mapping[Spot, FloatArray]


@dataclass(frozen=True, slots=True, kw_only=True)
class Diagonal:
    """The way between two corners as dug and as asked, corners by number."""

    first: int
    last: int
    dug: Figure
    asked: float


def corner_dug(
    before: WallDug, after: WallDug, asked: FloatArray, sigma: float | None
) -> CornerDug | None:
    """The corner from one wall to the next, None where the lines are too nearly parallel to meet.

    Args:
        before: the wall that ends in the corner.
        after: the wall that begins there.
        asked: (3, 2), the design's corner before it, itself and the one after.
        sigma: one standard deviation of a shot's place along any way in plan; None: not known.
    """
    (p, u), (q, v) = before.line, after.line
    cross = u[0] * v[1] - u[1] * v[0]
    if abs(cross) < math.sin(math.radians(5.0)):
        return None
    gap = q - p
    at = p + u * (gap[0] * v[1] - gap[1] * v[0]) / cross
    meeting = np.linalg.inv(np.array([_outward(u), _outward(v)]))
    shift = [_shifts(wall, at) for wall in (before, after)]
    pull = _joined((spot, meeting[:, [k]] * own) for k in (0, 1) for spot, own in shift[k])
    turn = _joined(
        (spot, way * own) for way, wall in ((-1.0, before), (1.0, after))
        for spot, own in _turns(wall)
    )  # fmt: skip
    size = math.sqrt(sum(float((own**2).sum()) for own in turn.values()))
    moved = np.sum([own @ own.T for own in pull.values()], axis=0)
    widest = math.sqrt(float(np.linalg.eigvalsh(moved)[-1]))
    return CornerDug(
        at=np.asarray(at),
        angle_degrees=_figure(_inside(u, v), sigma, NSSDA_95 * math.degrees(size)),
        asked_degrees=_inside(asked[1] - asked[0], asked[2] - asked[1]),
        offset=_figure(math.dist(at, asked[1]), sigma, IN_PLAN_95 * widest),
        pull=pull,
    )


def _figure(value: float, sigma: float | None, share: float) -> Figure:
    return Figure(value=value, plus_minus_95=None if sigma is None else sigma * share)


def _outward(direction: FloatArray) -> FloatArray:
    return np.array([direction[1], -direction[0]])


def _shifts(wall: WallDug, at: FloatArray) -> list[tuple[Spot, FloatArray]]:
    """How far a wall's line moves out at a place, for a unit (2,) that each of its shots is off."""
    along, off = _along(wall)
    here = (at - wall.held.mean(axis=0)) @ wall.line[1]
    share = 1.0 / len(off) + here * off / (off**2).sum()
    return list(zip(_spots(wall), share[:, None] * _outward(along), strict=True))


def _turns(wall: WallDug) -> list[tuple[Spot, FloatArray]]:
    """How far a wall's line turns clockwise, in radians, for a unit (2,) each shot is off."""
    along, off = _along(wall)
    share = off / (off**2).sum()
    return list(zip(_spots(wall), share[:, None] * _outward(along), strict=True))


def _along(wall: WallDug) -> tuple[FloatArray, FloatArray]:
    """A wall's direction, and how far along it each shot is from their middle."""
    return wall.line[1], (wall.held - wall.held.mean(axis=0)) @ wall.line[1]


def _spots(wall: WallDug) -> list[Spot]:
    return [(float(east), float(north)) for east, north in wall.held]


def _joined(every: Iterable[tuple[Spot, FloatArray]]) -> dict[Spot, FloatArray]:
    found: dict[Spot, FloatArray] = {}
    for spot, own in every:
        found[spot] = found[spot] + own if spot in found else np.asarray(own)
    return found


def _inside(before: FloatArray, after: FloatArray) -> float:
    """The angle inside a counter-clockwise ring between two directions, in degrees."""
    turn = math.atan2(
        before[0] * after[1] - before[1] * after[0], before[0] * after[0] + before[1] * after[1]
    )
    return 180.0 - math.degrees(turn)


def diagonals(
    corners: Sequence[CornerDug | None], asked: FloatArray, sigma: float | None
) -> tuple[Diagonal, ...]:
    """Every way between two corners that are not neighbours, `asked` (k, 2) the design's.

    `sigma` is as in `corner_dug`.
    """
    count = len(corners)
    found = []
    for i in range(count):
        for j in range(i + 2, count):
            one, other = corners[i], corners[j]
            if one is None or other is None or (i == 0 and j == count - 1):
                continue
            found.append(
                Diagonal(
                    first=i,
                    last=j,
                    dug=_way(one, other, sigma),
                    asked=math.dist(asked[i], asked[j]),
                )
            )
    return tuple(found)


def _way(one: CornerDug, other: CornerDug, sigma: float | None) -> Figure:
    step = other.at - one.at
    length = math.hypot(*step)
    ends = ((-step / length, one.pull), (step / length, other.pull))
    pull = _joined((spot, way @ own) for way, pulls in ends for spot, own in pulls.items())
    size = math.sqrt(sum(float((own**2).sum()) for own in pull.values()))
    return _figure(length, sigma, NSSDA_95 * size)
