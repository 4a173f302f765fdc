"""Pits on level ground whose every part is known in closed form."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from tests.laws.site import Steps
from tests.oracles.exact import (
    BACK,
    HALF_BACK,
    HALF_RIGHT,
    RIGHT,
    ROOT_TWO,
    STRAIGHT,
    Climb,
    Tread,
    Walls,
    drop_height,
    moved,
    rectangle,
    rectangle_cores,
    sides,
)

Number = int | float | Fraction


@dataclass
class Shape:
    """A pit `depth` below level ground, and what its walls hold in cubic units.

    `core` is by wall where it can be told by hand, else one number for all.
    """

    name: str
    corners: list[tuple[Number, Number]]
    overdig: list[Number]
    side: Sequence[Number | Steps]
    depth: Number
    core: list[Fraction] | Fraction
    strips: list[Fraction]
    swept: list[Fraction]

    @property
    def total(self) -> float:
        """The whole pit."""
        core = self.core if isinstance(self.core, Fraction) else sum(self.core)
        return float(core + sum(self.strips) + sum(self.swept))

    def plan(self) -> np.ndarray:
        """The corners (n, 2)."""
        return np.array([[float(e), float(n)] for e, n in self.corners])


def exactly(*numbers: Number) -> list[Fraction]:
    """Numbers as the fractions that they are."""
    return [Fraction(n) for n in numbers]


def _made(
    name: str,
    corners: list[tuple[Number, Number]],
    walls: Walls,
    given: tuple[Sequence[Number], Sequence[Number | Steps], Number],
    swept: list[Fraction],
    core: list[Fraction] | Fraction,
) -> Shape:
    overdig, side, depth = given
    strips = [area * Fraction(depth) for area in walls.strips(exactly(*overdig))]
    return Shape(name, corners, list(overdig), side, depth, core, strips, swept)


HOUSE = [(0, 0), (50, 0), (50, 30), (0, 30)]
HOUSE_WALLS = rectangle(Fraction(50), Fraction(30))


def _house(name: str, overdig: Sequence[Number], side: Sequence[Number | Steps], depth: Number,
           moves: list[Climb | Tread]) -> Shape:  # fmt: skip
    core = [area * Fraction(depth) for area in rectangle_cores(Fraction(50), Fraction(30))]
    swept = sides(moved(HOUSE_WALLS, exactly(*overdig)), moves, Fraction(depth))
    return _made(name, HOUSE, HOUSE_WALLS, (overdig, side, depth), swept, core)


def sloped_alike() -> Shape:
    return _house("sloped alike", [2] * 4, [1] * 4, 8, [Climb(exactly(1, 1, 1, 1), Fraction(8))])


def sloped_unlike() -> Shape:
    runs = [1, 0.25, 1.5, 0.75]
    moves = [Climb(exactly(*runs), Fraction(8))]
    return _house("every wall its own side and overdig", [2, 1, 3, 0.5], runs, 8, moves)


def vertical() -> Shape:
    return _house("vertical", [2, 1.5, 2, 1.5], [0] * 4, 8, [])


def benched() -> Shape:
    up, back = Climb(exactly(0, 0, 0, 0), Fraction(4)), Tread(exactly(4, 4, 4, 4))
    side = [[(0, 4), (4, 0)]] * 4
    return _house("benches", [2] * 4, side, 10, [up, back, up, back, up])


def benched_unlike() -> Shape:
    """Benches at 4 and 8 on two walls, at 5 on one, a slope on the last."""
    slope = Fraction(1, 2)
    side = [[(0, 4), (4, 0)], [(0, 5), (3, 0)], [(0, 4), (4, 0)], 0.5]

    def up(rise: Number) -> Climb:
        return Climb([Fraction(0), Fraction(0), Fraction(0), slope], Fraction(rise))

    low, high = Tread(exactly(4, 0, 4, 0)), Tread(exactly(0, 3, 0, 0))
    moves = [up(4), low, up(1), high, up(3), low, up(1)]
    return _house("unlike benches beside a slope", [2, 1, 2, 0], side, 9, moves)


def vertical_foot() -> Shape:
    foot = Climb(exactly(0, 0, 0, 0), Fraction(7, 2))
    side = [[(0, 3.5), (1, 1)]] * 4
    moves = [foot, Climb(exactly(1, 1, 1, 1), Fraction(9))]
    return _house("vertical foot, then a slope", [2] * 4, side, 9, moves)


def bench_then_slope() -> Shape:
    side = [[(0, 4), (3, 0), (0.5, 1)]] * 4
    half = exactly(*[0.5] * 4)
    moves: list[Climb | Tread] = [
        Climb(exactly(0, 0, 0, 0), Fraction(4)),
        Tread(exactly(3, 3, 3, 3)),
        Climb(half, Fraction(9)),
    ]
    return _house("a bench, then a slope for ever", [1.5] * 4, side, 9, moves)


def ell() -> Shape:
    """An L: the inside corner's walls shrink as they go out."""
    corners = [(0, 0), (50, 0), (50, 20), (30, 20), (30, 40), (0, 40)]
    walls = Walls(exactly(50, 20, 20, 20, 30, 40), [RIGHT, RIGHT, BACK, RIGHT, RIGHT, RIGHT])
    overdig, runs = [2, 1, 2, 3, 1, 2], [1, 0.5, 0.75, 1, 0.25, 1.5]
    swept = sides(
        moved(walls, exactly(*overdig)), [Climb(exactly(*runs), Fraction(8))], Fraction(8)
    )
    area = 50 * 20 + 30 * 20
    return _made("L outline", corners, walls, (overdig, runs, 8), swept, Fraction(area * 8))


U_CORNERS = [(0, 0), (50, 0), (50, 35), (40, 35), (40, 15), (10, 15), (10, 35), (0, 35)]
U_TURNS = [RIGHT, RIGHT, RIGHT, BACK, BACK, RIGHT, RIGHT, RIGHT]


def you() -> Shape:
    """A U whose court stays open."""
    walls = Walls(exactly(50, 35, 10, 20, 30, 20, 10, 35), U_TURNS)
    overdig, runs = [2, 2, 1, 2, 1, 2, 1, 2], [1, 1, 0.5, 0.75, 1, 0.75, 0.5, 1]
    swept = sides(
        moved(walls, exactly(*overdig)), [Climb(exactly(*runs), Fraction(8))], Fraction(8)
    )
    area = 50 * 35 - 30 * 20
    return _made("U outline", U_CORNERS, walls, (overdig, runs, 8), swept, Fraction(area * 8))


def narrow_notch() -> Shape:
    """A notch 2 wide whose sides meet on the way up; then the two ends of the wall go on as one."""
    corners = [(0, 0), (30, 0), (30, 20), (16, 20), (16, 10), (14, 10), (14, 20), (0, 20)]
    walls = Walls(exactly(30, 20, 14, 10, 2, 10, 14, 20), U_TURNS)
    runs = [0.5, 0.5, 0.5, 0.5, 1, 0.25, 0.5, 0.5]
    exact_runs, depth = exactly(*runs), Fraction(8)
    meet = drop_height(walls, exact_runs, 4)
    swept = sides(walls, [Climb(exact_runs, meet)], depth)
    left = walls.at([r * meet for r in exact_runs])
    kept = [0, 1, 2, 6, 7]
    closed = Walls([left[k] for k in kept], [RIGHT, RIGHT, STRAIGHT, RIGHT, RIGHT])
    above = sides(closed, [Climb([exact_runs[k] for k in kept], depth)], depth, meet)
    for k, volume in zip(kept, above, strict=True):
        swept[k] += volume
    area = 30 * 20 - 2 * 10
    given = ([0] * 8, runs, 8)
    return _made("a notch whose sides meet", corners, walls, given, swept, Fraction(area * 8))


def clipped() -> Shape:
    """A corner clipped by 4 at 1.5:1 between walls at 0.25:1: the clip drops out on the way up."""
    corners = [(0, 0), (48, 0), (48, 24), (44, 28), (0, 28)]
    walls = Walls(
        [*exactly(48, 24), 4 * ROOT_TWO, *exactly(44, 28)],
        [RIGHT, HALF_RIGHT, HALF_RIGHT, RIGHT, RIGHT],
    )
    runs, depth = [0.25, 0.25, 1.5, 0.25, 0.25], Fraction(8)
    exact_runs = exactly(*runs)
    gone = drop_height(walls, exact_runs, 2)
    swept = sides(walls, [Climb(exact_runs, gone)], depth)
    left = walls.at([r * gone for r in exact_runs])
    kept = [0, 1, 3, 4]
    square = Walls([left[k] for k in kept], [RIGHT] * 4)
    above = sides(square, [Climb([exact_runs[k] for k in kept], depth)], depth, gone)
    for k, volume in zip(kept, above, strict=True):
        swept[k] += volume
    given = ([0] * 5, runs, 8)
    return _made("a clip that drops out", corners, walls, given, swept, Fraction((48 * 28 - 8) * 8))


def bay() -> Shape:
    """A bay of 3 with sides at 45 degrees in the front wall; walls dig at their own slopes."""
    corners = [(0, 0), (16, 0), (19, -3), (27, -3), (30, 0), (48, 0), (48, 28), (0, 28)]
    walls = Walls(
        [Fraction(16), 3 * ROOT_TWO, Fraction(8), 3 * ROOT_TWO, *exactly(18, 28, 48, 28)],
        [HALF_BACK, HALF_RIGHT, HALF_RIGHT, HALF_BACK, RIGHT, RIGHT, RIGHT, RIGHT],
    )
    overdig, runs = [2, 1.5, 2, 2, 2, 1, 3, 2], [1, 0.75, 0.75, 1, 1, 0.5, 1.5, 1]
    swept = sides(
        moved(walls, exactly(*overdig)), [Climb(exactly(*runs), Fraction(8))], Fraction(8)
    )
    area = 48 * 28 + 3 * (14 + 8) // 2
    return _made("a bay", corners, walls, (overdig, runs, 8), swept, Fraction(area * 8))


def inverted_jog() -> Shape:
    """A jog of 1 turned inside out by overdigs of 3 and 1: a square step on the jog's own line."""
    corners = [(0, 0), (10, 0), (10, -1), (20, -1), (20, 12), (0, 12)]
    depth = Fraction(8)
    wedge = 10 * depth**2 / 2
    none = Fraction(0)
    return Shape(
        "a jog turned inside out", corners, [3, 0, 1, 0, 0, 0], [1, 0, 0.5, 0, 0, 0], 8,
        core=Fraction(250) * depth,
        strips=[30 * depth, none, 10 * depth, none, none, none],
        swept=[wedge, none, wedge / 2, none, none, none],
    )  # fmt: skip


def square_step() -> Shape:
    """Two walls in one line with unlike overdigs and sides: they part square to the line."""
    corners = [(0, 0), (20, 0), (50, 0), (50, 30), (0, 30)]
    walls = Walls(exactly(20, 30, 30, 50, 30), [STRAIGHT, RIGHT, RIGHT, RIGHT, RIGHT])
    overdig, runs = [2, 4, 1, 2, 2], [1, 0.5, 0.25, 1, 0.75]
    swept = sides(
        moved(walls, exactly(*overdig)), [Climb(exactly(*runs), Fraction(8))], Fraction(8)
    )
    given = (overdig, runs, 8)
    return _made("a square step", corners, walls, given, swept, Fraction(50 * 30 * 8))


SHAPES = [
    sloped_alike(), sloped_unlike(), vertical(), benched(), benched_unlike(), vertical_foot(),
    bench_then_slope(), ell(), you(), narrow_notch(), clipped(), bay(), inverted_jog(),
    square_step(),
]  # fmt: skip
