"""Surfaces along a straight line in plan: heights by station, and what lies between two of them."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby

import numpy as np

from terrain.base.arrays import BoolArray, FloatArray, IntArray
from terrain.surface.patches import Surface
from terrain.surface.segments import SegmentPieces, segments_over

SAME_STATION = 1e-12
"""Stations nearer than this share of the line are one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Profile:
    """A surface along a line: straight pieces in order, which may jump or leave gaps.

    Args:
        low: (n,) station where each piece begins; `high` where it ends.
        upward_low: (n,) height at the beginning; `upward_high` at the end.
        label: (n,) of the face.
    """

    low: FloatArray
    high: FloatArray
    upward_low: FloatArray
    upward_high: FloatArray
    label: IntArray

    def __len__(self) -> int:
        return len(self.low)

    def at(self, station: float) -> float | None:
        """The height at a station, the lower one at a jump; None where there is no surface."""
        on = (self.low <= station) & (station <= self.high)
        return float(self.heights(on, station).min()) if on.any() else None

    def heights(self, pieces: IntArray | BoolArray, station: FloatArray | float) -> FloatArray:
        """The heights of some pieces at stations on them."""
        low, high = self.low[pieces], self.high[pieces]
        share = (station - low) / (high - low)
        height: FloatArray = (1 - share) * self.upward_low[pieces] + share * (
            self.upward_high[pieces]
        )
        return height

    def between(self, low: float, high: float) -> "Profile":
        """What of the profile lies between two stations."""
        own = (self.high > low) & (self.low < high)
        start, end = np.maximum(self.low[own], low), np.minimum(self.high[own], high)
        return Profile(
            low=start,
            high=end,
            upward_low=self.heights(own, start),
            upward_high=self.heights(own, end),
            label=self.label[own],
        )

    def lines(self) -> tuple[FloatArray, ...]:
        """The profile as polylines (m, 2) of station and height, broken at gaps."""
        near = SAME_STATION * float(np.ptp([self.low, self.high])) if len(self) else 0.0
        breaks = np.flatnonzero(self.low[1:] - self.high[:-1] > near) + 1
        return tuple(
            without_repeats(
                np.stack(
                    [
                        np.column_stack([self.low[run], self.upward_low[run]]),
                        np.column_stack([self.high[run], self.upward_high[run]]),
                    ],
                    axis=1,
                ).reshape(-1, 2)
            )
            for run in np.split(np.arange(len(self)), breaks)
            if len(run)
        )


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


def profiles_along(surface: Surface, lines: FloatArray, first: FloatArray) -> tuple[Profile, ...]:
    """The surface along lines (k, 2, 2) in plan, stations from `first` (k,), in length units.

    Where a line runs along the common edge of two faces that jump, the lower one holds.
    """
    level = float(surface.plane[0, 2]) if len(surface) else 0.0
    ends = np.concatenate([lines, np.full((len(lines), 2, 1), level)], axis=2)
    pieces = segments_over(surface, ends)
    bounds = np.searchsorted(pieces.segment, np.arange(len(lines) + 1))
    lengths = np.hypot(*(lines[:, 1] - lines[:, 0]).T)
    profiles = []
    for k in range(len(lines)):
        low, high, piece = _lowest_pieces(pieces, slice(bounds[k], bounds[k + 1]))
        start, depth = pieces.start[piece], pieces.depth_start[piece]
        rate = (pieces.depth_end[piece] - depth) / (pieces.end[piece] - start)
        profiles.append(
            Profile(
                low=first[k] + low * lengths[k],
                high=first[k] + high * lengths[k],
                upward_low=level - (depth + (low - start) * rate),
                upward_high=level - (depth + (high - start) * rate),
                label=surface.label[pieces.face[piece]],
            )
        )
    return tuple(profiles)


def _lowest_pieces(pieces: SegmentPieces, own: slice) -> tuple[FloatArray, FloatArray, IntArray]:
    """Stretches that do not overlap, as (low, high, piece), each of the lowest of its own there."""
    breaks = np.unique(np.concatenate([pieces.start[own], pieces.end[own]]))
    if len(breaks):
        breaks = breaks[np.concatenate([[True], np.diff(breaks) > SAME_STATION])]
    middle = (breaks[:-1] + breaks[1:]) / 2
    lowest = np.full(len(middle), -np.inf)
    piece = np.full(len(middle), -1)
    for k in range(own.start, own.stop):
        start, end = pieces.start[k], pieces.end[k]
        over = slice(*np.searchsorted(middle, [start, end]))
        share = (middle[over] - start) / (end - start)
        depth = (1 - share) * pieces.depth_start[k] + share * pieces.depth_end[k]
        lower = depth > lowest[over]
        lowest[over] = np.where(lower, depth, lowest[over])
        piece[over] = np.where(lower, k, piece[over])
    kept = piece >= 0
    return breaks[:-1][kept], breaks[1:][kept], piece[kept]


def cut_along(ground: Profile, dig: Profile) -> Cut:
    """The two profiles with the runs where the ground is above the dig, split where they cross."""
    stations, over, under = _common(ground, dig)
    top = np.column_stack([ground.heights(over, stations[:, k]) for k in range(2)])
    bottom = np.column_stack([dig.heights(under, stations[:, k]) for k in range(2)])
    label = dig.label[under]
    depth = top - bottom
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


def _common(ground: Profile, dig: Profile) -> tuple[FloatArray, IntArray, IntArray]:
    """Stretches (n, 2) that lie on one piece of either, and which piece."""
    breaks = np.unique(np.concatenate([ground.low, ground.high, dig.low, dig.high]))
    span = float(np.ptp(breaks)) if len(breaks) else 0.0
    if len(breaks):
        breaks = breaks[np.concatenate([[True], np.diff(breaks) > SAME_STATION * span])]
    low, high = breaks[:-1], breaks[1:]
    middle = (low + high) / 2
    pieces = []
    inside = np.ones(len(middle), dtype=bool)
    for profile in (ground, dig):
        piece = np.searchsorted(profile.low, middle) - 1
        inside &= (piece >= 0) & (middle < profile.high[np.maximum(piece, 0)])
        pieces.append(piece)
    return (
        np.column_stack([low, high])[inside],
        pieces[0][inside],
        pieces[1][inside],
    )


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


def without_repeats(line: FloatArray) -> FloatArray:
    """The line (m, 2) without points at the place of the one before."""
    if len(line) < 2:
        return line
    size = float(np.abs(line).max()) + 1.0
    moved = np.abs(np.diff(line, axis=0)).max(axis=1) > 1e-12 * size
    kept: FloatArray = line[np.concatenate([[True], moved])]
    return kept
