"""The triangles themselves: constrained Delaunay over points whose lines are settled."""

from typing import Any

import numpy as np
import pythoncdt as cdt
import shapely
from numpy.typing import NDArray

from terrain.base.arrays import BoolArray, FloatArray, IntArray
from terrain.base.errors import SurfaceError
from terrain.surface.hilbert import hilbert_order
from terrain.surface.kernel import compiled
from terrain.surface.tin_record import Tin

OUTER_CORNERS = 3  # pythoncdt puts the corners of a triangle about everything before our points
SLIVER = 1e-12
"""Height over longest side at which a triangle on the rim is no ground but rounding."""


def triangulate(points: FloatArray, shot: IntArray, edges: IntArray) -> Tin:
    """The constrained Delaunay TIN of `points` (n, 3) with `edges` (k, 2) over their whole hull.

    No two points may share a spot; edges may not cross, nor pass through points other than their
    ends. Of four points on a circle either diagonal may come out.

    Raises:
        SurfaceError: the points and edges are not so.
    """
    order = hilbert_order(points[:, :2])
    rank = np.empty(len(order), dtype=np.int32)
    rank[order] = np.arange(len(order), dtype=np.int32)
    points, shot = np.ascontiguousarray(points[order]), shot[order]
    del order  # what a million points don't need any more is let go before the triangles come
    fixed = np.sort(rank[edges].reshape(-1, 2), axis=1)
    del rank
    corners, neighbours = _delaunay(np.ascontiguousarray(points[:, :2]), fixed)
    kept = np.empty(len(corners), dtype=np.bool_)
    _keep_ground(points, corners, neighbours, kept)
    tin = Tin(points=points, triangles=corners, neighbours=neighbours, shot=shot, fixed=fixed)
    return keep_triangles(tin, kept)


def _delaunay(plan: FloatArray, fixed: IntArray) -> tuple[IntArray, IntArray]:
    """Triangles and neighbours over points -3 .. n - 1, the first three far outside.

    The hull's edges are asked for like lines, so that no thin triangle on the rim is lost to the
    outer triangle's corners.
    """
    builder = cdt.Triangulation(
        cdt.VertexInsertionOrder.AUTO, cdt.IntersectingConstraintEdges.NOT_ALLOWED, 0.0
    )
    try:
        builder.insert_vertices(_buffer(plan))
        rim = builder.triangles_array(copy=False)["vertices"]
        touches = (rim[:, 0] < OUTER_CORNERS) | (rim[:, 1] < OUTER_CORNERS)
        rim = np.unique(rim[touches | (rim[:, 2] < OUTER_CORNERS)])
        rim = rim[rim >= OUTER_CORNERS].astype(np.int64) - OUTER_CORNERS
        asked = np.concatenate([_hull_edges(plan, rim), fixed])
        builder.insert_edges(_buffer(np.ascontiguousarray(asked, dtype=np.uintc)))
    except RuntimeError as error:
        raise SurfaceError(
            f"The shots and lines can't be joined into triangles ({str(error).splitlines()[0]})."
        ) from error
    del plan
    made = builder.triangles_array(copy=False)
    corners = made["vertices"].astype(np.int32) - OUTER_CORNERS
    return corners, made["neighbors"].astype(np.int32)


def _buffer(array: NDArray[Any]) -> Any:
    """The array, whose buffer protocol type stubs do not know of before Python 3.12."""
    return array


def _hull_edges(plan: FloatArray, rim: NDArray[np.int64]) -> NDArray[np.int64]:
    """The sides (k, 2) of the convex hull, as indices of `plan`, whose corners are among `rim`."""
    hull = shapely.convex_hull(shapely.MultiPoint(plan[rim]))
    spots = {(east, north): at for (east, north), at in zip(plan[rim].tolist(), rim, strict=True)}
    ring = [spots[east, north] for east, north in shapely.get_coordinates(hull).tolist()]
    return np.array([ring[:-1], ring[1:]], dtype=np.int64).T


@compiled
def _height_over_longest(points: FloatArray, corners: IntArray) -> tuple[float, int]:
    """A triangle's least height over its longest side, negative if wound wrong, and that side."""
    most, longest = 0.0, 0
    for k in range(3):
        a, b = corners[k], corners[(k + 1) % 3]
        length = (points[b, 0] - points[a, 0]) ** 2 + (points[b, 1] - points[a, 1]) ** 2
        if length > most:
            most, longest = length, k
    a, b, c = corners[longest], corners[(longest + 1) % 3], corners[(longest + 2) % 3]
    # from the corner opposite the longest side the differences are the smallest
    area = (points[a, 0] - points[c, 0]) * (points[b, 1] - points[c, 1])
    area -= (points[a, 1] - points[c, 1]) * (points[b, 0] - points[c, 0])
    return area / most, longest


@compiled
def _lowest(corners: IntArray, t: int) -> int:
    """The lowest corner of a triangle."""
    lowest: int = min(corners[t, 0], corners[t, 1], corners[t, 2])
    return lowest


@compiled
def _keep_ground(
    points: FloatArray, corners: IntArray, neighbours: IntArray, kept: BoolArray
) -> None:
    """Mark the triangles between our own points, but for rounding slivers peeled off the rim."""
    stack = np.empty(3 * corners.shape[0], dtype=np.int64)
    waiting = 0
    for t in range(corners.shape[0]):
        kept[t] = _lowest(corners, t) >= 0
    for t in range(corners.shape[0]):
        if kept[t]:
            for k in range(3):
                if not kept[neighbours[t, k]]:
                    stack[waiting] = t
                    waiting += 1
                    break
    while waiting:
        waiting -= 1
        t = stack[waiting]
        if not kept[t]:
            continue
        height, longest = _height_over_longest(points, corners[t])
        open_sides = 0
        for k in range(3):
            open_sides += not kept[neighbours[t, k]]
        if height < SLIVER and open_sides == 1 and not kept[neighbours[t, longest]]:
            kept[t] = False
            for k in range(3):
                if k != longest:
                    stack[waiting] = neighbours[t, k]
                    waiting += 1


@compiled
def _order_by_first_point(corners: IntArray, kept: BoolArray, count: int, order: IntArray) -> None:
    """Fill `order` with the kept triangles, sorted by their lowest corner (a counting sort)."""
    start = np.zeros(count + 1, dtype=np.int64)
    for t in range(corners.shape[0]):
        if kept[t]:
            start[_lowest(corners, t) + 1] += 1
    for i in range(count):
        start[i + 1] += start[i]
    for t in range(corners.shape[0]):
        if kept[t]:
            first = _lowest(corners, t)
            order[start[first]] = t
            start[first] += 1


@compiled
def _renumber(
    corners: IntArray,
    neighbours: IntArray,
    order: IntArray,
    new_corners: IntArray,
    new_neighbours: IntArray,
) -> None:
    """Write the triangles of `order` with neighbours renumbered, -1 for those left out."""
    number = np.full(corners.shape[0], -1, dtype=np.int32)
    for i in range(order.size):
        number[order[i]] = i
    for i in range(order.size):
        for k in range(3):
            new_corners[i, k] = corners[order[i], k]
            across = neighbours[order[i], k]
            new_neighbours[i, k] = number[across] if across >= 0 else -1


def keep_triangles(tin: Tin, kept: BoolArray) -> Tin:
    """The TIN with only the triangles where `kept` (m,) holds, in the order of their points."""
    order = np.empty(np.count_nonzero(kept), dtype=np.int32)
    _order_by_first_point(tin.triangles, kept, len(tin.points), order)
    corners = np.empty((len(order), 3), dtype=np.int32)
    neighbours = np.empty((len(order), 3), dtype=np.int32)
    _renumber(tin.triangles, tin.neighbours, order, corners, neighbours)
    return Tin(
        points=tin.points,
        triangles=corners,
        neighbours=neighbours,
        shot=tin.shot,
        fixed=tin.fixed,
        notes=tin.notes,
    )
