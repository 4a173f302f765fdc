"""Compiled: plane geometry without branches, for loops that do several pairs of faces at once.

A loop of such steps is turned into vector instructions; one branch in it would undo that.
"""

from terrain.surface.compiled import Point, inlined

Three = tuple[float, float, float]
Corners = tuple[Point, Point, Point]


@inlined
def larger(a: float, b: float) -> float:
    """The larger of two, without a branch."""
    return a if a > b else b


@inlined
def smaller(a: float, b: float) -> float:
    """The smaller of two, without a branch."""
    return a if a < b else b


@inlined
def largest(of: Three) -> float:
    """The largest of three."""
    return larger(larger(of[0], of[1]), of[2])


@inlined
def least(of: Three) -> float:
    """The least of three."""
    return smaller(smaller(of[0], of[1]), of[2])


@inlined
def less(p: Point, q: Point) -> Point:
    """The way from q to p."""
    return p[0] - q[0], p[1] - q[1]


@inlined
def cross(p: Point, q: Point) -> float:
    """How far q lies left of the way p, times its length."""
    return p[0] * q[1] - p[1] * q[0]


@inlined
def dot(p: Point, q: Point) -> float:
    """How far q lies along the way p, times its length."""
    return p[0] * q[0] + p[1] * q[1]


@inlined
def crosses(side: Point, others: Corners) -> Three:
    """The cross products of one way with three."""
    return cross(side, others[0]), cross(side, others[1]), cross(side, others[2])


@inlined
def squares(sides: Corners) -> Three:
    """The squares of three lengths."""
    return dot(sides[0], sides[0]), dot(sides[1], sides[1]), dot(sides[2], sides[2])


@inlined
def origin_left_of(p: Point, q: Point, side: Point) -> float:
    """How far left of the side from p to q the origin is, times the side's length.

    Reckoned from the end nearer to the origin: seen from the triangle across the side it is the
    same with its sign turned, so that no point is on neither side.
    """
    far = dot(q, q) < dot(p, p)
    return cross((q[0] if far else p[0], q[1] if far else p[1]), side)


@inlined
def cut(interval: Point, at: float, enters: bool) -> Point:
    """An interval without what is before (enters) or after a crossing."""
    low = at if enters else interval[0]
    high = interval[1] if enters else at
    return larger(interval[0], low), smaller(interval[1], high)


@inlined
def left_in(interval: Point, left: Three, turn: Three) -> Point:
    """What of an interval of a line is left of three sides; if nothing, it ends before it begins.

    At nought the line is `left` of the sides, and `turn` is the cross product of each of them with
    the line's direction.
    """
    interval = cut(interval, -left[0] / turn[0], turn[0] > 0.0)
    interval = cut(interval, -left[1] / turn[1], turn[1] > 0.0)
    return cut(interval, -left[2] / turn[2], turn[2] > 0.0)


@inlined
def sum_of(one: Three, two: Three, three: Three, four: Three) -> Three:
    """The sum of four."""
    return (
        (one[0] + two[0]) + (three[0] + four[0]),
        (one[1] + two[1]) + (three[1] + four[1]),
        (one[2] + two[2]) + (three[2] + four[2]),
    )
