"""The outside faces of a foundation as a ring of corners, however they are given.

All functions take and return plan positions (easting, northing) in one length unit. Wall i runs
from corner i to the next. Turns are counter-clockwise positive, bearings clockwise from north.
"""

from dataclasses import dataclass

import numpy as np
import shapely

from terrain.base.arrays import FloatArray

SHORTEST_WALL = 1e-6
SQUARE_WITHIN = 5.0
"""Degrees from a right angle up to which a corner is taken to be meant square."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Traverse:
    """A closed figure from a bearing, lengths and turns.

    `corners` (n, 2) have the misclosure spread over them; `misclosure` (2,) is how far east and
    north of the first corner the last wall ended before that.
    """

    corners: FloatArray
    misclosure: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class StakeFit:
    """A figure laid on stakes: its `corners` (n, 2), and `residuals` (n, 2), stake less corner."""

    corners: FloatArray
    residuals: FloatArray

    @property
    def misses(self) -> FloatArray:
        """How far each stake stands from its corner (n,)."""
        return np.hypot(self.residuals[:, 0], self.residuals[:, 1])


@dataclass(frozen=True, slots=True, kw_only=True)
class Dimensions:
    """What a tape would measure of an outline.

    `lengths` (n,) of the walls; `angles` (n,) within the outline at each corner, degrees;
    `out_of_square` (n,) degrees over or under a right angle (inside or outside corner), NaN where
    the corner is not meant square; `diagonals` as (corner, corner, length), numbered from 0.
    """

    lengths: FloatArray
    angles: FloatArray
    out_of_square: FloatArray
    diagonals: tuple[tuple[int, int, float], ...]
    area: float
    perimeter: float


def traverse(
    first_corner: FloatArray, bearing: float, lengths: FloatArray, turns: FloatArray
) -> Traverse:
    """The figure whose first wall leaves `first_corner` on `bearing`, each turn after its wall.

    `lengths` (n,), `turns` (n - 1,) or (n,) in degrees; a last turn does not move a corner. The
    misclosure is spread in proportion to the length run (the compass rule).
    """
    count = len(lengths)
    headings = bearing - np.concatenate([[0.0], np.cumsum(turns[: count - 1])])
    along = np.radians(headings)
    steps = lengths[:, None] * np.column_stack([np.sin(along), np.cos(along)])
    ends = np.cumsum(steps, axis=0)
    misclosure = ends[-1]
    run = np.cumsum(lengths)
    adjusted = ends - misclosure * (run / run[-1])[:, None]
    corners = first_corner + np.concatenate([[[0.0, 0.0]], adjusted[:-1]])
    return Traverse(corners=corners, misclosure=misclosure)


def fit_to_stakes(figure: FloatArray, stakes: FloatArray) -> StakeFit:
    """The figure (n, 2) shifted and turned, never scaled or mirrored, to n stakes in its order.

    Least squares: centroids meet, and the turn has tan = sum of cross over sum of dot products
    (the plane case of Kabsch 1976, Acta Cryst. A32:922; from memory).
    """
    middle, centre = figure.mean(axis=0), stakes.mean(axis=0)
    own, seen = figure - middle, stakes - centre
    cross = np.sum(own[:, 0] * seen[:, 1] - own[:, 1] * seen[:, 0])
    dot = np.sum(own * seen)
    turn = np.arctan2(cross, dot)
    rotation = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    corners = own @ rotation.T + centre
    return StakeFit(corners=corners, residuals=stakes - corners)


def signed_area(corners: FloatArray) -> float:
    """The area of a ring (n, 2), negative if it goes clockwise."""
    own = corners - corners[0]
    after = np.roll(own, -1, axis=0)
    return float(np.sum(own[:, 0] * after[:, 1] - own[:, 1] * after[:, 0]) / 2)


def counter_clockwise(corners: FloatArray) -> tuple[FloatArray, tuple[int, ...]]:
    """The ring counter-clockwise, and for each of its walls the number it had as drawn.

    A ring drawn clockwise is reversed; each number stays with its own face.
    """
    count = len(corners)
    if signed_area(corners) >= 0.0:
        return corners, tuple(range(count))
    return corners[::-1].copy(), tuple((count - 2 - i) % count for i in range(count))


def outline_problems(corners: FloatArray, walls: tuple[str, ...]) -> list[str]:
    """What keeps a ring (n, 2) from being an outline, in words that name the walls."""
    problems = _repeated_corners(corners, walls)
    if problems:
        return problems
    if _on_one_line(corners):
        return ["the corners lie on one line: the outline has no area"]
    return [*_folded_corners(corners, walls), *_crossing_walls(corners, walls)]


def _on_one_line(corners: FloatArray) -> bool:
    own = corners - corners[0]
    far = own[np.argmax(np.hypot(own[:, 0], own[:, 1]))]
    off = np.abs(own[:, 0] * far[1] - own[:, 1] * far[0])
    return bool(off.max() <= 1e-9 * (far @ far))


def _at(corner: FloatArray) -> str:
    return f"({corner[0]:.3f}, {corner[1]:.3f})"


def _repeated_corners(corners: FloatArray, walls: tuple[str, ...]) -> list[str]:
    count = len(corners)
    problems = []
    for i in range(count):
        apart = np.hypot(*(corners[i + 1 :] - corners[i]).T)
        for j in (np.nonzero(apart < SHORTEST_WALL)[0] + i + 1).tolist():
            both = f"corners {i + 1} and {j + 1} are both at {_at(corners[i])}"
            if j == i + 1:
                problems.append(f'{both}: "{walls[i]}" has no length')
            elif i == 0 and j == count - 1:
                problems.append(
                    f'{both}: "{walls[j]}" has no length (the outline closes by itself)'
                )
            else:
                problems.append(f"{both}: an outline passes each corner once")
    return problems


def _folded_corners(corners: FloatArray, walls: tuple[str, ...]) -> list[str]:
    back = corners - np.roll(corners, 1, axis=0)
    ahead = np.roll(corners, -1, axis=0) - corners
    cross = back[:, 0] * ahead[:, 1] - back[:, 1] * ahead[:, 0]
    dot = np.sum(back * ahead, axis=1)
    folded = (dot < 0.0) & (np.abs(cross) <= 1e-9 * np.abs(dot))
    return [
        f'"{walls[i - 1]}" and "{walls[i]}" fold back on each other at '
        f"corner {i + 1} {_at(corners[i])}"
        for i in np.nonzero(folded)[0]
    ]


def _crossing_walls(corners: FloatArray, walls: tuple[str, ...]) -> list[str]:
    count = len(corners)
    lines = shapely.linestrings(np.stack([corners, np.roll(corners, -1, axis=0)], axis=1))
    pairs = shapely.STRtree(lines).query(lines, predicate="intersects").T
    problems = []
    for i, j in sorted(tuple(p) for p in pairs.tolist()):
        if i < j and j - i not in (1, count - 1):
            where = shapely.get_coordinates(shapely.intersection(lines[i], lines[j]))[0]
            problems.append(f'"{walls[i]}" and "{walls[j]}" cross or touch at {_at(where)}')
    return problems


def dimensions(corners: FloatArray) -> Dimensions:
    """Lengths, angles and diagonals of a ring (n, 2), drawn either way round.

    A ring of four has its two diagonals; one of more has those from corners 1 and 2 to every
    corner that is not their neighbour, which fix the whole figure.
    """
    own = corners - corners[0]
    count = len(own)
    ahead = np.roll(own, -1, axis=0) - own
    back = np.roll(ahead, 1, axis=0)
    cross = back[:, 0] * ahead[:, 1] - back[:, 1] * ahead[:, 0]
    turns = np.degrees(np.arctan2(cross, np.sum(back * ahead, axis=1)))
    turns *= 1.0 if signed_area(corners) >= 0.0 else -1.0
    angles = 180.0 - turns
    off = angles - np.where(angles < 180.0, 90.0, 270.0)
    lengths = np.hypot(ahead[:, 0], ahead[:, 1])
    diagonals = tuple(
        (i, j, float(np.hypot(*(own[j] - own[i]))))
        for i in range(min(2, count))
        for j in range(i + 2, count)
        if not (i == 0 and j == count - 1)
    )
    return Dimensions(
        lengths=lengths,
        angles=angles,
        out_of_square=np.where(np.abs(off) <= SQUARE_WITHIN, off, np.nan),
        diagonals=diagonals,
        area=abs(signed_area(corners)),
        perimeter=float(lengths.sum()),
    )
