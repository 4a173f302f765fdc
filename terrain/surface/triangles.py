"""Compiled: what many pairs of triangles enclose, several pairs at once.

The figures of a pair come from the rim of the common polygon, without making the polygon: by
Green's theorem its area and moments are sums over its sides, and each of its sides is what one
triangle leaves of a side of the other. No step branches, so that the machine does several pairs at
a time. What rounding could spoil is only told, for `clipping` to do with care: sides nearly
parallel, corners on sides, a small second triangle, next to nothing in common.

Of the first triangle a b c the corner a is the origin; the second is p q r. `numbers` are those of
a batch, each a run of TOGETHER.
"""

import numpy as np

from terrain.base.arrays import FloatArray
from terrain.surface.branchless import (
    Three,
    cross,
    crosses,
    cut,
    dot,
    larger,
    largest,
    least,
    left_in,
    less,
    origin_left_of,
    smaller,
    squares,
    sum_of,
)
from terrain.surface.compiled import Point, compiled, inlined

TOGETHER = 64  # pairs of a batch

# Where the runs begin. What goes in: corners, easting and northing of each, then the depth at the
# origin and its change per easting and northing.
B, C, P, Q, R, SLOPE, DEPTH = (k * TOGETHER for k in (0, 2, 4, 6, 8, 10, 12))
# What is kept between the steps: first and last share of the sides p q, q r, r p and b c that
# the other triangle leaves.
PQ, QR, RP, BC = (k * TOGETHER for k in (13, 15, 17, 19))
# What comes out: twice the area, six times its first moments, least and greatest depth; the same
# area and moments of the part where the depth has the sign it has at the origin; a state.
AREA, MOMENT, LEAST, MOST, PART, MOMENT_PART, STATE, SIZE = (
    k * TOGETHER for k in (21, 22, 24, 25, 26, 27, 29, 30)
)
SURE, MIXED, DOUBTFUL = 0.0, 1.0, 2.0

PARALLEL = 3e-3**2  # square of the sine of the angle under which lines are nearly parallel
SMALL = 1e-3  # square of the longest side of the second triangle over that of the first
HAIR = 1e-9  # distance of a corner from a side, over the longest side, that puts it on the side
LITTLE = 1e-10  # common area over that of the first triangle, or of one sign over both


@inlined
def number(numbers: FloatArray, run: int, k: int) -> Point:
    """Two numbers of pair k: of a run and the next."""
    return numbers[run + k], numbers[run + TOGETHER + k]


@inlined
def keep(numbers: FloatArray, run: int, k: int, value: Point) -> None:
    """Write two numbers of pair k: to a run and the next."""
    numbers[run + k], numbers[run + TOGETHER + k] = value


@inlined
def rim(start: Point, side: Point, at: float, kept: Point) -> Three:
    """What a piece of a line adds to twice the area and six times the moments.

    The origin is `at` left of the line, times the length of `side`.
    """
    area = at * larger(kept[1] - kept[0], 0.0)
    twice = kept[0] + kept[1]
    return (
        area,
        area * (2.0 * start[0] + twice * side[0]),
        area * (2.0 * start[1] + twice * side[1]),
    )


@inlined
def widened(reach: Point, depth: float, counts: bool) -> Point:
    """Least and greatest depth, with one more if it counts."""
    low = depth if counts else reach[0]
    high = depth if counts else reach[1]
    return smaller(reach[0], low), larger(reach[1], high)


@inlined
def widened_by_ends(reach: Point, depth: float, climb: float, kept: Point) -> Point:
    """Least and greatest depth, with those at the ends of what is kept of a side."""
    reach = widened(reach, depth + kept[0] * climb, kept[0] < kept[1])
    return widened(reach, depth + kept[1] * climb, kept[0] < kept[1])


@inlined
def any_parallel(turn: Three, square: float, others: Three) -> bool:
    """Whether a line is nearly parallel to one of three, given all squares of lengths."""
    return (
        (turn[0] * turn[0] < PARALLEL * square * others[0])
        | (turn[1] * turn[1] < PARALLEL * square * others[1])
        | (turn[2] * turn[2] < PARALLEL * square * others[2])
    )


@inlined
def on_side(inside: tuple[Three, Three, Three], near: float) -> bool:
    """Whether one of three corners is on a side, from how far inside the sides they are."""
    return (
        (abs(least(inside[0])) < near)
        | (abs(least(inside[1])) < near)
        | (abs(least(inside[2])) < near)
    )


@compiled
def measure_batch(numbers: FloatArray) -> None:
    """Write what comes of all pairs of a batch, those left empty too, but for PART and on."""
    for k in range(TOGETHER):
        b, c = number(numbers, B, k), number(numbers, C, k)
        p, q, r = number(numbers, P, k), number(numbers, Q, k), number(numbers, R, k)
        slope, depth = number(numbers, SLOPE, k), numbers[DEPTH + k]
        bc, ca = less(c, b), (-c[0], -c[1])
        pq, qr, rp = less(q, p), less(r, q), less(p, r)
        # how far left of the sides p q, q r and r p the corners a, b and c are
        a_in = (origin_left_of(p, q, pq), origin_left_of(q, r, qr), origin_left_of(r, p, rp))
        second_sides = (pq, qr, rp)
        turn_ab, turn_bc = crosses(b, second_sides), crosses(bc, second_sides)
        turn_ca = crosses(ca, second_sides)
        b_in = (a_in[0] - turn_ab[0], a_in[1] - turn_ab[1], a_in[2] - turn_ab[2])
        c_in = (a_in[0] + turn_ca[0], a_in[1] + turn_ca[1], a_in[2] + turn_ca[2])
        whole = (0.0, 1.0)
        kept_pq = left_in(
            whole, (cross(b, p), cross(bc, less(p, b)), cross(ca, p)),
            (turn_ab[0], turn_bc[0], turn_ca[0]),
        )  # fmt: skip
        kept_qr = left_in(
            whole, (cross(b, q), cross(bc, less(q, b)), cross(ca, q)),
            (turn_ab[1], turn_bc[1], turn_ca[1]),
        )  # fmt: skip
        kept_rp = left_in(
            whole, (cross(b, r), cross(bc, less(r, b)), cross(ca, r)),
            (turn_ab[2], turn_bc[2], turn_ca[2]),
        )  # fmt: skip
        kept_bc = left_in(whole, b_in, (-turn_bc[0], -turn_bc[1], -turn_bc[2]))
        # the sides a b and c a go through the origin and add nothing
        own = cross(b, c)
        area, moment_e, moment_n = sum_of(
            rim(p, pq, a_in[0], kept_pq), rim(q, qr, a_in[1], kept_qr),
            rim(r, rp, a_in[2], kept_rp), rim(b, bc, own, kept_bc),
        )  # fmt: skip
        reach = widened((np.inf, -np.inf), depth, least(a_in) > 0.0)
        reach = widened(reach, depth + dot(slope, b), least(b_in) > 0.0)
        reach = widened(reach, depth + dot(slope, c), least(c_in) > 0.0)
        reach = widened_by_ends(reach, depth + dot(slope, p), dot(slope, pq), kept_pq)
        reach = widened_by_ends(reach, depth + dot(slope, q), dot(slope, qr), kept_qr)
        reach = widened_by_ends(reach, depth + dot(slope, r), dot(slope, rp), kept_rp)
        first, second = squares((b, bc, ca)), squares(second_sides)
        doubtful = (
            any_parallel(turn_ab, first[0], second)
            | any_parallel(turn_bc, first[1], second)
            | any_parallel(turn_ca, first[2], second)
            | (largest(second) < SMALL * largest(first))
            | on_side((a_in, b_in, c_in), HAIR * largest(second))
            | (not area >= LITTLE * abs(own))  # no number too
        )
        mixed = (reach[0] < 0.0) & (reach[1] > 0.0)
        state = MIXED if mixed else SURE
        numbers[STATE + k] = DOUBTFUL if doubtful else state
        numbers[AREA + k], numbers[LEAST + k], numbers[MOST + k] = area, reach[0], reach[1]
        keep(numbers, MOMENT, k, (moment_e, moment_n))
        keep(numbers, PQ, k, kept_pq)
        keep(numbers, QR, k, kept_qr)
        keep(numbers, RP, k, kept_rp)
        keep(numbers, BC, k, kept_bc)


@inlined
def where_positive(depth: float, climb: float, kept: Point) -> Point:
    """What of the kept part of a side has positive depth."""
    return cut(kept, -depth / climb, climb > 0.0)


@compiled
def split_batch(numbers: FloatArray) -> None:
    """Write area and moments of the part with the origin's sign of depth, of all pairs.

    The line of nought depth is one more side of that part. A mixed pair whose line is nearly
    parallel to a side, or that has next to nothing on one side of it, becomes doubtful.
    """
    for k in range(TOGETHER):
        b, c = number(numbers, B, k), number(numbers, C, k)
        p, q, r = number(numbers, P, k), number(numbers, Q, k), number(numbers, R, k)
        slope, sign = number(numbers, SLOPE, k), 1.0 if numbers[DEPTH + k] >= 0.0 else -1.0
        slope, depth = (sign * slope[0], sign * slope[1]), sign * numbers[DEPTH + k]
        bc, ca = less(c, b), (-c[0], -c[1])
        pq, qr, rp = less(q, p), less(r, q), less(p, r)
        # the line, what is positive on its left; its foot is the point nearest to the origin
        line, steep = (slope[1], -slope[0]), dot(slope, slope)
        foot = (-depth * slope[0] / steep, -depth * slope[1] / steep)
        turn_first = (cross(b, line), cross(bc, line), cross(ca, line))
        turn_second = (cross(pq, line), cross(qr, line), cross(rp, line))
        kept = left_in(
            (-np.inf, np.inf),
            (cross(b, foot), cross(bc, less(foot, b)), cross(ca, foot)),
            turn_first,
        )
        kept = left_in(
            kept, (cross(pq, less(foot, p)), cross(qr, less(foot, q)), cross(rp, less(foot, r))),
            turn_second,
        )  # fmt: skip
        kept_pq = where_positive(depth + dot(slope, p), dot(slope, pq), number(numbers, PQ, k))
        kept_qr = where_positive(depth + dot(slope, q), dot(slope, qr), number(numbers, QR, k))
        kept_rp = where_positive(depth + dot(slope, r), dot(slope, rp), number(numbers, RP, k))
        kept_bc = where_positive(depth + dot(slope, b), dot(slope, bc), number(numbers, BC, k))
        area, moment_e, moment_n = sum_of(
            rim(p, pq, origin_left_of(p, q, pq), kept_pq),
            rim(q, qr, origin_left_of(q, r, qr), kept_qr),
            rim(r, rp, origin_left_of(r, p, rp), kept_rp),
            rim(b, bc, cross(b, c), kept_bc),
        )
        line_area, line_e, line_n = rim(foot, line, depth, kept)
        numbers[PART + k] = area + line_area
        keep(numbers, MOMENT_PART, k, (moment_e + line_e, moment_n + line_n))
        rest = numbers[AREA + k] - (area + line_area)
        doubtful = (
            any_parallel(turn_first, steep, squares((b, bc, ca)))
            | any_parallel(turn_second, steep, squares((pq, qr, rp)))
            | (not smaller(area + line_area, rest) >= LITTLE * numbers[AREA + k])
        )
        state = numbers[STATE + k]
        numbers[STATE + k] = DOUBTFUL if doubtful & (state == MIXED) else state
