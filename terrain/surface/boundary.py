"""Where the ground ends: cutting it back, its rims, and the pieces it falls into."""

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from terrain.base.arrays import BoolArray, FloatArray, IntArray
from terrain.base.errors import SurfaceError
from terrain.base.frame import LocalFrame
from terrain.surface.kernel import compiled
from terrain.surface.tin_record import GroundNote, LineKind, Tin
from terrain.surface.triangulate import keep_triangles

Ring = tuple[str, LineKind, FloatArray]
"""A closed line in plan: its label, BOUNDARY or HOLE, and its corners (k, 2)."""


def triangle_areas(tin: Tin) -> FloatArray:
    """The plan area (m,) of each triangle."""
    a, b, c = (tin.points[tin.triangles[:, k], :2] for k in range(3))
    ab, ac = b - a, c - a
    area: FloatArray = (ab[:, 0] * ac[:, 1] - ab[:, 1] * ac[:, 0]) / 2
    return area


def boundary_edges(tin: Tin) -> IntArray:
    """The sides (k, 2) with no neighbour, as points from and to, the ground on their left."""
    at = np.flatnonzero(tin.neighbours.ravel() < 0)  # many times quicker than along rows of three
    triangle, side = at // 3, at % 3
    following = (side + 1) % 3
    return np.stack([tin.triangles[triangle, side], tin.triangles[triangle, following]], axis=1)


def boundary_rings(tin: Tin) -> tuple[IntArray, ...]:
    """The rims of the ground, each the points (k,) of a closed ring, the ground on its left.

    Outer rims go counter-clockwise, those of holes clockwise. No ring
    passes through a point twice; where rims touch they are parted there.
    """
    onward: dict[int, list[int]] = {}
    for begin, end in _one_point_a_spot(tin, boundary_edges(tin)).tolist():
        onward.setdefault(begin, []).append(end)
    rings = []
    while onward:
        path = [next(iter(onward))]
        place = {path[0]: 0}
        while True:
            ends = onward[path[-1]]
            point = ends.pop()
            if not ends:
                del onward[path[-1]]
            if point not in place:
                place[point] = len(path)
                path.append(point)
                continue
            loop = path[place[point] :]
            rings.append(np.array(loop, dtype=np.int32))
            path = path[: place[point] + 1]
            place = {p: i for i, p in enumerate(path)}
            if len(path) == 1 and point not in onward:
                break
    return tuple(rings)


def _one_point_a_spot(tin: Tin, edges: IntArray) -> IntArray:
    """The edges (k, 2), one point standing for all on its spot: at a jump there are several."""
    points, where = np.unique(edges, return_inverse=True)
    _, first, spot = np.unique(
        tin.points[points, :2], axis=0, return_index=True, return_inverse=True
    )
    stands: IntArray = points[first[spot]][where].reshape(edges.shape)
    return stands


@compiled
def _mark_fixed_sides(
    triangles: IntArray, keys: NDArray[np.int64], touched: BoolArray, sides: BoolArray
) -> None:
    """Mark the sides whose pair of points, as low * count + high, is among the sorted keys."""
    count = touched.size
    for t in range(triangles.shape[0]):
        for k in range(3):
            a, b = np.int64(triangles[t, k]), np.int64(triangles[t, (k + 1) % 3])
            if touched[a] and touched[b]:
                key = min(a, b) * count + max(a, b)
                at = np.searchsorted(keys, key)
                sides[t, k] = at < keys.size and keys[at] == key


def fixed_sides(tin: Tin) -> BoolArray:
    """Which sides (m, 3) are fixed by a line; side k runs from corner k to corner k + 1."""
    sides = np.zeros((len(tin), 3), dtype=np.bool_)
    if len(tin.fixed):
        touched = np.zeros(len(tin.points), dtype=np.bool_)
        touched[tin.fixed] = True
        low_high = tin.fixed.astype(np.int64)
        keys = np.sort(low_high[:, 0] * len(tin.points) + low_high[:, 1])
        _mark_fixed_sides(tin.triangles, keys, touched, sides)
    return sides


@compiled
def _number_pieces(neighbours: IntArray, closed: BoolArray, piece: IntArray) -> int:
    """Number the triangles that can reach one another over sides that aren't closed."""
    stack = np.empty(3 * piece.size + 1, dtype=np.int64)
    pieces = 0
    for seed in range(piece.size):
        if piece[seed] >= 0:
            continue
        piece[seed] = pieces
        stack[0] = seed
        waiting = 1
        while waiting:
            waiting -= 1
            t = stack[waiting]
            for k in range(3):
                across = neighbours[t, k]
                if across >= 0 and not closed[t, k] and piece[across] < 0:
                    piece[across] = pieces
                    stack[waiting] = across
                    waiting += 1
        pieces += 1
    return pieces


def pieces(tin: Tin, closed: BoolArray | None = None) -> tuple[IntArray, int]:
    """The piece (m,) each triangle belongs to, and how many there are.

    Pieces touch at points at most; sides (m, 3) that are `closed` part them too.
    """
    piece = np.full(len(tin), -1, dtype=np.int32)
    if closed is None:
        closed = np.zeros((len(tin), 3), dtype=np.bool_)
    return piece, int(_number_pieces(tin.neighbours, closed, piece))


def _within(tin: Tin, rings: Sequence[Ring]) -> BoolArray:
    """Which triangles (m,) lie inside a boundary, if there is any, and in no hole.

    The lines part the ground into pieces none of which lies on both sides of a ring; one point of
    each, in its largest triangle, decides.
    """
    piece, count = pieces(tin, fixed_sides(tin))
    order = np.argsort(triangle_areas(tin), kind="stable")
    largest = np.empty(count, dtype=np.int64)
    largest[piece[order]] = order
    middle = tin.points[tin.triangles[largest], :2].mean(axis=1)
    has_boundary = any(kind is LineKind.BOUNDARY for _, kind, _ in rings)
    inside = np.full(count, not has_boundary)
    in_hole = np.zeros(count, dtype=np.bool_)
    for label, kind, plan in rings:
        polygon = shapely.Polygon(plan) if len(plan) > 2 else shapely.Polygon()
        if polygon.is_empty or not polygon.is_valid:
            raise SurfaceError(
                f"The {label} doesn't close round an area: it crosses itself or has fewer than "
                "three corners. Put right the order of its points."
            )
        shapely.prepare(polygon)
        held = shapely.contains_xy(polygon, middle)
        if kind is LineKind.HOLE:
            in_hole |= held
        else:
            inside |= held
    return (inside & ~in_hole)[piece]


@compiled
def _mark_long(points: FloatArray, triangles: IntArray, most: float, kept: BoolArray) -> None:
    for t in range(triangles.shape[0]):
        for k in range(3):
            a, b = triangles[t, k], triangles[t, (k + 1) % 3]
            if np.hypot(points[b, 0] - points[a, 0], points[b, 1] - points[a, 1]) > most:
                kept[t] = False


def cut_back(tin: Tin, rings: Sequence[Ring], max_edge: float | None) -> Tin:
    """The TIN within boundaries, outside holes, without triangles that have too long a side.

    Raises:
        SurfaceError: nothing is left, or a ring is none.
    """
    kept = np.ones(len(tin), dtype=np.bool_)
    if rings:
        kept &= _within(tin, rings)
    if max_edge is not None:
        _mark_long(tin.points, tin.triangles, max_edge, kept)
    if not kept.any():
        raise SurfaceError(
            "No ground is left: max_edge, the boundary and the holes take every triangle away. "
            "Give a longer max_edge, or check that the boundary lies round the shots."
        )
    return tin if kept.all() else keep_triangles(tin, kept)


def piece_notes(tin: Tin, frame: LocalFrame) -> tuple[GroundNote, ...]:
    """Notes on ground that falls apart and on shots no triangle uses."""
    notes = []
    piece, count = pieces(tin)
    if count > 1:
        areas = np.bincount(piece, weights=triangle_areas(tin), minlength=count)
        order = np.argsort(-areas, kind="stable")
        _, first = np.unique(piece, return_index=True)
        spots = frame.to_site(tin.points[tin.triangles[first, 0], :2])
        told = [
            f"{areas[p]:.2f} near easting {spots[p, 0]:.2f}, northing {spots[p, 1]:.2f}"
            for p in order[:5].tolist()
        ]
        more = f" and {count - 5} smaller" if count > 5 else ""
        message = f"The ground falls apart into {count} pieces, of areas {'; '.join(told)}{more}."
        notes.append(GroundNote(code="ground_in_pieces", message=message))
    used = np.zeros(len(tin.points), dtype=np.bool_)
    used[tin.triangles] = True
    unused: NDArray[np.int64] = np.flatnonzero(~used & (tin.shot >= 0))
    if len(unused):
        easting, northing = frame.to_site(tin.points[unused[0], :2])
        message = (
            f"{len(unused)} shots lie outside the ground as cut back and aren't used, the first "
            f"at easting {easting:.2f}, northing {northing:.2f}."
        )
        notes.append(GroundNote(code="shots_unused", message=message))
    return tuple(notes)
