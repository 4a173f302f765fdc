"""A scan of a hole cut into floor, faces and ground: shots as a crew would have taken them.

Along each side of the dig line the scan is looked at in slices. In a slice the lower part of the
face, carried down to the floor, gives the toe; its upper part, carried up to the ground, the top.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from itertools import pairwise

import numpy as np
import shapely

from terrain.asdug.ring import Sides, along_sides
from terrain.asdug.told_apart import Kind
from terrain.asdug.walls import on_line
from terrain.base.arrays import FloatArray, IntArray

LOWER, UPPER = (0.1, 0.45), (0.55, 0.95)
"""Shares of the depth between which the lower and the upper part of a face are looked at."""
BANDS = (0.1, 0.3, 0.5, 0.7, 0.9)
FEWEST_IN_SLICE, MOST_ROUNDS = 3, 12
PLUMB = 0.05
"""Run per rise below which a face counts as plumb: toe and top then share a spot."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ScanAsked:
    """What to cut a scan by, in length units. All of it our choice.

    Args:
        floor: elevation of the design's floor.
        reach: how far in from the dig line a face may stand.
        slice: how far apart the slices of a side are; `cell` is the width of a cell of floor.
        ground: heights of the existing ground at places (n, 2).
    """

    floor: float
    reach: float
    slice: float
    cell: float
    ground: Callable[[FloatArray], FloatArray]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Slice:
    """A slice of a side at `along`: how far out its toe and top are, how deep it is at the top;
    bands of the face (n, 2), how far out and how high above the floor.
    """

    along: float
    toe: float
    top: float
    deep: float
    bands: FloatArray


def scan_cut(points: FloatArray, sides: Sides, asked: ScanAsked) -> tuple[FloatArray, IntArray]:
    """Shots (m, 3) and their kind (m,) out of a scan (n, 3), in the local frame.

    Toes and tops stand at each slice and at the corners, where the straight lines of two sides
    meet; the floor is the median point of each cell within the toes. A side that shows no face has
    no toe. Nothing of the hole at all: no shots.
    """
    points = points[_near(points, sides, asked)]
    depth = asked.ground(points[:, :2]) - asked.floor
    share = (points[:, 2] - asked.floor) / np.maximum(depth, 1e-9)
    ring = shapely.Polygon(sides.start)
    inside = shapely.contains_xy(ring.buffer(-asked.reach), points[:, 0], points[:, 1])
    level = np.flatnonzero(inside & (share < 0.5))
    if len(level) < FEWEST_IN_SLICE:
        return np.zeros((0, 3)), np.zeros(0, dtype=np.int32)
    cells = _medians(points[level], asked.cell)
    face = np.flatnonzero((share > LOWER[0]) & (share < UPPER[1]))
    nearest, _, _ = along_sides(sides, points[face, :2])
    cut = [
        _slices(points[face[nearest == k]], share[face[nearest == k]], sides, k, asked)
        for k in range(len(sides))
    ]
    toes, tops, faces = _rings(cut, sides, asked, cells)
    if len(toes) > 2:
        held = shapely.Polygon(toes[:, :2])
        if held.is_valid:
            within = held.buffer(-asked.cell / 2)
            own = shapely.contains_xy(within, points[:, 0], points[:, 1]) & (share < 0.5)
            cells = _medians(points[own], asked.cell)
    every = (cells, toes, tops, faces)
    kinds = (Kind.FLOOR, Kind.TOE, Kind.TOP, Kind.FACE)
    kind = np.repeat(np.array(kinds, dtype=np.int32), [len(one) for one in every])
    return np.concatenate(every), kind


def _near(points: FloatArray, sides: Sides, asked: ScanAsked) -> IntArray:
    """The points that a hole may have: as far out as it is deep, thrice."""
    low, high = sides.start.min(axis=0), sides.start.max(axis=0)
    heights = asked.ground(np.concatenate([sides.start, (low + high)[None] / 2]))
    margin = asked.reach + 3.0 * max(float(np.nanmax(heights)) - asked.floor, asked.reach)
    held = ((points[:, :2] > low - margin) & (points[:, :2] < high + margin)).all(axis=1)
    return np.flatnonzero(held)


def _medians(points: FloatArray, cell: float) -> FloatArray:
    """Of each cell in plan the middle of its points and their median height."""
    place = np.floor(points[:, :2] / cell).astype(np.int64)
    _, own, count = np.unique(place, axis=0, return_inverse=True, return_counts=True)
    order = np.lexsort([points[:, 2], own.ravel()])
    first = np.concatenate([[0], np.cumsum(count)[:-1]])
    low, high = order[first + (count - 1) // 2], order[first + count // 2]
    height = (points[low, 2] + points[high, 2]) / 2
    plan = [np.bincount(own.ravel(), points[:, k]) / count for k in range(2)]
    return np.column_stack([*plan, height])


def _slices(
    points: FloatArray, share: FloatArray, sides: Sides, k: int, asked: ScanAsked
) -> list[_Slice]:
    step, length = sides.end[k] - sides.start[k], float(sides.length[k])
    away = points[:, :2] - sides.start[k]
    along = away @ step / length
    out = (away[:, 0] * step[1] - away[:, 1] * step[0]) / length
    own = np.flatnonzero((out > -asked.reach) & (along > 0.0) & (along < length))
    along, out, height, part = along[own], out[own], points[own, 2] - asked.floor, share[own]
    count = max(2, int(length // asked.slice))
    edges = np.linspace(0.0, length, count + 1)
    found = []
    for low, high in pairwise(edges.tolist()):
        here = np.flatnonzero((along >= low) & (along < high))
        foot = sides.start[k] + (low + high) / 2 * step / length
        normal = np.array([step[1], -step[0]]) / length
        one = _slice(
            (out[here], height[here], part[here]),
            (low + high) / 2,
            partial(_deep, asked, foot, normal),
        )
        if one is not None:
            found.append(one)
    return found


def _deep(asked: ScanAsked, foot: FloatArray, normal: FloatArray, out: float) -> float:
    """How deep the floor lies below the ground so far out of a spot on the dig line."""
    return float(asked.ground((foot + out * normal)[None])[0]) - asked.floor


def _slice(
    points: tuple[FloatArray, FloatArray, FloatArray], along: float, deep: Callable[[float], float]
) -> _Slice | None:
    """A slice from how far out, how high and at what share of the depth its points lie."""
    out, height, share = points
    lower = (share >= LOWER[0]) & (share < LOWER[1])
    upper = (share >= UPPER[0]) & (share < UPPER[1])
    if lower.sum() < FEWEST_IN_SLICE:
        return None
    toe, lean = _climbing(height[lower], out[lower])
    top = toe
    if upper.sum() >= FEWEST_IN_SLICE:
        at_floor, lean = _climbing(height[upper], out[upper])
        top = _daylight(at_floor, lean, deep)
    if not top - toe >= PLUMB * deep(toe):
        top = toe
    bands = [
        (np.median(out[here]), np.median(height[here]))
        for here in ((share >= low) & (share < high) for low, high in pairwise(BANDS))
        if here.any()
    ]
    depth = max(deep(top), 1e-9)
    return _Slice(along=along, toe=toe, top=top, deep=depth, bands=np.array(bands))


def _daylight(at_floor: float, lean: float, deep: Callable[[float], float]) -> float:
    """How far out a face comes to the ground, found by going there again and again."""
    out = at_floor
    for _ in range(MOST_ROUNDS):
        out = at_floor + lean * deep(out)
    return out


def _climbing(height: FloatArray, out: FloatArray) -> tuple[float, float]:
    """How far out the straight line through points of a face is at the floor, and how much farther
    for each unit of height, by medians.
    """
    some = np.linspace(0, len(out) - 1, min(len(out), 60)).astype(np.int64)
    order = some[np.argsort(height[some], kind="stable")]
    first, last = np.triu_indices(len(order), 1)
    rise = height[order[last]] - height[order[first]]
    apart = rise > 0.25 * max(float(np.ptp(height)), 1e-9)
    slope = 0.0
    if apart.any():
        slope = float(np.median((out[order[last]] - out[order[first]])[apart] / rise[apart]))
    return float(np.median(out - slope * height)), slope


def _rings(
    cut: list[list[_Slice]], sides: Sides, asked: ScanAsked, cells: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Toes, tops and shots of faces, side by side from each side's first corner on."""
    along = (sides.end - sides.start) / sides.length[:, None]
    normal = np.column_stack([along[:, 1], -along[:, 0]])
    lines = [_line(own) for own in cut]
    toes, tops, faces = list[FloatArray](), list[FloatArray](), list[FloatArray]()
    for k, own in enumerate(cut):
        before = cut[k - 1]
        if lines[k] is not None and lines[k - 1] is not None:
            corner = _meeting(sides, (k - 1, k), (lines[k - 1], lines[k]))
            if corner is not None:
                toes.append(corner)
                tops.append(_corner_top(corner, (before[-1], own[0]), normal[[k - 1, k]], asked))
        for one in own:
            foot = sides.start[k] + one.along * along[k]
            toes.append(foot + one.toe * normal[k])
            tops.append(foot + one.top * normal[k])
            plan = foot + one.bands[:, :1] * normal[k]
            faces.append(np.column_stack([plan, asked.floor + one.bands[:, 1]]))
    if not toes:
        return np.zeros((0, 3)), np.zeros((0, 3)), np.zeros((0, 3))
    toe, top = np.array(toes), np.array(tops)
    near = np.hypot(*np.moveaxis(toe[:, None] - cells[None, :, :2], 2, 0)).argsort(axis=1)[:, :3]
    level = np.median(cells[near, 2], axis=1)
    return (
        np.column_stack([toe, level]),
        np.column_stack([top, asked.ground(top)]),
        np.concatenate(faces),
    )


def _corner_top(
    toe: FloatArray, beside: tuple[_Slice, _Slice], normals: FloatArray, asked: ScanAsked
) -> FloatArray:
    """Where the edge between two faces comes to the ground: both lean as in the slice beside."""
    lean = np.array([(one.top - one.toe) / one.deep for one in beside])
    way = np.linalg.solve(normals, lean)
    top = toe
    for _ in range(MOST_ROUNDS):
        top = toe + way * (float(asked.ground(top[None])[0]) - asked.floor)
    return top


def _line(own: list[_Slice]) -> tuple[float, float] | None:
    """Out and slope of the straight line through a side's toes, along from its first corner."""
    if len(own) < 2:
        return None
    along, toe = np.array([one.along for one in own]), np.array([one.toe for one in own])
    held = on_line(along, toe, None)
    slope, out = np.polyfit(along[held], toe[held], 1)
    return float(out), float(slope)


def _meeting(
    sides: Sides,
    pair: tuple[int, int],
    lines: tuple[tuple[float, float] | None, tuple[float, float] | None],
) -> FloatArray | None:
    """Where the toe lines of two sides meet; None where they run on straight."""
    spots, ways = [], []
    for k, line in zip(pair, lines, strict=True):
        if line is None:
            return None
        along = (sides.end[k] - sides.start[k]) / sides.length[k]
        normal = np.array([along[1], -along[0]])
        spots.append(sides.start[k] + line[0] * normal)
        ways.append(along + line[1] * normal)
    cross = ways[0][0] * ways[1][1] - ways[0][1] * ways[1][0]
    if abs(cross) < 0.05:
        return None
    gap = spots[1] - spots[0]
    meeting: FloatArray = spots[0] + ways[0] * (gap[0] * ways[1][1] - gap[1] * ways[1][0]) / cross
    return meeting
