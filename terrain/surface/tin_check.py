"""A verifier of TINs that shares no code with the builder: numpy, exact fractions, shapely.

It is meant for tests and doubts, not for every run: it is slower than the builder.
"""

from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray

from terrain.base.arrays import FloatArray
from terrain.surface.tin_record import SNAP, Line, Tin

AREA_TOLERANCE = 1e-11
CIRCLE_TOLERANCE = 1e-9


def verify_tin(tin: Tin, shots: FloatArray | None = None, lines: Sequence[Line] = ()) -> list[str]:
    """What is wrong with a TIN, a sentence each; nothing if it is sound.

    Args:
        tin: the TIN to check.
        shots: the input points (n, 3), to find each of them again.
        lines: the lines it was built with, to find each of them again as triangle sides.
    """
    wrong = _wrong_shapes(tin)
    if wrong:
        return wrong
    return [
        *_wrong_turns(tin),
        *_wrong_sides(tin),
        *_wrong_cover(tin),
        *_wrong_fans(tin),
        *_wrong_circles(tin),
        *([] if shots is None else _wrong_shots(tin, shots)),
        *([] if shots is None else _wrong_lines(tin, shots, lines)),
    ]


def _wrong_shapes(tin: Tin) -> list[str]:
    wrong = []
    if tin.triangles.shape != tin.neighbours.shape or tin.triangles.shape[1:] != (3,):
        wrong.append("Triangles and neighbours aren't both (m, 3).")
    elif tin.triangles.dtype != np.int32 or tin.neighbours.dtype != np.int32:
        wrong.append("Triangles and neighbours aren't 32-bit integers.")
    elif tin.triangles.min() < 0 or tin.triangles.max() >= len(tin.points):
        wrong.append("A triangle names a point that isn't there.")
    elif tin.neighbours.max() >= len(tin.triangles):
        wrong.append("A triangle names a neighbour that isn't there.")
    if tin.points.shape != (len(tin.shot), 3) or not np.isfinite(tin.points).all():
        wrong.append("Points aren't (n, 3) finite numbers, one for each `shot`.")
    return wrong


def _doubled_areas(plan: FloatArray) -> FloatArray:
    """Twice the area of triangles whose corners are plan (..., 3, 2)."""
    ahead, behind = plan[..., 1, :] - plan[..., 0, :], plan[..., 2, :] - plan[..., 0, :]
    doubled: FloatArray = np.linalg.det(np.stack([ahead, behind], axis=-2))
    return doubled


def _turns_left_exactly(corners: FloatArray) -> bool:
    (e0, n0), (e1, n1), (e2, n2) = [[Fraction(v) for v in corner] for corner in corners.tolist()]
    return (e1 - e0) * (n2 - n0) - (n1 - n0) * (e2 - e0) > 0


def _wrong_turns(tin: Tin) -> list[str]:
    plan = tin.points[tin.triangles][:, :, :2]
    doubled = _doubled_areas(plan)
    extent = np.ptp(plan, axis=1).max(axis=1)
    doubtful = np.flatnonzero(doubled < 1e-10 * extent**2)
    wrong = [
        f"Triangle {t} does not turn left."
        for t in doubtful.tolist()
        if not _turns_left_exactly(plan[t])
    ]
    flat = np.flatnonzero(doubled <= 0)
    return wrong + [f"Triangle {t} has no area in 64-bit numbers." for t in flat.tolist()]


def _wrong_sides(tin: Tin) -> list[str]:
    """Each side once a direction, at most two triangles on it, and neighbours that say so."""
    owner: dict[tuple[int, int], int] = {}
    wrong = []
    for t, corners in enumerate(tin.triangles.tolist()):
        for k in range(3):
            side = (corners[k], corners[k - 2])
            if side in owner:
                wrong.append(f"Triangles {owner[side]} and {t} lie on one side of {side}.")
            owner[side] = t
    for t, corners in enumerate(tin.triangles.tolist()):
        for k in range(3):
            across = owner.get((corners[k - 2], corners[k]), -1)
            if int(tin.neighbours[t, k]) != across:
                said = int(tin.neighbours[t, k])
                wrong.append(f"Across side {k} of triangle {t} lies {across}, not {said}.")
    return wrong


def _side_pairs(tin: Tin) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Every side once, lower point first (s, 2), and in how many triangles it is (s,)."""
    sides = np.sort(tin.triangles[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2), axis=1)
    pairs, count = np.unique(sides.astype(np.int64), axis=0, return_counts=True)
    return pairs, count


def _wrong_cover(tin: Tin) -> list[str]:
    """By GEOS: triangles share sides but no ground, and together have the sum of their areas."""
    polygons = shapely.polygons(tin.points[tin.triangles][:, :, :2])
    if not shapely.coverage_is_valid(polygons):
        return ["Triangles lie on one another's ground."]
    inside = shapely.coverage_union_all(polygons).area
    summed = float(_doubled_areas(tin.points[tin.triangles][:, :, :2]).sum()) / 2
    scale = float(np.prod(np.ptp(tin.points[:, :2], axis=0)))
    if abs(inside - summed) > AREA_TOLERANCE * scale:
        return [f"The triangles' areas sum to {summed!r}, the rims enclose {inside!r}."]
    return []


def _wrong_fans(tin: Tin) -> list[str]:
    """The angles round each inner point sum to one turn, round a rim point to less."""
    plan = tin.points[tin.triangles][:, :, :2]
    turn = np.zeros(len(tin.points))
    for k in range(3):
        one, other = plan[:, k - 2] - plan[:, k], plan[:, k - 1] - plan[:, k]
        cross = one[:, 0] * other[:, 1] - one[:, 1] * other[:, 0]
        np.add.at(turn, tin.triangles[:, k], np.arctan2(cross, (one * other).sum(axis=1)))
    pairs, count = _side_pairs(tin)
    inner = np.ones(len(tin.points), dtype=np.bool_)
    inner[pairs[count == 1]] = False
    used = np.zeros(len(tin.points), dtype=np.bool_)
    used[tin.triangles] = True
    off = np.abs(turn - 2 * np.pi) > 1e-6
    wrong = [f"Triangles don't close round point {p}." for p in np.flatnonzero(used & inner & off)]
    over = np.flatnonzero(~inner & (turn > 2 * np.pi + 1e-6))
    return wrong + [f"Triangles overlap round point {p}." for p in over]


def _wrong_circles(tin: Tin) -> list[str]:
    """Across each side no line asks for, the other triangle's far corner is outside the circle."""
    fixed = {tuple(pair) for pair in np.sort(tin.fixed, axis=1).tolist()}
    corners = tin.triangles
    triangle, side = np.nonzero(tin.neighbours > np.arange(len(tin))[:, None])
    across = tin.neighbours[triangle, side]
    begin, end = corners[triangle, side], corners[triangle, (side + 1) % 3]
    far = corners[across].sum(axis=1) - begin - end
    origin = tin.points[far, :2]
    rows = tin.points[corners[triangle], :2] - origin[:, None]
    scale = np.abs(rows).max(axis=(1, 2))
    rows = rows / scale[:, None, None]
    lifted = np.concatenate([rows, (rows**2).sum(axis=2, keepdims=True)], axis=2)
    inside = np.linalg.det(lifted) > CIRCLE_TOLERANCE
    return [
        f"Point {far[i]} lies inside the circle of triangle {triangle[i]}."
        for i in np.flatnonzero(inside)
        if (min(begin[i], end[i]), max(begin[i], end[i])) not in fixed
    ]


def _wrong_shots(tin: Tin, shots: FloatArray) -> list[str]:
    named = tin.shot[tin.shot >= 0]
    if not np.array_equal(np.sort(named), np.arange(len(shots))):
        return ["Not every shot is a point of the TIN exactly once."]
    if not np.array_equal(tin.points[tin.shot >= 0], shots[named]):
        return ["A point of the TIN isn't where its shot is."]
    return []


def _wrong_lines(tin: Tin, shots: FloatArray, lines: Sequence[Line]) -> list[str]:
    """Each leg of each line is a chain of sides, as far as there is ground under it."""
    pairs, _ = _side_pairs(tin)
    joined = {tuple(pair) for pair in pairs.tolist()}
    ground = shapely.unary_union(shapely.polygons(tin.points[tin.triangles][:, :, :2]))
    shapely.prepare(ground)
    wrong = []
    for line in lines:
        legs = list(pairwise(line.shots.tolist()))
        if line.kind.value != "breakline":
            legs.append((int(line.shots[-1]), int(line.shots[0])))
        for begin, end in legs:
            for a, b in _chain(tin, shots[begin, :2], shots[end, :2]):
                middle = (tin.points[a, :2] + tin.points[b, :2]) / 2
                if (min(a, b), max(a, b)) not in joined and shapely.contains_xy(ground, *middle):
                    wrong.append(f"No side joins points {a} and {b} of the {line.label}.")
    return wrong


def _chain(tin: Tin, begin: FloatArray, end: FloatArray) -> list[tuple[int, int]]:
    """Pairs of points one after another on the way from begin to end."""
    length = float(np.hypot(*(end - begin)))
    if length == 0:
        return []
    way = (end - begin) / length
    offset = tin.points[:, :2] - begin
    along, off = offset @ way, offset @ np.array([-way[1], way[0]])
    on = np.flatnonzero((np.abs(off) <= SNAP) & (along >= -SNAP) & (along <= length + SNAP))
    run = on[np.argsort(along[on])].tolist()
    return list(pairwise(run))
