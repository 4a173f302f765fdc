"""Surfaces along a straight line in plan: heights by station."""

from dataclasses import dataclass

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

    def piece_at(self, stations: FloatArray) -> tuple[IntArray, BoolArray]:
        """Which piece is at each station, and whether one is; only then is its number of use."""
        piece = np.searchsorted(self.low, stations) - 1
        ends = np.append(self.high, -np.inf)  # number -1 is no piece
        return piece, stations < ends[piece]

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


def profile_along(surface: Surface, line: FloatArray, first: float) -> Profile:
    """The surface along one line (2, 2), as `profiles_along`."""
    (profile,) = profiles_along(surface, line[None], np.array([first]))
    return profile


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


def lower_of(first: Profile, second: Profile) -> Profile:
    """The lower of two profiles wherever the first is; alone where the second is not.

    Labels are those of the profile that holds; where both are as low, the first's.
    """
    stations, over, under = common_stretches(first, second)
    heights = [
        np.column_stack([own.heights(piece, stations[:, k]) for k in range(2)])
        for own, piece in ((first, over), (second, under))
    ]
    depth = heights[0] - heights[1]
    crosses = depth[:, 0] * depth[:, 1] < 0
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(crosses, depth[:, 0] / (depth[:, 0] - depth[:, 1]), 1.0)
    label = (first.label[over], second.label[under])
    rows: list[tuple[FloatArray | IntArray, ...]] = []
    for begin, end in ((np.zeros(len(share)), share), (share, np.ones(len(share)))):
        own = end > begin
        ends = np.column_stack([begin, end])[own]
        station, one, two = (
            values[own][:, :1] * (1 - ends) + values[own][:, 1:] * ends
            for values in (stations, *heights)
        )
        lower = two.sum(axis=1) < one.sum(axis=1)
        upward = np.where(lower[:, None], two, one)
        rows.append((*station.T, *upward.T, np.where(lower, label[1][own], label[0][own])))
    return _in_order([*rows, *_alone(first, second)])


def _alone(first: Profile, second: Profile) -> list[tuple[FloatArray | IntArray, ...]]:
    """Rows of the first profile where the second is not."""
    breaks = np.unique(np.concatenate([first.low, first.high, second.low, second.high]))
    low, high = breaks[:-1], breaks[1:]
    middle = (low + high) / 2
    own, alone = first.piece_at(middle)
    alone &= ~second.piece_at(middle)[1]
    if len(breaks):
        alone &= high - low > SAME_STATION * float(np.ptp(breaks))
    low, high, own = low[alone], high[alone], own[alone]
    return [(low, high, first.heights(own, low), first.heights(own, high), first.label[own])]


def _in_order(rows: list[tuple[FloatArray | IntArray, ...]]) -> Profile:
    low, high, upward_low, upward_high, label = (
        np.concatenate(values) for values in zip(*rows, strict=True)
    )
    order = np.argsort(low, kind="stable")
    return Profile(
        low=low[order],
        high=high[order],
        upward_low=upward_low[order],
        upward_high=upward_high[order],
        label=label[order].astype(np.int32),
    )


def common_stretches(ground: Profile, dig: Profile) -> tuple[FloatArray, IntArray, IntArray]:
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
        piece, is_on = profile.piece_at(middle)
        inside &= is_on
        pieces.append(piece)
    return (
        np.column_stack([low, high])[inside],
        pieces[0][inside],
        pieces[1][inside],
    )


def without_repeats(line: FloatArray) -> FloatArray:
    """The line (m, 2) without points at the place of the one before."""
    if len(line) < 2:
        return line
    size = float(np.abs(line).max()) + 1.0
    moved = np.abs(np.diff(line, axis=0)).max(axis=1) > 1e-12 * size
    kept: FloatArray = line[np.concatenate([[True], moved])]
    return kept
