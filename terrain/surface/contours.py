"""Lines of equal height on triangles, exact on each plane."""

import math
from dataclasses import dataclass
from typing import Protocol

import numpy as np
import shapely
from numpy.typing import NDArray

from terrain.base.arrays import FloatArray, IntArray
from terrain.surface.compiled import compiled

FEWEST = 8
"""Contours wanted at least between the lowest and the highest point of a ground."""

STEPS = (1.0, 2.0, 5.0)
"""Contour intervals are one of these times a power of ten; common practice, no source."""

SAME_SPOT = 7
"""Decimals of a length unit to which ends of contours are one spot."""

INDEX_EVERY = 5
"""Every fifth contour is drawn heavier; common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Contours:
    """Contours of a ground, higher ground on their left.

    Args:
        interval: height from one to the next, in length units.
        step: (n,) how many intervals each line lies above elevation nought.
        start: (n + 1,) where each line's corners begin in `plan`.
        plan: (k, 2) corners in the local frame; a line that closes repeats its first at its end.
    """

    interval: float
    step: NDArray[np.int64]
    start: NDArray[np.int64]
    plan: FloatArray

    def __len__(self) -> int:
        return len(self.step)

    @property
    def upward(self) -> FloatArray:
        """The elevation (n,) of each line."""
        return _upward(self.step, self.interval)

    def line(self, which: int) -> FloatArray:
        """The corners (m, 2) of one line."""
        return self.plan[self.start[which] : self.start[which + 1]]


class Triangles(Protocol):
    """What contours are drawn on: `points` (n, 3) and `triangles` (m, 3) of their indices."""

    @property
    def points(self) -> FloatArray:
        """Easting, northing and upward of each point."""

    @property
    def triangles(self) -> IntArray:
        """The three points of each triangle, counter-clockwise."""


def usual_interval(tin: Triangles, least: float) -> float:
    """The widest round interval, `least` or more, that gives a ground eight contours or so."""
    wanted = float(np.ptp(tin.points[:, 2][tin.triangles])) / FEWEST
    if wanted <= least:
        return least
    power = 10.0 ** math.floor(math.log10(wanted))
    return max(least, max(step * power for step in STEPS if step * power <= wanted))


def contours(tin: Triangles, interval: float) -> Contours:
    """Every contour of a TIN at whole multiples of `interval`, in length units.

    A point exactly at a contour's height counts as above it, so the contour passes through the
    point, and a level field at that height is bordered where it falls away, not filled.
    """
    face, step = _crossed(tin, interval)
    first, last = _ends(tin, face, _upward(step, interval))
    nodes, number = np.unique(
        np.concatenate([np.column_stack([step, first]), np.column_stack([step, last])]),
        axis=0,
        return_inverse=True,
    )
    number = number.reshape(2, -1)
    plan = _crossings(tin, nodes[:, 1], _upward(nodes[:, 0], interval))
    follows = np.full(len(nodes), -1, dtype=np.int64)
    follows[number[0]] = number[1]
    chain, start = _chained(follows, np.isin(np.arange(len(nodes)), number[1]))
    return _without_repeats(interval, nodes[chain[start[:-1]], 0], start, plan[chain])


def _upward(step: NDArray[np.int64], interval: float) -> FloatArray:
    """Elevations of whole numbers of intervals; 0.1 times three is 0.3, as it is written."""
    per_unit = round(1.0 / interval)
    if per_unit > 1 and math.isclose(per_unit * interval, 1.0, rel_tol=1e-12):
        return np.asarray(step / per_unit)
    return np.asarray(step * interval)


def _crossed(tin: Triangles, interval: float) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Each triangle as often as contours cross it, and which contour."""
    upward = tin.points[tin.triangles, 2]
    low, high = upward.min(axis=1), upward.max(axis=1)
    first = np.floor(low / interval).astype(np.int64)
    first += 1 - (_upward(first, interval) > low) + (_upward(first + 1, interval) <= low)
    last = np.floor(high / interval).astype(np.int64)
    last += (_upward(last + 1, interval) <= high).astype(np.int64) - (
        _upward(last, interval) > high
    )
    count = np.maximum(last - first + 1, 0)
    face = np.repeat(np.arange(len(tin.triangles)), count)
    before = np.cumsum(count) - count
    return face, first[face] + np.arange(len(face)) - before[face]


def _ends(
    tin: Triangles, face: NDArray[np.int64], upward: FloatArray
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """The sides, as keys of their two points, by which a contour enters and leaves a triangle."""
    corners = tin.triangles[face].astype(np.int64)
    above = tin.points[corners, 2] >= upward[:, None]
    after = np.roll(above, -1, axis=1)
    falls, climbs = np.argmax(above & ~after, axis=1), np.argmax(~above & after, axis=1)
    every = np.arange(len(face))

    def key(side: IntArray) -> NDArray[np.int64]:
        a, b = corners[every, side], corners[every, (side + 1) % 3]
        return np.minimum(a, b) * len(tin.points) + np.maximum(a, b)

    return key(falls), key(climbs)


def _crossings(tin: Triangles, side: NDArray[np.int64], upward: FloatArray) -> FloatArray:
    """Where each side (k,) has a height, reckoned from its lower end."""
    a, b = tin.points[side // len(tin.points)], tin.points[side % len(tin.points)]
    lower = (a[:, 2] <= b[:, 2])[:, None]
    low, high = np.where(lower, a, b), np.where(lower, b, a)
    share = (upward - low[:, 2]) / (high[:, 2] - low[:, 2])
    between: FloatArray = low[:, :2] + share[:, None] * (high[:, :2] - low[:, :2])
    return np.asarray(np.where((share == 1.0)[:, None], high[:, :2], between))


@compiled
def _chained(
    follows: NDArray[np.int64], entered: NDArray[np.bool_]
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Nodes in order, line by line, and where each line starts; open lines come first."""
    count = len(follows)
    chain, start = np.empty(2 * count, dtype=np.int64), np.empty(count + 1, dtype=np.int64)
    seen = np.zeros(count, dtype=np.bool_)
    filled, lines = 0, 0
    for wanted in (False, True):
        for begin in range(count):
            if seen[begin] or entered[begin] != wanted:
                continue
            start[lines] = filled
            lines += 1
            node = begin
            while node >= 0 and not seen[node]:
                seen[node] = True
                chain[filled] = node
                filled += 1
                node = follows[node]
            if node == begin:
                chain[filled] = node
                filled += 1
    start[lines] = filled
    return chain[:filled], start[: lines + 1]


def _without_repeats(
    interval: float, step: NDArray[np.int64], start: NDArray[np.int64], plan: FloatArray
) -> Contours:
    """The contours without corners that repeat the one before, and without lines of no length."""
    line = np.repeat(np.arange(len(step)), np.diff(start))
    keep = np.ones(len(plan), dtype=np.bool_)
    keep[1:] = (plan[1:] != plan[:-1]).any(axis=1) | (line[1:] != line[:-1])
    counts = np.bincount(line[keep], minlength=len(step))
    keep &= counts[line] > 1
    lines = np.flatnonzero(counts > 1)
    return Contours(
        interval=interval,
        step=step[lines],
        start=np.concatenate([[0], np.cumsum(counts[lines])]),
        plan=plan[keep],
    )


def joined(drawn: Contours) -> Contours:
    """The same contours with pieces of one height that end on one spot made one line.

    Triangles that do not share whole sides leave a contour in pieces; spots are one to
    `SAME_SPOT` decimals.
    """
    steps, starts, plans = [], [0], [np.zeros((0, 2))]
    rounded = np.round(drawn.plan, SAME_SPOT) + 0.0
    line = np.repeat(np.arange(len(drawn)), np.diff(drawn.start))
    for step in np.unique(drawn.step):
        of_step = drawn.step[line] == step
        pieces = shapely.linestrings(rounded[of_step], indices=_from_nought(line[of_step]))
        merged = shapely.line_merge(shapely.multilinestrings(pieces), directed=True)
        for one in shapely.get_parts(merged):
            corners = shapely.get_coordinates(one)
            steps.append(int(step))
            starts.append(starts[-1] + len(corners))
            plans.append(corners)
    return Contours(
        interval=drawn.interval,
        step=np.array(steps, dtype=np.int64),
        start=np.array(starts, dtype=np.int64),
        plan=np.concatenate(plans),
    )


def _from_nought(index: IntArray) -> IntArray:
    """The same numbers in order, counted from nought without gaps."""
    counted: IntArray = np.unique(index, return_inverse=True)[1]
    return counted
