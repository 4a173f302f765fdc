"""Where one profile is above another along a line, and what lies between the two."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby

import numpy as np

from terrain.base.arrays import FloatArray, IntArray
from terrain.surface.profile import Profile, common_stretches, without_repeats

ROUNDING = 1e-12
"""Heights that differ by no more than this part of themselves are one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CutRun:
    """A stretch along which the ground is above the dig, in straight pieces.

    `station` (n, 2), `top` (n, 2) and `bottom` (n, 2) hold each piece's two ends; `label` (n,) is
    the dig's.
    """

    station: FloatArray
    top: FloatArray
    bottom: FloatArray
    label: IntArray

    @property
    def low(self) -> float:
        """Where the run begins."""
        return float(self.station[0, 0])

    @property
    def high(self) -> float:
        """Where the run ends."""
        return float(self.station[-1, 1])

    @property
    def top_at_high(self) -> float:
        """The height of the ground where the run ends."""
        return float(self.top[-1, 1])

    def bottom_line(self) -> FloatArray:
        """The dig (m, 2) along the run, from the ground and back to it."""
        first = [self.station[0, 0], self.top[0, 0]]
        last = [self.station[-1, 1], self.top[-1, 1]]
        return without_repeats(np.vstack([[first], _line(self.station, self.bottom), [last]]))

    def rings(self) -> Iterator[tuple[int, FloatArray]]:
        """The label and the ring (m, 2) of what is dug over each stretch of one label."""
        for label, group in groupby(range(len(self.label)), key=lambda k: int(self.label[k])):
            run = list(group)
            top = _line(self.station[run], self.top[run])
            bottom = _line(self.station[run], self.bottom[run])
            yield label, without_repeats(np.vstack([top, bottom[::-1]]))


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """Ground and dig along a line, and the runs where the ground is above the dig."""

    ground: Profile
    dig: Profile
    runs: tuple[CutRun, ...]


def cut_along(ground: Profile, dig: Profile) -> Cut:
    """The two profiles with the runs where the ground is above the dig, split where they cross."""
    stations, over, under = common_stretches(ground, dig)
    top = np.column_stack([ground.heights(over, stations[:, k]) for k in range(2)])
    bottom = np.column_stack([dig.heights(under, stations[:, k]) for k in range(2)])
    label = dig.label[under]
    depth = top - bottom
    # what rounding leaves between two levels that are one is no cut
    depth[np.abs(depth) <= ROUNDING * (1.0 + np.abs(top))] = 0.0
    rows = []
    for k in range(len(stations)):
        here, there = depth[k]
        if here <= 0 and there <= 0:
            continue
        ends = [0.0, 1.0]
        if here * there < 0:
            ends[0 if here < 0 else 1] = here / (here - there)
        shares = np.array(ends)
        at = [(1 - shares) * v[k, 0] + shares * v[k, 1] for v in (stations, top, bottom)]
        if here * there < 0:  # exactly on the ground where it crosses
            at[2][0 if here < 0 else 1] = at[1][0 if here < 0 else 1]
        rows.append((*at, label[k]))
    return Cut(ground=ground, dig=dig, runs=tuple(_runs(rows)))


def _runs(rows: list[tuple[FloatArray, FloatArray, FloatArray, int]]) -> Iterator[CutRun]:
    """The rows parted where one does not go on from the other."""
    first = 0
    for k in range(1, len(rows) + 1):
        if k < len(rows):
            reach = abs(rows[k][0][0]) + abs(rows[k - 1][0][1]) + 1.0
            touches = rows[k][0][0] - rows[k - 1][0][1] <= 1e-10 * reach
            # two cuts that meet on the ground are two runs
            deep = rows[k][1][0] > rows[k][2][0] or rows[k - 1][1][1] > rows[k - 1][2][1]
            if touches and deep:
                continue
        if k > first:
            station, top, bottom, label = zip(*rows[first:k], strict=True)
            yield CutRun(
                station=np.array(station),
                top=np.array(top),
                bottom=np.array(bottom),
                label=np.array(label),
            )
        first = k


def _line(station: FloatArray, upward: FloatArray) -> FloatArray:
    return np.column_stack([station.ravel(), upward.ravel()])
