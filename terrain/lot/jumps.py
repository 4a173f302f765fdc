"""Where the finished lot does not tie in: vertical faces at the lot line, round areas kept, within.

Heights are signed: along the lot line and round areas kept finished less existing ground, within
the lot always the height of the step.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from terrain.base.arrays import BoolArray, FloatArray, IntArray
from terrain.lot.beside import HAIR, Beside, ground_beside
from terrain.lot.finish import Finished
from terrain.surface.patches import Surface
from terrain.surface.segments import segments_over

ONE_PLACE = 1e-5
"""Ends nearer than this, in length units, are one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Jump:
    """A vertical face from one spot (2,) to another in the local frame, its greatest height."""

    where: str
    start: FloatArray
    end: FloatArray
    height: float


def jumps_of(ground: Surface, lot: Finished, least: float) -> tuple[Jump, ...]:
    """Every stretch along which the finished ground jumps by more than `least` length units."""
    found = list(_along_ring(ground, lot, lot.design.boundary, ("lot line", 1.0, least)))
    for keep in lot.design.keeps:
        found += _along_ring(ground, lot, keep.corners, (f"area {keep.name}", -1.0, least))
    within = list(_within(ground, lot, lot.upper, least))
    lines = [shapely.LineString([j.start, j.end]) for j in within]
    for jump in _within(ground, lot, lot.lower, least):
        middle = shapely.Point((jump.start + jump.end) / 2)
        if not any(shapely.distance(line, middle) < ONE_PLACE for line in lines):
            within.append(jump)
    return (*found, *within)


def _along_ring(
    ground: Surface, lot: Finished, ring: FloatArray, asked: tuple[str, float, float]
) -> Iterator[Jump]:
    """Finished less existing ground along a counter-clockwise ring, looked at from one side.

    `asked` are the name of the ring, the side (1 inside, -1 outside) and the least height.
    """
    where, side, least = asked
    lines = np.stack([ring, np.roll(ring, -1, axis=0)], axis=1)
    beside = ground_beside(ground, lot, lines, side * _left_of(lines))
    change = beside.finished - beside.existing
    pieces = [
        (int(np.sign(height)), start, end, height)
        for start, end, height in _beyond(lines[beside.line], beside.station, change, least)
    ]
    for sign in (1, -1):
        yield from _joined(where, [p[1:] for p in pieces if p[0] == sign])


def _within(ground: Surface, lot: Finished, limit: Surface, least: float) -> Iterator[Jump]:
    """Steps between faces of a limit, each found from its higher side."""
    after = np.arange(1, len(limit.ring) + 1)
    after[limit.start[1:] - 1] = limit.start[:-1]
    lines = np.stack([limit.ring, limit.ring[after]], axis=1)
    long = np.hypot(*(lines[:, 1] - lines[:, 0]).T) > ONE_PLACE
    owner = np.repeat(np.arange(len(limit)), np.diff(limit.start))[long]
    lines = lines[long]
    lines = lines[_parting(limit, lines, owner, least)]
    left = _left_of(lines)
    if not len(lines):
        return
    inner, outer = (ground_beside(ground, lot, lines, side * left) for side in (1.0, -1.0))
    steps: dict[tuple[str, str], list[tuple[FloatArray, FloatArray, float]]] = {}
    for line, station, height, causes in _steps(inner, outer):
        names = sorted(lot.causes[c] for c in causes)
        for start, end, most in _beyond(lines[[line]], station[None], height[None], least):
            if most > 0:
                steps.setdefault((names[0], names[1]), []).append((start, end, most))
    for (one, other), pieces in steps.items():
        where = f"step in {one}" if one == other else f"step between {one} and {other}"
        yield from _joined(where, pieces)


def _parting(limit: Surface, lines: FloatArray, owner: IntArray, least: float) -> BoolArray:
    """Which edges of a limit part faces that differ by more than `least`.

    Where its limits do not jump the ground held between them does not either.
    """
    extent = float(np.ptp(limit.ring, axis=0).max(initial=0.0)) + 1.0
    outside = lines - HAIR * extent * _left_of(lines)[:, None, :]
    level = np.zeros((*lines.shape[:2], 1))
    found = segments_over(limit, np.concatenate([outside, level], axis=2))
    share = np.stack([found.start, found.end], axis=1)[:, :, None]
    spots = (1 - share) * lines[found.segment, :1] + share * lines[found.segment, 1:]
    own, other = (
        plane[:, None, 2] + np.sum(plane[:, None, 3:] * (spots - plane[:, None, :2]), axis=2)
        for plane in (limit.plane[owner[found.segment]], limit.plane[found.face])
    )
    parts = np.zeros(len(lines), dtype=np.bool_)
    parts[found.segment[np.abs(own - other).max(axis=1) > least]] = True
    return parts


def _steps(
    inner: Beside, outer: Beside
) -> Iterator[tuple[int, FloatArray, FloatArray, tuple[int, int]]]:
    """Line, stations, height of inner over outer ground, and both causes, piece by piece."""
    first = np.searchsorted(outer.line, inner.line)
    last = np.searchsorted(outer.line, inner.line, side="right")
    for k in range(len(inner.line)):
        for m in range(first[k], last[k]):
            low = max(inner.station[k, 0], outer.station[m, 0])
            high = min(inner.station[k, 1], outer.station[m, 1])
            if high - low > 0:
                station = np.array([low, high])
                height = _at(inner, k, station) - _at(outer, m, station)
                yield (
                    int(inner.line[k]),
                    station,
                    height,
                    (int(inner.cause[k]), int(outer.cause[m])),
                )


def _at(beside: Beside, piece: int, station: FloatArray) -> FloatArray:
    """Finished ground of one piece at stations on it."""
    low, high = beside.station[piece]
    share = (station - low) / (high - low)
    return np.asarray((1 - share) * beside.finished[piece, 0] + share * beside.finished[piece, 1])


def _left_of(lines: FloatArray) -> FloatArray:
    along = lines[:, 1] - lines[:, 0]
    along = along / np.hypot(along[:, 0], along[:, 1])[:, None]
    return np.column_stack([-along[:, 1], along[:, 0]])


def _beyond(
    lines: FloatArray, stations: FloatArray, heights: FloatArray, least: float
) -> Iterator[tuple[FloatArray, FloatArray, float]]:
    """The parts of pieces that are higher (lower) than `least`: both ends, greatest height."""
    for line, station, height in zip(lines, stations, heights, strict=True):
        for sign in (1.0, -1.0):
            over = sign * height - least
            if (over <= 0).all():
                continue
            ends = [0.0, 1.0]
            if over[0] * over[1] < 0:
                ends[0 if over[0] < 0 else 1] = over[0] / (over[0] - over[1])
            share = station[0] + np.array(ends) * (station[1] - station[0])
            spots = line[0] + share[:, None] * (line[1] - line[0])
            yield spots[0], spots[1], sign * float((sign * height).max())


def _joined(where: str, pieces: list[tuple[FloatArray, FloatArray, float]]) -> Iterator[Jump]:
    """Pieces that touch end to end as one jump, with the greatest height of them."""
    if not pieces:
        return
    places = _as_one(np.array([p[:2] for p in pieces]).reshape(-1, 2)).reshape(-1, 2, 2)
    merged = shapely.line_merge(shapely.MultiLineString(list(places)))
    heights = np.array([p[2] for p in pieces])
    middles = shapely.points(places.mean(axis=1))
    for line in shapely.get_parts(merged):
        own = heights[shapely.distance(middles, line) < 2 * ONE_PLACE]
        if not len(own) or line.length < ONE_PLACE:
            continue
        ends = shapely.get_coordinates(line)
        yield Jump(
            where=where,
            start=ends[0],
            end=ends[-1],
            height=float(own[np.argmax(np.abs(own))]),
        )


def _as_one(spots: FloatArray) -> FloatArray:
    """Spots (n, 2), those in one place moved to the first of them."""
    pairs = cKDTree(spots).query_pairs(ONE_PLACE, output_type="ndarray")
    links = coo_array((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), (len(spots),) * 2)
    _, place = connected_components(links, directed=False)
    _, first = np.unique(place, return_index=True)
    return np.asarray(spots[first[place]])
