"""Triangles that are there already, as a TIN: which way they face, what lies beside what."""

import math

import numpy as np

from terrain.base.arrays import BoolArray, FloatArray, IntArray
from terrain.surface.boundary import pieces, triangle_areas
from terrain.surface.hilbert import hilbert_order
from terrain.surface.overlay import overlay
from terrain.surface.tin import triangle_faces
from terrain.surface.tin_record import Tin
from terrain.surface.triangulate import SLIVER, keep_triangles

ROUNDING = 1e-11
"""Lengths below this share of the extent are rounding."""


def facing(points: FloatArray, corners: IntArray) -> IntArray:
    """Which way each triangle (m,) faces: 1 up, -1 down, 0 upright, which has no area in plan."""
    doubled, longest = _shape(points, corners)
    upright = np.abs(doubled) <= SLIVER * longest**2
    return np.where(upright, 0, np.sign(doubled)).astype(np.int8)


def _shape(points: FloatArray, corners: IntArray) -> tuple[FloatArray, FloatArray]:
    """Twice the plan area of each triangle, and its longest side in plan."""
    plan = points[:, :2]
    sides = [plan[corners[:, k - 2]] - plan[corners[:, k]] for k in range(3)]
    squares = np.stack([(side**2).sum(axis=1) for side in sides])
    # seen from the corner opposite the longest side the differences are the smallest
    apex = (squares.argmax(axis=0) + 2) % 3
    row = np.arange(len(corners))
    to_next = np.stack(sides)[apex, row]
    from_last = np.stack(sides)[apex - 1, row]
    doubled = from_last[:, 0] * to_next[:, 1] - from_last[:, 1] * to_next[:, 0]
    return doubled, np.sqrt(squares.max(axis=0))


def fineness(points: FloatArray) -> float:
    """The length below which plan positions of points (n, 2 or more) are told apart by rounding.

    It is a power of ten, or snapping to it misses meeting corners now and then.
    """
    extent = float(np.ptp(points[:, :2], axis=0).max(initial=0.0))
    return 10.0 ** math.ceil(math.log10(ROUNDING * extent)) if extent else ROUNDING


def overlaps(points: FloatArray, corners: IntArray, wider_than: float) -> IntArray:
    """Pairs (k, 2) of triangles facing up that lie on one another's ground, the lower index first.

    Those that share no more than a strip `wider_than` wide are left out.
    """
    faces = triangle_faces(points, corners)
    shared = overlay(faces, faces)
    _, longest = _shape(points, corners)
    narrow = wider_than * np.minimum(longest[shared.a], longest[shared.b])
    counts = (shared.a < shared.b) & (shared.area > narrow)
    pairs: IntArray = np.column_stack([shared.a[counts], shared.b[counts]])
    return pairs


def spots(points: FloatArray) -> IntArray:
    """A number (n,) for the plan position of each point; points above one another share it."""
    order = np.lexsort((points[:, 1], points[:, 0]))
    ranked = points[order, :2]
    new = np.concatenate([[False], (ranked[1:] != ranked[:-1]).any(axis=1)])
    spot = np.empty(len(points), dtype=np.int64)
    spot[order] = np.cumsum(new)
    return spot


def plan_neighbours(points: FloatArray, corners: IntArray) -> IntArray:
    """The triangle (m, 3) across each side in plan, -1 for none; the surface may jump there."""
    spot = spots(points)
    begin, end = spot[corners].ravel(), spot[np.roll(corners, -1, axis=1)].ravel()
    key = np.minimum(begin, end) * (len(points) + 1) + np.maximum(begin, end)
    order = np.argsort(key, kind="stable")
    ranked, forth = key[order], (begin < end)[order]
    fresh = np.concatenate([[True], ranked[1:] != ranked[:-1]])
    first = np.flatnonzero(fresh)
    first = first[np.diff(np.append(first, len(ranked))) == 2]
    first = first[forth[first] != forth[first + 1]]
    across = np.full(len(key), -1, dtype=np.int32)
    one, other = order[first], order[first + 1]
    across[one], across[other] = other // 3, one // 3
    return across.reshape(-1, 3)


def without_jumps(tin: Tin) -> IntArray:
    """The neighbours (m, 3) of a TIN's triangles that share both points of the side with them."""
    triangle, side = np.nonzero(tin.neighbours >= 0)
    theirs = tin.triangles[tin.neighbours[triangle, side]]
    held: BoolArray = np.ones(len(triangle), dtype=np.bool_)
    for step in (0, 1):
        point = tin.triangles[triangle, (side + step) % 3]
        held &= (theirs == point[:, None]).any(axis=1)
    neighbours = tin.neighbours.copy()
    neighbours[triangle[~held], side[~held]] = -1
    return neighbours


def ready_tin(points: FloatArray, corners: IntArray, shot: IntArray) -> Tin:
    """The TIN of triangles that all face up and share no ground; points none has are left out.

    So are pieces so small that they are but rounding beside the rest.

    Args:
        points: (n, 3) in the local frame.
        corners: (m, 3).
        shot: (n,) what to call each point, -1 for one that was made.
    """
    used = np.zeros(len(points), dtype=np.bool_)
    used[corners] = True
    kept = np.flatnonzero(used)
    kept = kept[hilbert_order(points[kept, :2])]
    number = np.zeros(len(points), dtype=np.int32)
    number[kept] = np.arange(len(kept), dtype=np.int32)
    points, corners = np.ascontiguousarray(points[kept]), number[corners]
    tin = Tin(
        points=points,
        triangles=corners,
        neighbours=plan_neighbours(points, corners),
        shot=shot[kept].astype(np.int32),
        fixed=np.zeros((0, 2), dtype=np.int32),
    )
    piece, count = pieces(tin)
    area = np.bincount(piece, triangle_areas(tin), count)
    scrap = fineness(points) * float(np.ptp(points[:, :2], axis=0).max())
    return keep_triangles(tin, area[piece] > scrap)
