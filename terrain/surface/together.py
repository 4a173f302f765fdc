"""Compiled: the overlay of two surfaces of triangles only, many pairs at once."""

import numpy as np

from terrain.base.arrays import BoolArray, FloatArray, IntArray
from terrain.surface.boxtree import touching
from terrain.surface.clipping import ROWS, between
from terrain.surface.compiled import Columns, Faces, Four, Point, Task, Tree, compiled, inlined
from terrain.surface.kernel import box_together, measure_pair
from terrain.surface.sound import mark_sound
from terrain.surface.triangles import (
    AREA,
    DEPTH,
    DOUBTFUL,
    LEAST,
    MIXED,
    MOST,
    PART,
    SIZE,
    SLOPE,
    STATE,
    TOGETHER,
    B,
    C,
    P,
    Q,
    R,
    keep,
    measure_batch,
    split_batch,
)

FACES_TOGETHER = 8  # looked up in the tree as one
FEW_MIXED = 6  # of a batch: so few pairs are quicker split one by one


@inlined
def all_right(p: Point, q: Point, a: Point, b: Point, c: Point) -> bool:
    """Whether the triangle a b c is right of the line from p to q, or touches it from there."""
    along_e, along_n = q[0] - p[0], q[1] - p[1]
    a_right = along_e * (a[1] - p[1]) <= along_n * (a[0] - p[0])
    b_right = along_e * (b[1] - p[1]) <= along_n * (b[0] - p[0])
    c_right = along_e * (c[1] - p[1]) <= along_n * (c[0] - p[0])
    return a_right & b_right & c_right


@compiled
def mark_apart(triangle: FloatArray, others: FloatArray, count: int, apart: BoolArray) -> None:
    """Tell which of `others` (6, count) an edge parts from a triangle (3, 2), both turning left.

    Without branches, so that the machine does several at once.
    """
    a = (0.0, 0.0)
    b = (triangle[1, 0] - triangle[0, 0], triangle[1, 1] - triangle[0, 1])
    c = (triangle[2, 0] - triangle[0, 0], triangle[2, 1] - triangle[0, 1])
    for k in range(count):
        p = (others[0, k] - triangle[0, 0], others[1, k] - triangle[0, 1])
        q = (others[2, k] - triangle[0, 0], others[3, k] - triangle[0, 1])
        r = (others[4, k] - triangle[0, 0], others[5, k] - triangle[0, 1])
        apart[k] = (
            all_right(p, q, a, b, c)
            | all_right(q, r, a, b, c)
            | all_right(r, p, a, b, c)
            | all_right(a, b, p, q, r)
            | all_right(b, c, p, q, r)
            | all_right(c, a, p, q, r)
        )


@inlined
def add_to_batch(
    surfaces: tuple[Faces, Faces], pair: tuple[int, int, float], numbers: FloatArray, k: int
) -> None:
    """Write pair (face, other, sign of the depth) as number k of a batch."""
    (_, ring, plane), (_, other_ring, other_plane) = surfaces
    face, other, sign = pair
    origin = (ring[3 * face, 0], ring[3 * face, 1])
    keep(numbers, B, k, (ring[3 * face + 1, 0] - origin[0], ring[3 * face + 1, 1] - origin[1]))
    keep(numbers, C, k, (ring[3 * face + 2, 0] - origin[0], ring[3 * face + 2, 1] - origin[1]))
    p, q, r = 3 * other, 3 * other + 1, 3 * other + 2
    keep(numbers, P, k, (other_ring[p, 0] - origin[0], other_ring[p, 1] - origin[1]))
    keep(numbers, Q, k, (other_ring[q, 0] - origin[0], other_ring[q, 1] - origin[1]))
    keep(numbers, R, k, (other_ring[r, 0] - origin[0], other_ring[r, 1] - origin[1]))
    depth, per_e, per_n = between(plane, face, other_plane, other, origin)
    numbers[DEPTH + k] = sign * depth
    keep(numbers, SLOPE, k, (sign * per_e, sign * per_n))


@inlined
def part_of_batch(numbers: FloatArray, k: int, run: int) -> Four:
    """Twice the area, six times the volume and moments, of number k of a batch or of its PART."""
    area, moment_e = numbers[run + k], numbers[run + TOGETHER + k]
    moment_n = numbers[run + 2 * TOGETHER + k]
    rise = numbers[SLOPE + k] * moment_e + numbers[SLOPE + TOGETHER + k] * moment_n
    return area, 3.0 * numbers[DEPTH + k] * area + rise, moment_e, moment_n


@inlined
def record_of_batch(
    numbers: FloatArray, k: int, origin: Point, figures: FloatArray, at: int
) -> None:
    """Write the figures of number k of a batch to column `at`, as `kernel.record` does."""
    nothing = (0.0, 0.0, 0.0, 0.0)
    whole = part_of_batch(numbers, k, AREA)
    above = whole if numbers[MOST + k] > 0.0 else nothing
    below = whole if numbers[LEAST + k] < 0.0 else nothing
    if numbers[STATE + k] == MIXED:
        part = part_of_batch(numbers, k, PART)
        rest = (whole[0] - part[0], whole[1] - part[1], whole[2] - part[2], whole[3] - part[3])
        above, below = (part, rest) if numbers[DEPTH + k] >= 0.0 else (rest, part)
    share = 1.0 / (3.0 * above[0]) if above[0] > 0.0 else 0.0
    figures[0, at] = 0.5 * whole[0]
    figures[1, at] = 0.5 * above[0]
    figures[2, at] = max(above[1], 0.0) / 6.0
    figures[3, at] = 0.5 * below[0]
    figures[4, at] = max(-below[1], 0.0) / 6.0
    figures[5, at] = origin[0] + above[2] * share
    figures[6, at] = origin[1] + above[3] * share
    figures[7, at] = max(numbers[MOST + k], 0.0)


@compiled
def flush(
    surfaces: tuple[Faces, Faces],
    batch: tuple[IntArray, FloatArray],
    task: tuple[int, int, float],
    work: FloatArray,
    out: Columns,
) -> int:
    """The next column, once the figures of a batch are written to `out` in its order.

    `batch` is the parents of its pairs and its numbers; `task` is how many pairs it has, the first
    column and the sign of the depth.
    """
    pairs, numbers = batch
    count, at, sign = task
    measure_batch(numbers)
    mixed = 0
    for k in range(count):
        mixed += numbers[STATE + k] == MIXED
    if mixed > FEW_MIXED:
        split_batch(numbers)
    sound = np.empty(3, np.bool_)
    for k in range(count):
        face, other = pairs[0, k], pairs[1, k]
        state = numbers[STATE + k]
        if state == DOUBTFUL or (state == MIXED and mixed <= FEW_MIXED):
            mark_sound(surfaces[1][1][3 * other : 3 * other + 3], sound)
            at = measure_pair(surfaces, (face, other, sign, at), (sound, 0), work, out)
            continue
        origin = (surfaces[0][1][3 * face, 0], surfaces[0][1][3 * face, 1])
        record_of_batch(numbers, k, origin, out[1], at)
        out[0][0, at], out[0][1, at] = face, other
        at += 1
    return at


@compiled
def measure_triangles(
    fine: Faces, coarse: Faces, tree: Tree, task: Task, out: Columns
) -> tuple[int, int, int]:
    """As `kernel.measure_chunk`, where all faces of both are triangles."""
    first, last, sign, most = task
    surfaces, ring = (fine, coarse), fine[1]
    work = np.empty((ROWS, most))
    near, found = np.empty((2, len(tree[2]) + 1), np.int32)
    corners, apart = np.empty((6, len(near))), np.empty(len(near), np.bool_)
    pairs, numbers = np.empty((2, TOGETHER), np.int32), np.zeros(SIZE)
    batch = (pairs, numbers)
    done, end, candidates, waiting = 0, first, 0, 0
    for face in range(first, last):
        if face == end:
            end, box = box_together(fine[0], ring, face, min(face + FACES_TOGETHER, last))
            candidates = touching(box, tree, near, found)
            for k in range(candidates):
                for i in range(3):
                    corners[2 * i, k] = coarse[1][3 * near[k] + i, 0]
                    corners[2 * i + 1, k] = coarse[1][3 * near[k] + i, 1]
        mark_apart(ring[3 * face : 3 * face + 3], corners, candidates, apart)
        count = 0
        for k in range(candidates):
            found[count] = near[k]
            count += not apart[k]
        if done + waiting + count > out[1].shape[1]:
            last = face
            break
        for k in range(count):
            pairs[0, waiting], pairs[1, waiting] = face, found[k]
            add_to_batch(surfaces, (face, found[k], sign), numbers, waiting)
            waiting += 1
            if waiting == TOGETHER:
                done = flush(surfaces, batch, (waiting, done, sign), work, out)
                waiting = 0
    done = flush(surfaces, batch, (waiting, done, sign), work, out)
    return done, done, last
