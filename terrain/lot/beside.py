"""Finished and existing ground a hair beside lines in plan, where either may jump."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from terrain.base.arrays import FloatArray, IntArray
from terrain.lot.finish import Finished
from terrain.surface.patches import Surface
from terrain.surface.segments import segments_over

HAIR = 1e-9
"""How far beside a line one looks, as a share of the extent of all lines."""

SAME_STATION = 1e-12


@dataclass(frozen=True, slots=True, kw_only=True)
class Beside:
    """Straight pieces of ground beside lines, in order along each, every value at both ends.

    Args:
        line: (n,) which line.
        station: (n, 2) where each piece begins and ends, 0 at the line's first end, 1 at its last.
        existing, finished: (n, 2) the two heights over the line itself, carried on from beside it.
        cause: (n,) whose limit holds the finished ground, an index into the lot's causes; where
            the existing ground stays, whose lower limit lies under it.
    """

    line: IntArray
    station: FloatArray
    existing: FloatArray
    finished: FloatArray
    cause: IntArray


@dataclass(frozen=True, slots=True)
class _Pieces:
    """One surface along one line: where each piece lies, its heights at both ends of the line."""

    start: FloatArray
    end: FloatArray
    ends: FloatArray
    label: IntArray

    def over(self, stations: FloatArray) -> IntArray:
        """The piece over each station, -1 where there is none."""
        if not len(self.start):
            return np.full(len(stations), -1)
        piece = np.searchsorted(self.start, stations, side="right") - 1
        return np.where((piece >= 0) & (stations < self.end[piece]), piece, -1)


def ground_beside(ground: Surface, lot: Finished, lines: FloatArray, side: FloatArray) -> Beside:
    """Existing and finished ground on one side of lines (n, 2, 2), where there are both.

    Args:
        ground: the existing ground.
        lot: the finished lot.
        lines: from one end to the other.
        side: (n, 2) unit vectors towards the side that is looked at.
    """
    extent = float(np.ptp(lines.reshape(-1, 2), axis=0).max(initial=0.0)) + 1.0
    shifted = lines + HAIR * extent * side[:, None, :]
    parts = [_along(surface, lines, shifted) for surface in (ground, lot.lower, lot.upper)]
    rows = [_held(line, [p[line] for p in parts]) for line in range(len(lines))]
    table = np.concatenate([np.zeros((0, 8)), *rows])
    return Beside(
        line=table[:, 0].astype(np.int32),
        station=table[:, 1:3],
        existing=table[:, 3:5],
        finished=table[:, 5:7],
        cause=table[:, 7].astype(np.int32),
    )


def _along(surface: Surface, lines: FloatArray, shifted: FloatArray) -> list[_Pieces]:
    """The surface along each of the shifted lines, its planes taken over the lines themselves."""
    level = np.zeros((*shifted.shape[:2], 1))
    found = segments_over(surface, np.concatenate([shifted, level], axis=2))
    plane = surface.plane[found.face][:, None, :]
    away = lines[found.segment] - plane[:, :, :2]
    ends = plane[:, :, 2] + np.sum(plane[:, :, 3:] * away, axis=2)
    first = np.searchsorted(found.segment, np.arange(len(lines) + 1))
    return [
        _Pieces(found.start[a:b], found.end[a:b], ends[a:b], surface.label[found.face[a:b]])
        for a, b in pairwise(first.tolist())
    ]


def _held(line: int, parts: list[_Pieces]) -> FloatArray:
    """Rows (n, 8) of `Beside` along one line, split where the ground meets a limit."""
    ends = [e for p in parts for e in (p.start, p.end)]
    breaks = np.unique(np.concatenate([[0.0, 1.0], *ends]))
    low, high = breaks[:-1], breaks[1:]
    on = [p.over((low + high) / 2) for p in parts]
    kept = (np.min(on, axis=0) >= 0) & (high - low >= SAME_STATION)
    low, high, on = low[kept], high[kept], [piece[kept] for piece in on]
    ground, lower, upper = (p.ends[k] for p, k in zip(parts, on, strict=True))
    crossings = [_crossing(limit - ground, low, high) for limit in (lower, upper)]
    stations = np.sort(np.column_stack([low, *crossings, high]), axis=1)
    rows = []
    for first, last in pairwise(stations.T):
        station = np.column_stack([first, last])
        here, least, most = (
            (1 - station) * v[:, :1] + station * v[:, 1:] for v in (ground, lower, upper)
        )
        held = np.minimum(np.maximum(here, least), most)
        is_cut = (held < here).any(axis=1)
        cause = np.where(is_cut, parts[2].label[on[2]], parts[1].label[on[1]])
        own = last - first > SAME_STATION
        which = np.full(len(first), float(line))
        rows.append(np.column_stack([which, station, here, held, cause])[own])
    table = np.concatenate(rows)
    return np.asarray(table[np.argsort(table[:, 1], kind="stable")])


def _crossing(difference: FloatArray, low: FloatArray, high: FloatArray) -> FloatArray:
    """Where a difference (n, 2), linear along the line, is nought between two stations, or low."""
    fall = difference[:, 0] - difference[:, 1]
    with np.errstate(divide="ignore", invalid="ignore"):
        at = difference[:, 0] / fall
    return np.where((at > low) & (at < high), at, low)
