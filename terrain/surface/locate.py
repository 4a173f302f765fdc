"""Which triangle lies under a plan point, found through a grid of buckets."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from terrain.base.arrays import FloatArray, IntArray
from terrain.surface.compiled import Four, compiled
from terrain.surface.tin_record import Tin

Buckets = tuple[FloatArray, float, int, int, NDArray[np.int64], IntArray]
"""A `TriangleGrid` as kernels take it."""

ON_EDGE = 1e-9
"""Length units by which a point may lie outside a triangle and still be on its edge."""

FEW = 0.2
"""Where points lie among so small a share of the triangles, buckets are laid over these alone."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TriangleGrid:
    """Square buckets over a TIN: `item[start[c]:start[c + 1]]` are triangles that touch bucket c.

    Bucket c is row `c // columns` from `low` northward, column `c % columns` eastward.
    """

    low: FloatArray
    cell: float
    columns: int
    rows: int
    start: NDArray[np.int64]
    item: IntArray

    @property
    def arrays(self) -> Buckets:
        """The same as kernels take it."""
        return self.low, self.cell, self.columns, self.rows, self.start, self.item


@compiled
def _fill_buckets(
    points: FloatArray,
    triangles: IntArray,
    place: tuple[float, float, float, int, int],
    start: NDArray[np.int64],
    item: IntArray,
) -> None:
    """Write each triangle into the buckets it touches, moving their `start` on.

    With no room in `item` they are only counted. `place` is the west and south of the buckets,
    their size and how many columns and rows. Row by row of buckets the triangle's span is that
    of its sides clipped to the row.
    """
    west, south, cell, columns, rows = place
    counting = item.size == 0
    margin = 1e-9 * cell
    for t in range(triangles.shape[0]):
        down, up = np.inf, -np.inf
        for k in range(3):
            northing = points[triangles[t, k], 1]
            down, up = min(down, northing), max(up, northing)
        first = max(int((down - margin - south) / cell), 0)
        last = min(int((up + margin - south) / cell), rows - 1)
        for row in range(first, last + 1):
            bottom = south + row * cell - margin
            top = south + (row + 1) * cell + margin
            left, right = np.inf, -np.inf
            for k in range(3):
                a, b = triangles[t, k], triangles[t, (k + 1) % 3]
                e0, n0, e1, n1 = points[a, 0], points[a, 1], points[b, 0], points[b, 1]
                if n0 > n1:
                    e0, n0, e1, n1 = e1, n1, e0, n0
                if n1 < bottom or n0 > top:
                    continue
                if n0 < bottom:
                    e0 += (e1 - e0) * ((bottom - n0) / (n1 - n0))
                    n0 = bottom
                if n1 > top:
                    e1 = e0 + (e1 - e0) * ((top - n0) / (n1 - n0))
                left, right = min(left, e0, e1), max(right, e0, e1)
            if left > right:
                continue
            begin = max(int((left - margin - west) / cell), 0)
            end = min(int((right + margin - west) / cell), columns - 1)
            for column in range(begin, end + 1):
                bucket = row * columns + column
                if not counting:
                    item[start[bucket]] = t
                start[bucket] += 1


def triangle_grid(tin: Tin) -> TriangleGrid:
    """Buckets of about one triangle each over all of the TIN."""
    corners = tin.points[:, :2]
    low, high = corners.min(axis=0), corners.max(axis=0)
    extent = np.maximum(high - low, 1e-9 * float((high - low).max()))
    cell = float(np.sqrt(extent[0] * extent[1] / max(len(tin), 1)))
    cell = max(cell, float(extent.max()) / 4096)
    columns, rows = (int(side // cell) + 1 for side in extent)
    count = np.zeros(columns * rows + 1, dtype=np.int64)
    place = (float(low[0]), float(low[1]), cell, columns, rows)
    _fill_buckets(tin.points, tin.triangles, place, count, np.zeros(0, dtype=np.int32))
    start = np.concatenate([[0], np.cumsum(count[:-1])])
    item = np.empty(int(start[-1]), dtype=np.int32)
    writing = start.copy()
    _fill_buckets(tin.points, tin.triangles, place, writing, item)
    return TriangleGrid(low=low, cell=cell, columns=columns, rows=rows, start=start, item=item)


@compiled
def _find(
    points: FloatArray, triangles: IntArray, plan: FloatArray, grid: Buckets, found: IntArray
) -> None:
    """The triangle each plan point is deepest inside of, -1 where none holds it."""
    low, cell, columns, rows, start, item = grid
    for i in range(plan.shape[0]):
        found[i] = -1
        east, north = (plan[i, 0] - low[0]) / cell, (plan[i, 1] - low[1]) / cell
        if not (-1.0 < east < columns + 1.0 and -1.0 < north < rows + 1.0):
            continue
        column = min(max(int(east), 0), columns - 1)
        row = min(max(int(north), 0), rows - 1)
        best = -ON_EDGE
        for at in range(start[row * columns + column], start[row * columns + column + 1]):
            depth = np.inf
            for k in range(3):
                a, b = triangles[item[at], k], triangles[item[at], (k + 1) % 3]
                along_e, along_n = points[b, 0] - points[a, 0], points[b, 1] - points[a, 1]
                left = along_e * (plan[i, 1] - points[a, 1]) - along_n * (plan[i, 0] - points[a, 0])
                depth = min(depth, left / np.hypot(along_e, along_n))
            if depth >= best:
                best, found[i] = depth, item[at]


@compiled
def _touching(points: FloatArray, triangles: IntArray, box: Four) -> NDArray[np.int64]:
    """The triangles whose own box touches one (west, south, east, north), in their order."""
    west, south, east, north = box
    near = np.empty(len(triangles), np.int64)
    count = 0
    for t in range(len(triangles)):
        a, b, c = triangles[t, 0], triangles[t, 1], triangles[t, 2]
        near[count] = t
        count += (
            (min(points[a, 0], points[b, 0], points[c, 0]) <= east)
            & (max(points[a, 0], points[b, 0], points[c, 0]) >= west)
            & (min(points[a, 1], points[b, 1], points[c, 1]) <= north)
            & (max(points[a, 1], points[b, 1], points[c, 1]) >= south)
        )
    return near[:count].copy()


def triangles_at(tin: Tin, plan: FloatArray, grid: TriangleGrid | None = None) -> IntArray:
    """The triangle (k,) int32 under each plan point (k, 2), -1 where there is no ground."""
    plan = np.ascontiguousarray(plan, dtype=np.float64).reshape(-1, 2)
    found = np.full(len(plan), -1, dtype=np.int32)
    if grid is None and len(plan):
        low, high = plan.min(axis=0) - ON_EDGE, plan.max(axis=0) + ON_EDGE
        near = _touching(tin.points, tin.triangles, (low[0], low[1], high[0], high[1]))
        if len(near) == 0:
            return found
        if len(near) < FEW * len(tin):  # buckets over all of a large TIN take longer than a look
            corners, triangles = np.unique(tin.triangles[near], return_inverse=True)
            triangles = triangles.reshape(-1, 3).astype(np.int32)
            part = replace(tin, points=tin.points[corners], triangles=triangles)
            _find(part.points, part.triangles, plan, triangle_grid(part).arrays, found)
            return np.append(near, -1)[found].astype(np.int32)
    grid = grid or triangle_grid(tin)
    _find(tin.points, tin.triangles, plan, grid.arrays, found)
    return found


def heights_at(tin: Tin, plan: FloatArray, grid: TriangleGrid | None = None) -> FloatArray:
    """The ground's elevation (k,) at plan points (k, 2), NaN where there is no ground."""
    plan = np.asarray(plan, dtype=np.float64).reshape(-1, 2)
    found = triangles_at(tin, plan, grid)
    a, b, c = (tin.points[tin.triangles[found, k]] for k in range(3))
    ab, ac, ap = b - a, c - a, plan - a[:, :2]
    twice_area = ab[:, 0] * ac[:, 1] - ab[:, 1] * ac[:, 0]
    to_b = (ap[:, 0] * ac[:, 1] - ap[:, 1] * ac[:, 0]) / twice_area
    to_c = (ab[:, 0] * ap[:, 1] - ab[:, 1] * ap[:, 0]) / twice_area
    height = a[:, 2] + to_b * ab[:, 2] + to_c * ac[:, 2]
    return np.where(found >= 0, height, np.nan)
