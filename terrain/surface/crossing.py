"""Kernels that find points on edges and edges that cross, in plan."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from terrain.base.arrays import FloatArray, IntArray
from terrain.surface.kernel import compiled
from terrain.surface.tin_record import SNAP


@dataclass(frozen=True, slots=True, kw_only=True)
class Hits:
    """Points on edges: which edge, which point, how far along it from 0 to 1, each (h,)."""

    edge: IntArray
    point: IntArray
    along: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Crossings:
    """Pairs of edges that cross between their ends, and how far along each, all (h,)."""

    first: IntArray
    second: IntArray
    along_first: FloatArray
    along_second: FloatArray


@compiled
def _grown(rows: FloatArray) -> FloatArray:
    longer = np.empty((2 * rows.shape[0], rows.shape[1]))
    longer[: rows.shape[0]] = rows
    return longer


@compiled
def _bucket_points(
    points: FloatArray, low: FloatArray, cell: float, columns: int, rows: int
) -> tuple[NDArray[np.int64], IntArray]:
    """Points sorted by the square bucket they lie in: where each bucket starts, and the points."""
    start = np.zeros(columns * rows + 1, dtype=np.int64)
    bucket = np.empty(points.shape[0], dtype=np.int64)
    for i in range(points.shape[0]):
        column = min(int((points[i, 0] - low[0]) / cell), columns - 1)
        row = min(int((points[i, 1] - low[1]) / cell), rows - 1)
        bucket[i] = row * columns + column
        start[bucket[i] + 1] += 1
    for b in range(columns * rows):
        start[b + 1] += start[b]
    item = np.empty(points.shape[0], dtype=np.int32)
    free = start[:-1].copy()
    for i in range(points.shape[0]):
        item[free[bucket[i]]] = i
        free[bucket[i]] += 1
    return start, item


@compiled
def _points_near_edges(
    points: FloatArray,
    edges: IntArray,
    low: FloatArray,
    shape: tuple[float, int, int],
    snap: float,
) -> FloatArray:
    """Rows (edge, point, along) of the points that lie on edges between their ends.

    Bucket row by bucket row only the buckets an edge runs through are looked at.
    """
    cell, columns, rows = shape
    start, item = _bucket_points(points, low, cell, columns, rows)
    found = np.empty((64, 3))
    count = 0
    for e in range(edges.shape[0]):
        a, b = edges[e, 0], edges[e, 1]
        if points[a, 1] > points[b, 1]:
            a, b = b, a
        de, dn = points[b, 0] - points[a, 0], points[b, 1] - points[a, 1]
        length = np.hypot(de, dn)
        first = max(int((points[a, 1] - snap - low[1]) / cell), 0)
        last = min(int((points[b, 1] + snap - low[1]) / cell), rows - 1)
        for row in range(first, last + 1):
            t0, t1 = 0.0, 1.0
            if dn > snap:
                t0 = max((low[1] + row * cell - snap - points[a, 1]) / dn, 0.0)
                t1 = min((low[1] + (row + 1) * cell + snap - points[a, 1]) / dn, 1.0)
            e0, e1 = points[a, 0] + t0 * de, points[a, 0] + t1 * de
            begin = max(int((min(e0, e1) - 2 * snap - low[0]) / cell), 0)
            end = min(int((max(e0, e1) + 2 * snap - low[0]) / cell), columns - 1)
            for at in range(start[row * columns + begin], start[row * columns + end + 1]):
                p = item[at]
                pe, pn = points[p, 0] - points[a, 0], points[p, 1] - points[a, 1]
                along = (pe * de + pn * dn) / length
                off = abs(de * pn - dn * pe) / length
                if p != a and p != b and off <= snap and snap < along < length - snap:
                    if count == found.shape[0]:
                        found = _grown(found)
                    t = along / length
                    found[count, 0], found[count, 1] = e, p
                    found[count, 2] = t if a == edges[e, 0] else 1.0 - t
                    count += 1
    return found[:count]


def points_on_edges(points: FloatArray, edges: IntArray) -> Hits:
    """Every point within `SNAP` of an edge (k, 2) and farther than that from both its ends."""
    if not len(edges):
        nothing = np.zeros(0, dtype=np.int32)
        return Hits(edge=nothing, point=nothing, along=np.zeros(0))
    low, high = points[:, :2].min(axis=0), points[:, :2].max(axis=0)
    extent = high - low
    cell = float(np.sqrt(extent[0] * extent[1] * 2 / len(points)))
    cell = max(cell, float(extent.max()) / 4096)
    columns, rows = (int(side // cell) + 1 for side in extent)
    found = _points_near_edges(points, edges, low, (cell, columns, rows), SNAP)
    return Hits(
        edge=found[:, 0].astype(np.int32),
        point=found[:, 1].astype(np.int32),
        along=np.ascontiguousarray(found[:, 2]),
    )


@compiled
def _side_of(points: FloatArray, a: int, b: int, c: int) -> float:
    """Twice the area of triangle a, b, c: positive if c lies left of the way from a to b."""
    be, bn = points[b, 0] - points[a, 0], points[b, 1] - points[a, 1]
    ce, cn = points[c, 0] - points[a, 0], points[c, 1] - points[a, 1]
    area: float = be * cn - bn * ce
    return area


@compiled
def _crossing_pairs(
    points: FloatArray, edges: IntArray, order: NDArray[np.int64], boxes: FloatArray
) -> FloatArray:
    """Rows (first, second, along first, along second): a sweep from west to east."""
    found = np.empty((64, 4))
    count = 0
    for i in range(order.size):
        one = order[i]
        a, b = edges[one, 0], edges[one, 1]
        for j in range(i + 1, order.size):
            other = order[j]
            if boxes[other, 0] > boxes[one, 2]:
                break
            if boxes[other, 1] > boxes[one, 3] or boxes[other, 3] < boxes[one, 1]:
                continue
            c, d = edges[other, 0], edges[other, 1]
            if a in (c, d) or b in (c, d):
                continue
            c_side, d_side = _side_of(points, a, b, c), _side_of(points, a, b, d)
            a_side, b_side = _side_of(points, c, d, a), _side_of(points, c, d, b)
            if (c_side > 0) == (d_side > 0) or (a_side > 0) == (b_side > 0):
                continue
            if count == found.shape[0]:
                found = _grown(found)
            found[count, 0], found[count, 1] = one, other
            found[count, 2] = a_side / (a_side - b_side)
            found[count, 3] = c_side / (c_side - d_side)
            count += 1
    return found[:count]


def crossings(points: FloatArray, edges: IntArray) -> Crossings:
    """Every pair of edges (k, 2) that cross, if no end of one lies within `SNAP` of another."""
    ends = points[edges][:, :, :2]
    boxes = np.concatenate([ends.min(axis=1), ends.max(axis=1)], axis=1)
    order: NDArray[np.int64] = np.argsort(boxes[:, 0], kind="stable")
    found = _crossing_pairs(points, edges, order, boxes)
    return Crossings(
        first=found[:, 0].astype(np.int32),
        second=found[:, 1].astype(np.int32),
        along_first=np.ascontiguousarray(found[:, 2]),
        along_second=np.ascontiguousarray(found[:, 3]),
    )
