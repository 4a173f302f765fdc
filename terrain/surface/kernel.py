"""Compiled kernels of the overlay: arrays in, arrays out.

A surface goes in as (start, ring, plane), see `patches.Surface`; a tree of boxes as
(boxes, level, order), see `boxtree`. All work on one pair of faces is done relative to the
first corner of its finer face, so that differences, not coordinates, are multiplied.

`work` is the workspace of one thread, one row a list of numbers, one column a corner.
"""

from collections.abc import Callable
from typing import Any, TypeVar

import numba
import numpy as np

Compiled = TypeVar("Compiled", bound=Callable[..., Any])

FAN = 8  # boxes under one box of the tree
# Rows of the workspace: (easting, northing) of both faces, (easting, northing, distance) of the
# polygon while it is clipped, distances from the line it is clipped by, depths, and (easting,
# northing, height over nought) of the parts above and below.
FINE, COARSE, PING, PONG, DISTANCE, DEPTH, ABOVE, BELOW, ROWS = 0, 2, 4, 7, 10, 11, 12, 15, 18
FIGURES = 8  # what `measure_chunk` keeps of a pair


def compiled(function: Compiled) -> Compiled:
    """The function compiled, without the lock, and kept on disk where some folder allows it."""
    try:
        return numba.njit(nogil=True, cache=True)(function)  # type: ignore[no-any-return]
    except RuntimeError:  # numba found no folder it may write its cache to
        return numba.njit(nogil=True)(function)  # type: ignore[no-any-return]


@compiled
def touching(box, tree, stack, found):
    """How many of the tree's faces have a box that touches `box`; their indices go to `found`."""
    west, south, east, north = box
    boxes, level, order = tree
    count = 0
    stack[0, 0] = level[-2]
    stack[1, 0] = len(level) - 2
    waiting = 1
    while waiting:
        waiting -= 1
        node, height = stack[0, waiting], stack[1, waiting]
        first = level[height - 1] + FAN * (node - level[height])
        for child in range(first, min(first + FAN, level[height])):
            if (
                boxes[child, 0] <= east
                and boxes[child, 2] >= west
                and boxes[child, 1] <= north
                and boxes[child, 3] >= south
            ):
                if height == 1:
                    found[count] = order[child]
                    count += 1
                else:
                    stack[0, waiting] = child
                    stack[1, waiting] = height - 1
                    waiting += 1
    return count


@compiled
def load(start, ring, face, origin, work, row):
    """How many corners the face has; they go to `row` of the workspace, relative to `origin`."""
    first = start[face]
    count = start[face + 1] - first
    for i in range(count):
        work[row, i] = ring[first + i, 0] - origin[0]
        work[row + 1, i] = ring[first + i, 1] - origin[1]
    return count


@compiled
def box_of(work, row, count, origin):
    """The box (west, south, east, north) of a loaded polygon, in the frame of the surfaces."""
    west = east = work[row, 0]
    south = north = work[row + 1, 0]
    for i in range(1, count):
        west, east = min(west, work[row, i]), max(east, work[row, i])
        south, north = min(south, work[row + 1, i]), max(north, work[row + 1, i])
    return west + origin[0], south + origin[1], east + origin[0], north + origin[1]


@compiled
def edge_of(work, row, count, k):
    """Direction of a polygon's edge and its end nearer to the origin.

    Both are the same, but for the direction's sign, seen from the neighbour across the edge: so
    a point is on one side for both of them, whatever is lost in rounding.
    """
    j = k + 1 if k + 1 < count else 0
    pe, pn, qe, qn = work[row, k], work[row + 1, k], work[row, j], work[row + 1, j]
    if qe * qe + qn * qn < pe * pe + pn * pn:
        return qe - pe, qn - pn, qe, qn
    return qe - pe, qn - pn, pe, pn


@compiled
def is_apart(work, row, count, other, other_count):
    """Whether some edge of the polygon has all of the other polygon on its outer side."""
    for k in range(count):
        along_e, along_n, at_e, at_n = edge_of(work, row, count, k)
        if along_e == 0.0 and along_n == 0.0:
            continue
        inside = False
        for i in range(other_count):
            if along_e * (work[other + 1, i] - at_n) > along_n * (work[other, i] - at_e):
                inside = True
                break
        if not inside:
            return True
    return False


@compiled
def keep_inside(work, row, count, inner, target):
    """How many corners are left of a polygon where DISTANCE >= 0; they go to row `target`.

    Each has its distance beside it, exactly nought where the line was crossed. `inner` is the
    corner furthest inside; at least one corner is outside. Only the run of corners about `inner`
    is kept: a convex polygon has no other but by rounding.
    """
    i = inner
    before = i - 1 if i > 0 else count - 1
    while work[DISTANCE, before] >= 0.0:
        i = before
        before = i - 1 if i > 0 else count - 1
    kept = 0
    for crossing in range(2):  # inwards, then out again
        if work[DISTANCE, i if crossing == 0 else before] > 0.0:
            part = work[DISTANCE, before] / (work[DISTANCE, before] - work[DISTANCE, i])
            for axis in range(2):
                at = work[row + axis, before]
                work[target + axis, kept] = at + part * (work[row + axis, i] - at)
            work[target + 2, kept] = 0.0
            kept += 1
        while crossing == 0 and work[DISTANCE, i] >= 0.0:
            work[target, kept] = work[row, i]
            work[target + 1, kept] = work[row + 1, i]
            work[target + 2, kept] = work[DISTANCE, i]
            kept += 1
            before = i
            i = i + 1 if i + 1 < count else 0
    return kept


@compiled
def clip(work, count, coarse_count):
    """The common polygon of the two loaded faces, as (row, corners); no corners if it is empty.

    Sutherland and Hodgman, Reentrant polygon clipping, CACM 17(1), 1974, for convex polygons.
    """
    row = FINE
    for k in range(coarse_count):
        along_e, along_n, at_e, at_n = edge_of(work, COARSE, coarse_count, k)
        if along_e == 0.0 and along_n == 0.0:
            continue
        furthest, inner, outside = 0.0, 0, 0
        for i in range(count):
            distance = along_e * (work[row + 1, i] - at_n) - along_n * (work[row, i] - at_e)
            work[DISTANCE, i] = distance
            if distance < 0.0:
                outside += 1
            elif distance > furthest:
                furthest, inner = distance, i
        if furthest == 0.0:
            return row, 0
        if outside > 0:
            target = PONG if row == PING else PING
            count = keep_inside(work, row, count, inner, target)
            row = target
    return row, count


@compiled
def split(work, row, count):
    """Corners (above, below) of the parts of a polygon over and under nought DEPTH.

    They go to ABOVE and BELOW with their height over nought; both get the same crossing points.
    """
    corners = (0, 0)
    for side in range(2):
        sign = 1.0 - 2.0 * side
        furthest, inner, outside = 0.0, 0, 0
        for i in range(count):
            distance = sign * work[DEPTH, i]
            work[DISTANCE, i] = distance
            if distance < 0.0:
                outside += 1
            elif distance > furthest:
                furthest, inner = distance, i
        target = ABOVE if side == 0 else BELOW
        kept = 0
        if furthest > 0.0 and outside > 0:
            kept = keep_inside(work, row, count, inner, target)
        elif furthest > 0.0:
            kept = count
            for i in range(count):
                work[target, i] = work[row, i]
                work[target + 1, i] = work[row + 1, i]
                work[target + 2, i] = work[DISTANCE, i]
        corners = (kept, corners[1]) if side == 0 else (corners[0], kept)
    return corners


@compiled
def cut(pair, fine, coarse, sign, work):
    """What two faces share: (row, corners, corners above, corners below), see `clip` and `split`.

    The finer face is loaded already, `pair` is (fine face, its corners, coarse face). The depth
    is that of fine over coarse, times `sign`; each plane is taken at its own point first.
    """
    face, count, other = pair
    fine_start, fine_ring, fine_plane = fine
    coarse_start, coarse_ring, coarse_plane = coarse
    origin = fine_ring[fine_start[face]]
    other_count = load(coarse_start, coarse_ring, other, origin, work, COARSE)
    if is_apart(work, FINE, count, COARSE, other_count):
        return FINE, 0, 0, 0
    row, count = clip(work, count, other_count)
    if count < 3:
        return row, 0, 0, 0
    p, q = fine_plane[face], coarse_plane[other]
    at_origin = (p[2] - q[2]) + (
        (p[3] * (origin[0] - p[0]) + p[4] * (origin[1] - p[1]))
        - (q[3] * (origin[0] - q[0]) + q[4] * (origin[1] - q[1]))
    )
    per_easting, per_northing = p[3] - q[3], p[4] - q[4]
    for i in range(count):
        rise = per_easting * work[row, i] + per_northing * work[row + 1, i]
        work[DEPTH, i] = sign * (at_origin + rise)
    above, below = split(work, row, count)
    return row, count, above, below


@compiled
def measure(work, row, count):
    """Twice the area, six times the volume, and six times the first moments of a part.

    A fan of triangles from the first corner: the integral of a linear function over a triangle
    is its area times the mean of the function at the corners.
    """
    area, volume, moment_e, moment_n = 0.0, 0.0, 0.0, 0.0
    for i in range(1, count - 1):
        side_e, side_n = work[row, i] - work[row, 0], work[row + 1, i] - work[row + 1, 0]
        next_e, next_n = work[row, i + 1] - work[row, 0], work[row + 1, i + 1] - work[row + 1, 0]
        double = side_e * next_n - side_n * next_e
        area += double
        volume += double * (work[row + 2, 0] + work[row + 2, i] + work[row + 2, i + 1])
        moment_e += double * (work[row, 0] + work[row, i] + work[row, i + 1])
        moment_n += double * (work[row + 1, 0] + work[row + 1, i] + work[row + 1, i + 1])
    return area, volume, moment_e, moment_n


@compiled
def record(work, counts, origin, figures, at):
    """Whether the parts have area; their figures go to column `at`.

    Rows: area, area above, volume above, area below, volume below, centroid of the part above
    (easting, northing), greatest depth above. Without a part above, its centroid is the origin.
    """
    row, count, above, below = counts
    area_above, volume_above, moment_e, moment_n = measure(work, ABOVE, above)
    area_below, volume_below, _, _ = measure(work, BELOW, below)
    double = area_above + area_below
    if above == 0 and below == 0:
        double, _, _, _ = measure(work, row, count)
    if not double > 0.0:
        return False
    figures[0, at] = 0.5 * double
    figures[1, at] = 0.5 * max(area_above, 0.0)
    figures[2, at] = max(volume_above, 0.0) / 6.0
    figures[3, at] = 0.5 * max(area_below, 0.0)
    figures[4, at] = max(volume_below, 0.0) / 6.0
    figures[5, at], figures[6, at], figures[7, at] = origin[0], origin[1], 0.0
    if area_above > 0.0:
        figures[5, at] += moment_e / (3.0 * area_above)
        figures[6, at] += moment_n / (3.0 * area_above)
    for i in range(above):
        figures[7, at] = max(figures[7, at], work[ABOVE + 2, i])
    return True


@compiled
def measure_chunk(fine, coarse, tree, task, out):
    """Figures of all pairs of the fine faces first to last, as (pairs, pairs, next face).

    `task` is (first, last, sign, most corners of a pair); `out` is (parents, figures), see
    `record`. It stops before a face that finds no room.
    """
    first, last, sign, most = task
    parents, figures = out
    start, ring, _ = fine
    work, stack = np.empty((ROWS, most)), np.empty((2, 512), np.int64)
    found = np.empty(len(tree[2]), np.int32)
    done = 0
    for face in range(first, last):
        origin = ring[start[face]]
        count = load(start, ring, face, origin, work, FINE)
        candidates = touching(box_of(work, FINE, count, origin), tree, stack, found)
        if done + candidates > figures.shape[1]:
            return done, done, face
        for k in range(candidates):
            counts = cut((face, count, found[k]), fine, coarse, sign, work)
            if counts[1] > 0 and record(work, counts, origin, figures, done):
                parents[0, done], parents[1, done] = face, found[k]
                done += 1
    return done, done, last


@compiled
def add_part(work, part, origin, out, at):
    """Where the next part begins, (parts, corners), once this one (row, corners, tag) is written.

    A corner that repeats the one before it is left out.
    """
    row, count, tag = part
    parts, corners = out
    done, corner = at
    for i in range(count):
        j = i - 1 if i > 0 else count - 1
        if work[row, i] != work[row, j] or work[row + 1, i] != work[row + 1, j]:
            corners[0, corner] = work[row, i] + origin[0]
            corners[1, corner] = work[row + 1, i] + origin[1]
            corners[2, corner] = tag * work[row + 2, i]
            corner += 1
    if corner - at[1] < 3:
        return at
    parts[2, done], parts[3, done] = tag, corner - at[1]
    return done + 1, corner


@compiled
def polygons_chunk(fine, coarse, tree, task, out):
    """Polygons of all pairs of the fine faces first to last, as (parts, corners, next face).

    `task` is as for `measure_chunk`; `out` is (parts, corners): rows fine face, coarse face, tag
    and count of corners, and rows easting, northing, depth. It stops before a face that finds
    no room.
    """
    first, last, sign, most = task
    parts, corners = out
    start, ring, _ = fine
    work, stack = np.empty((ROWS, most)), np.empty((2, 512), np.int64)
    found = np.empty(len(tree[2]), np.int32)
    at = (0, 0)
    for face in range(first, last):
        origin = ring[start[face]]
        count = load(start, ring, face, origin, work, FINE)
        candidates = touching(box_of(work, FINE, count, origin), tree, stack, found)
        if (
            at[0] + 2 * candidates > parts.shape[1]
            or at[1] + 2 * most * candidates > corners.shape[1]
        ):
            return at[0], at[1], face
        for k in range(candidates):
            row, corner_count, above, below = cut(
                (face, count, found[k]), fine, coarse, sign, work
            )
            if corner_count == 0:
                continue
            before = at
            if above == 0 and below == 0:
                work[ABOVE : ABOVE + 2, :corner_count] = work[row : row + 2, :corner_count]
                work[ABOVE + 2, :corner_count] = 0.0
                at = add_part(work, (ABOVE, corner_count, 0), origin, out, at)
            at = add_part(work, (ABOVE, above, 1), origin, out, at)
            at = add_part(work, (BELOW, below, -1), origin, out, at)
            for i in range(before[0], at[0]):
                parts[0, i], parts[1, i] = face, found[k]
    return at[0], at[1], last
