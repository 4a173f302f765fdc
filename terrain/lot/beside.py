"""Finished and existing ground a hair beside lines in plan, where either may jump."""

from collections.abc import Iterator
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

    def at(self, station: float) -> int | None:
        """The piece over a station, None where there is none."""
        over = np.flatnonzero((self.start < station) & (station < self.end))
        return int(over[0]) if len(over) else None


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
    rows = [row for line in range(len(lines)) for row in _held(line, [p[line] for p in parts])]
    table = np.array(rows, dtype=np.float64).reshape(-1, 8)
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


def _held(line: int, parts: list[_Pieces]) -> Iterator[tuple[float, ...]]:
    """Rows of `Beside` along one line, split where the ground meets a limit."""
    breaks = np.unique(np.concatenate([[0.0, 1.0], *(p.start for p in parts),
                                       *(p.end for p in parts)]))  # fmt: skip
    for low, high in pairwise(breaks.tolist()):
        if high - low < SAME_STATION:
            continue
        on = [k for p in parts if (k := p.at((low + high) / 2)) is not None]
        if len(on) < len(parts):
            continue
        ground, lower, upper = (p.ends[k] for p, k in zip(parts, on, strict=True))
        stations = [low, *_crossings((lower - ground, upper - ground), low, high), high]
        for first, last in pairwise(stations):
            at = np.array([first, last])
            here, least, most = (
                (1 - at) * ends[0] + at * ends[1] for ends in (ground, lower, upper)
            )
            held = np.minimum(np.maximum(here, least), most)
            limit = 2 if (held < here).any() else 1
            cause = float(parts[limit].label[on[limit]])
            yield (line, first, last, *here, *held, cause)


def _crossings(differences: tuple[FloatArray, FloatArray], low: float, high: float) -> list[float]:
    """Stations strictly between two where a linear difference is nought."""
    found = []
    for first, last in differences:
        if first != last:
            at = first / (first - last)
            if low + SAME_STATION < at < high - SAME_STATION:
                found.append(float(at))
    return sorted(found)
