"""Compiled kernels of the overlay: arrays in, arrays out.

All work on one pair of faces is done relative to the first corner of its finer face, so that
differences, not coordinates, are multiplied. `work` is the workspace of one thread: one row a
list of numbers, one column a corner.
"""

import numpy as np

from terrain.base.arrays import BoolArray, FloatArray, IntArray
from terrain.surface.compiled import Faces, Four, Point, SoundFaces, Starts, Task, Tree
from terrain.surface.compiled import compiled as compiled  # other modules know it from here

FAN = 8  # boxes under one box of the tree
# Rows of the workspace: (easting, northing, and both along the edge to the next corner) of both
# faces, (easting, northing, distance) of the common polygon and of a spare while it is clipped,
# distances from the line it is clipped by, depths, and (easting, northing, height over nought) of
# the parts above and below.
FINE, COARSE, POLYGON, SPARE, DISTANCE, DEPTH, ABOVE, BELOW, ROWS = 0, 4, 8, 11, 14, 15, 16, 19, 22
SHORT = 1e-9  # an edge turned by more than this when the origin is taken off is short
FIGURES = 8  # what `measure_chunk` keeps of a pair


@compiled
def touching(box: Four, tree: Tree, found: IntArray, spare: IntArray) -> int:
    """How many of the tree's faces have a box that touches `box`; their indices go to `found`.

    Level by level from the top. Every box is written down and the count moved on only where it
    touches: the machine guesses such tests wrong too often to branch on them.
    """
    west, south, east, north = box
    boxes, level, order = tree
    count = 1
    found[0] = level[-2]
    for height in range(len(level) - 2, 0, -1):
        base, here, nodes = level[height - 1], level[height], count
        for k in range(nodes):
            spare[k] = found[k]
        count = 0
        for k in range(nodes):
            first = base + FAN * (spare[k] - here)
            for child in range(first, min(first + FAN, here)):
                found[count] = child
                count += (
                    (boxes[child, 0] <= east)
                    & (boxes[child, 2] >= west)
                    & (boxes[child, 1] <= north)
                    & (boxes[child, 3] >= south)
                )
    for k in range(count):
        found[k] = order[found[k]]
    return count


@compiled
def load(
    start: Starts, ring: FloatArray, face: int, origin: Point, work: FloatArray, row: int
) -> int:
    """How many corners the face has; they go to `row` of the workspace, relative to `origin`.

    The first is repeated after the last. An edge so short that taking the origin off its ends
    turned it keeps the direction it had before.
    """
    first = start[face]
    count: int = start[face + 1] - first
    for i in range(count):
        work[row, i] = ring[first + i, 0] - origin[0]
        work[row + 1, i] = ring[first + i, 1] - origin[1]
    work[row, count], work[row + 1, count] = work[row, 0], work[row + 1, 0]
    for i in range(count):
        after = first + (i + 1 if i + 1 < count else 0)
        true_e, true_n = ring[after, 0] - ring[first + i, 0], ring[after, 1] - ring[first + i, 1]
        along_e, along_n = work[row, i + 1] - work[row, i], work[row + 1, i + 1] - work[row + 1, i]
        turned = abs(along_e - true_e) + abs(along_n - true_n)
        is_short = turned > SHORT * (abs(true_e) + abs(true_n))
        work[row + 2, i] = true_e if is_short else along_e
        work[row + 3, i] = true_n if is_short else along_n
    return count


@compiled
def box_of(work: FloatArray, row: int, count: int, origin: Point) -> Four:
    """The box (west, south, east, north) of a loaded polygon, in the frame of the surfaces."""
    west = east = work[row, 0]
    south = north = work[row + 1, 0]
    for i in range(1, count):
        west, east = min(west, work[row, i]), max(east, work[row, i])
        south, north = min(south, work[row + 1, i]), max(north, work[row + 1, i])
    return west + origin[0], south + origin[1], east + origin[0], north + origin[1]


@compiled
def edge_of(work: FloatArray, row: int, k: int) -> Four:
    """Direction of a loaded polygon's edge, and its end nearer to the origin.

    Both are the same, but for the direction's sign, seen from the neighbour across the edge: so
    a point is on one side for both of them, whatever is lost in rounding.
    """
    pe, pn, qe, qn = work[row, k], work[row + 1, k], work[row, k + 1], work[row + 1, k + 1]
    other_end = qe * qe + qn * qn < pe * pe + pn * pn
    at_e, at_n = qe if other_end else pe, qn if other_end else pn
    return work[row + 2, k], work[row + 3, k], at_e, at_n


@compiled
def keep_inside(work: FloatArray, row: int, count: int, target: int) -> int:
    """How many corners are left of a polygon where DISTANCE >= 0; they go to row `target`.

    Each has its distance beside it, exactly nought where the line was crossed. A crossing is
    reckoned from the earlier corner to the later, so that both sides of the line get one point.
    """
    kept = 0
    e, n, d = work[row, count - 1], work[row + 1, count - 1], work[DISTANCE, count - 1]
    for i in range(count):
        next_e, next_n, next_d = work[row, i], work[row + 1, i], work[DISTANCE, i]
        part = d / (d - next_d)
        work[target, kept] = e + part * (next_e - e)
        work[target + 1, kept] = n + part * (next_n - n)
        work[target + 2, kept] = 0.0
        kept += ((d < 0.0) & (next_d > 0.0)) | ((d > 0.0) & (next_d < 0.0))
        work[target, kept], work[target + 1, kept] = next_e, next_n
        work[target + 2, kept] = next_d
        kept += next_d >= 0.0
        e, n, d = next_e, next_n, next_d
    return kept


@compiled
def cut_off(work: FloatArray, row: int, count: int, target: int) -> int:
    """As `keep_inside`, of a polygon with corners on both sides, but one corner more at most.

    A convex polygon has one run of corners outside a line. Where rounding makes more of them,
    only the run of inner corners about the furthest is kept.
    """
    kept = keep_inside(work, row, count, target)
    if kept <= count + 1:
        return kept
    ahead = behind = int(np.argmax(work[DISTANCE, :count]))
    while work[DISTANCE, ahead] >= 0.0:
        ahead = ahead + 1 if ahead + 1 < count else 0
    while work[DISTANCE, behind] >= 0.0:
        behind = behind - 1 if behind > 0 else count - 1
    while ahead != behind:
        work[DISTANCE, ahead] = -abs(work[DISTANCE, ahead])
        ahead = ahead + 1 if ahead + 1 < count else 0
    return keep_inside(work, row, count, target)


@compiled
def clip(work: FloatArray, count: int, coarse_count: int, sound: BoolArray, first: int) -> int:
    """How many corners the common polygon of the two loaded faces has, 0 if it is empty.

    Sutherland and Hodgman, Reentrant polygon clipping, CACM 17(1), 1974, for convex polygons.
    `sound`, from `first` on, tells which edges of the coarse face to clip by, see `sound`.
    """
    for i in range(count):
        work[POLYGON, i], work[POLYGON + 1, i] = work[FINE, i], work[FINE + 1, i]
    for k in range(coarse_count):
        if not sound[first + k]:
            continue
        along_e, along_n, at_e, at_n = edge_of(work, COARSE, k)
        lowest, highest = 0.0, 0.0
        for i in range(count):
            distance = along_e * (work[POLYGON + 1, i] - at_n)
            distance -= along_n * (work[POLYGON, i] - at_e)
            work[DISTANCE, i] = distance
            lowest, highest = min(lowest, distance), max(highest, distance)
        if highest == 0.0:
            return 0
        if lowest < 0.0:
            count = cut_off(work, POLYGON, count, SPARE)
            for i in range(count):
                work[POLYGON, i], work[POLYGON + 1, i] = work[SPARE, i], work[SPARE + 1, i]
    return count


@compiled
def between(
    fine_plane: FloatArray, face: int, coarse_plane: FloatArray, other: int, origin: Point
) -> tuple[float, float, float]:
    """The depth of one plane over another: at the origin, per easting and per northing.

    Each plane is taken from its own point first, then they are subtracted.
    """
    p, q = fine_plane[face], coarse_plane[other]
    rise = p[3] * (origin[0] - p[0]) + p[4] * (origin[1] - p[1])
    other_rise = q[3] * (origin[0] - q[0]) + q[4] * (origin[1] - q[1])
    return (p[2] - q[2]) + (rise - other_rise), p[3] - q[3], p[4] - q[4]


@compiled
def split(
    work: FloatArray, count: int, depth: tuple[float, float, float], sign: float
) -> tuple[int, int]:
    """Corners (above, below) of the common polygon's parts over and under nought depth.

    They go to ABOVE and BELOW with their height over nought; both get the same crossing points.
    """
    lowest, highest = 0.0, 0.0
    for i in range(count):
        rise = depth[1] * work[POLYGON, i] + depth[2] * work[POLYGON + 1, i]
        height = sign * (depth[0] + rise)
        work[DEPTH, i] = height
        lowest, highest = min(lowest, height), max(highest, height)
    above = part_over(work, count, ABOVE, 1.0, (lowest, highest))
    return above, part_over(work, count, BELOW, -1.0, (-highest, -lowest))


@compiled
def part_over(work: FloatArray, count: int, target: int, sign: float, reach: Point) -> int:
    """How many corners the part of the common polygon where sign * DEPTH > 0 has."""
    lowest, highest = reach
    if highest == 0.0:
        return 0
    for i in range(count):
        work[DISTANCE, i] = sign * work[DEPTH, i]
    if lowest < 0.0:
        return cut_off(work, POLYGON, count, target)
    for i in range(count):
        work[target, i], work[target + 1, i] = work[POLYGON, i], work[POLYGON + 1, i]
        work[target + 2, i] = work[DISTANCE, i]
    return count


@compiled
def measure(work: FloatArray, row: int, count: int) -> Four:
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
def record(
    work: FloatArray, counts: tuple[int, int, int], origin: Point, figures: FloatArray, at: int
) -> bool:
    """Whether the parts have area; their figures go to column `at`.

    Rows: area, area above, volume above, area below, volume below, centroid of the part above
    (easting, northing), greatest depth above. Without a part above, its centroid is the origin.
    """
    count, above, below = counts
    area_above, volume_above, moment_e, moment_n = measure(work, ABOVE, above)
    area_below, volume_below, _, _ = measure(work, BELOW, below)
    double = area_above + area_below
    if above == 0 and below == 0:
        double, _, _, _ = measure(work, POLYGON, count)
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
def measure_chunk(
    fine: Faces, coarse: SoundFaces, tree: Tree, task: Task, out: tuple[IntArray, FloatArray]
) -> tuple[int, int, int]:
    """Figures of all pairs of the fine faces first to last, as (pairs, pairs, next face).

    `task` is (first, last, sign of the depth of fine over coarse, room for corners); `out` is
    (parents, figures), see `record`. It stops before a face that finds no room.
    """
    first, last, sign, most = task
    start, ring, plane = fine
    coarse_start, coarse_ring, coarse_plane, sound = coarse
    parents, figures = out
    work = np.empty((ROWS, most))
    found, spare = np.empty((2, len(tree[2]) + 1), np.int32)
    done = 0
    for face in range(first, last):
        origin = (ring[start[face], 0], ring[start[face], 1])
        count = load(start, ring, face, origin, work, FINE)
        candidates = touching(box_of(work, FINE, count, origin), tree, found, spare)
        if done + candidates > figures.shape[1]:
            return done, done, face
        for k in range(candidates):
            other = found[k]
            other_count = load(coarse_start, coarse_ring, other, origin, work, COARSE)
            common = clip(work, count, other_count, sound, coarse_start[other])
            if common == 0:
                continue
            depth = between(plane, face, coarse_plane, other, origin)
            above, below = split(work, common, depth, sign)
            if record(work, (common, above, below), origin, figures, done):
                parents[0, done], parents[1, done] = face, other
                done += 1
    return done, done, last


@compiled
def add_part(
    work: FloatArray,
    part: tuple[int, int, int],
    origin: Point,
    out: tuple[IntArray, FloatArray],
    at: tuple[int, int],
) -> tuple[int, int]:
    """Where the next part begins, (parts, corners), once this one (row, corners, tag) is written.

    A corner that repeats the one before it is left out, and so is a part without area.
    """
    row, count, tag = part
    if not measure(work, row, count)[0] > 0.0:
        return at
    parts, corners = out
    done, corner = at
    for i in range(count):
        j = i - 1 if i > 0 else count - 1
        if work[row, i] != work[row, j] or work[row + 1, i] != work[row + 1, j]:
            corners[0, corner] = work[row, i] + origin[0]
            corners[1, corner] = work[row + 1, i] + origin[1]
            corners[2, corner] = tag * work[row + 2, i]
            corner += 1
    parts[2, done], parts[3, done] = tag, corner - at[1]
    return done + 1, corner


@compiled
def polygons_chunk(
    fine: Faces, coarse: SoundFaces, tree: Tree, task: Task, out: tuple[IntArray, FloatArray]
) -> tuple[int, int, int]:
    """Polygons of all pairs of the fine faces first to last, as (parts, corners, next face).

    `task` is as for `measure_chunk`; `out` is (parts, corners): rows fine face, coarse face, tag
    and count of corners, and rows easting, northing, depth. It stops before a face that finds
    no room.
    """
    first, last, sign, most = task
    start, ring, plane = fine
    coarse_start, coarse_ring, coarse_plane, sound = coarse
    parts, corners = out
    work = np.empty((ROWS, most))
    found, spare = np.empty((2, len(tree[2]) + 1), np.int32)
    at = (0, 0)
    for face in range(first, last):
        origin = (ring[start[face], 0], ring[start[face], 1])
        count = load(start, ring, face, origin, work, FINE)
        candidates = touching(box_of(work, FINE, count, origin), tree, found, spare)
        if (
            at[0] + 2 * candidates > parts.shape[1]
            or at[1] + 2 * most * candidates > corners.shape[1]
        ):
            return at[0], at[1], face
        for k in range(candidates):
            other = found[k]
            other_count = load(coarse_start, coarse_ring, other, origin, work, COARSE)
            common = clip(work, count, other_count, sound, coarse_start[other])
            if common == 0:
                continue
            depth = between(plane, face, coarse_plane, other, origin)
            above, below = split(work, common, depth, sign)
            before = at
            if above == 0 and below == 0:
                work[POLYGON + 2, :common] = 0.0
                at = add_part(work, (POLYGON, common, 0), origin, out, at)
            at = add_part(work, (ABOVE, above, 1), origin, out, at)
            at = add_part(work, (BELOW, below, -1), origin, out, at)
            for i in range(before[0], at[0]):
                parts[0, i], parts[1, i] = face, other
    return at[0], at[1], last
