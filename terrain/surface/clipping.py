"""Compiled: the polygon two convex faces share, the depth over it, and what both enclose.

All work on one pair of faces is done relative to the first corner of its finer face, so that
differences, not coordinates, are multiplied. `work` is the workspace of one thread: one row a
list of numbers, one column a corner.
"""

import numpy as np

from terrain.base.arrays import BoolArray, FloatArray
from terrain.surface.compiled import Four, Point, Starts, compiled, inlined

# Rows of the workspace. A polygon is easting, northing and a third number, its height over nought
# or its distance from a line; a loaded face goes on with (easting, northing) along the edge to the
# next corner and of the end of that edge nearer to the origin. ONE and TWO are for a polygon while
# it is clipped, ABOVE and BELOW for its parts, DISTANCE is from the line it is cut by.
FINE, COARSE, ONE, TWO, ABOVE, BELOW, DISTANCE, ROWS = 0, 7, 14, 17, 20, 23, 26, 27

SHORT = 1e-9  # an edge turned by more than this when the origin is taken off is short

Part = tuple[int, int]  # a polygon's row in the workspace, and how many corners it has


@inlined
def load(
    start: Starts, ring: FloatArray, face: int, origin: Point, work: FloatArray, row: int
) -> int:
    """How many corners the face has; they go to `row` of the workspace, relative to `origin`.

    The first is repeated after the last.
    """
    first = start[face]
    count: int = start[face + 1] - first
    for i in range(count):
        work[row, i] = ring[first + i, 0] - origin[0]
        work[row + 1, i] = ring[first + i, 1] - origin[1]
    work[row, count], work[row + 1, count] = work[row, 0], work[row + 1, 0]
    return count


@inlined
def load_edges(ring: FloatArray, first: int, count: int, work: FloatArray, row: int) -> None:
    """Add the edges to a loaded face whose corners are those of `ring` from `first` on.

    An edge so short that taking the origin off its ends turned it keeps the direction it had
    before. Its place is that of its end nearer to the origin. Both are the same, but for the
    direction's sign, seen from the neighbour across the edge: so a point is on one side for both
    of them, whatever is lost in rounding.
    """
    for i in range(count):
        after = first + (i + 1 if i + 1 < count else 0)
        true_e, true_n = ring[after, 0] - ring[first + i, 0], ring[after, 1] - ring[first + i, 1]
        pe, pn, qe, qn = work[row, i], work[row + 1, i], work[row, i + 1], work[row + 1, i + 1]
        turned = abs(qe - pe - true_e) + abs(qn - pn - true_n)
        is_short = turned > SHORT * (abs(true_e) + abs(true_n))
        work[row + 3, i] = true_e if is_short else qe - pe
        work[row + 4, i] = true_n if is_short else qn - pn
        other_end = qe * qe + qn * qn < pe * pe + pn * pn
        work[row + 5, i] = qe if other_end else pe
        work[row + 6, i] = qn if other_end else pn


@inlined
def edge_of(work: FloatArray, row: int, k: int) -> Four:
    """Direction of a loaded face's edge, and its end nearer to the origin."""
    return work[row + 3, k], work[row + 4, k], work[row + 5, k], work[row + 6, k]


@inlined
def distances(work: FloatArray, row: int, count: int, edge: Four) -> Point:
    """The least and the greatest distance from an edge, each at most and at least nought.

    Distances of all corners, left of the edge positive and times its length, go to DISTANCE.
    """
    along_e, along_n, at_e, at_n = edge
    lowest, highest = 0.0, 0.0
    for i in range(count):
        distance = along_e * (work[row + 1, i] - at_n) - along_n * (work[row, i] - at_e)
        work[DISTANCE, i] = distance
        lowest, highest = min(lowest, distance), max(highest, distance)
    return lowest, highest


@inlined
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


@inlined
def cut_off(work: FloatArray, row: int, count: int, target: int) -> int:
    """As `keep_inside`, of a polygon with corners on both sides, but one corner more at most."""
    kept = keep_inside(work, row, count, target)
    if kept > count + 1:
        keep_one_run(work, count)
        kept = keep_inside(work, row, count, target)
    return kept


@compiled
def keep_one_run(work: FloatArray, count: int) -> None:
    """Put all corners outside but for the run of inner ones about the furthest.

    A convex polygon has one run of corners outside a line; rounding can make more of them.
    """
    ahead = behind = int(np.argmax(work[DISTANCE, :count]))
    while work[DISTANCE, ahead] >= 0.0:
        ahead = ahead + 1 if ahead + 1 < count else 0
    while work[DISTANCE, behind] >= 0.0:
        behind = behind - 1 if behind > 0 else count - 1
    while ahead != behind:
        work[DISTANCE, ahead] = -abs(work[DISTANCE, ahead])
        ahead = ahead + 1 if ahead + 1 < count else 0


@inlined
def clip(work: FloatArray, count: int, coarse_count: int, sound: BoolArray, first: int) -> Part:
    """The common polygon of the two loaded faces, without corners if it is empty.

    Sutherland and Hodgman, Reentrant polygon clipping, CACM 17(1), 1974, for convex polygons.
    `sound`, from `first` on, tells which edges of the coarse face to clip by, see `sound`.
    """
    row, spare, other = FINE, ONE, TWO
    for k in range(coarse_count):
        if not sound[first + k]:
            continue
        lowest, highest = distances(work, row, count, edge_of(work, COARSE, k))
        if highest == 0.0:
            return FINE, 0
        if lowest < 0.0:
            count = cut_off(work, row, count, spare)
            row, spare, other = spare, other, spare
    return row, count


@inlined
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


@inlined
def split(
    work: FloatArray, part: Part, depth: tuple[float, float, float], sign: float
) -> tuple[Part, Part]:
    """The parts of a polygon over and under nought depth, each with its height over nought.

    A part that is not there has no corners. Both get the same crossing points.
    """
    row, count = part
    lowest, highest = 0.0, 0.0
    for i in range(count):
        rise = depth[1] * work[row, i] + depth[2] * work[row + 1, i]
        height = sign * (depth[0] + rise)
        work[row + 2, i], work[DISTANCE, i] = height, height
        lowest, highest = min(lowest, height), max(highest, height)
    if lowest == 0.0:
        return (row, count if highest > 0.0 else 0), (BELOW, 0)
    if highest > 0.0:
        above = cut_off(work, row, count, ABOVE)
        for i in range(count):
            work[DISTANCE, i] = -work[row + 2, i]
        return (ABOVE, above), (BELOW, cut_off(work, row, count, BELOW))
    for i in range(count):
        work[row + 2, i] = -work[row + 2, i]
    return (ABOVE, 0), (row, count)


@inlined
def measure(work: FloatArray, row: int, count: int) -> Four:
    """Twice the area, six times the volume, and six times the first moments of a part.

    A fan of triangles from the first corner: the integral of a linear function over a triangle
    is its area times the mean of the function at the corners.
    """
    area, volume, moment_e, moment_n = 0.0, 0.0, 0.0, 0.0
    first_e, first_n, first_u = work[row, 0], work[row + 1, 0], work[row + 2, 0]
    e, n, u = work[row, 1], work[row + 1, 1], work[row + 2, 1]
    for i in range(2, count):
        next_e, next_n, next_u = work[row, i], work[row + 1, i], work[row + 2, i]
        double = (e - first_e) * (next_n - first_n) - (n - first_n) * (next_e - first_e)
        area += double
        volume += double * (first_u + u + next_u)
        moment_e += double * (first_e + e + next_e)
        moment_n += double * (first_n + n + next_n)
        e, n, u = next_e, next_n, next_u
    return area, volume, moment_e, moment_n
