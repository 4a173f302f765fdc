"""Where corners' letters and stands' numbers go on a dig plan's drawing: none over another.

Letters come first, outside their corners; numbers stand on their spots or, where others are in the
way, beside them, tied there by a line that is seen.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from terrain.base.arrays import BoolArray, FloatArray
from terrain.report.dig_plan_sheet import PlanDrawing, heading_of
from terrain.report.dig_plan_stand_words import corner_letter
from terrain.report.svg import text_width

LETTER, OFF, FAR = 13.5, 12.0, 17.0
"""Pixels: a corner's letter, how far off its corner it is, and from where on a line leads to it."""

DOT, APART, SEEN = 3.0, 1.5, 6.0
"""Pixels: the dot at a stand whose number is moved, what is left between marks, and how much of a
line from dot to number is seen at least."""

TRIES = 4
"""Numbers that found no room come first in the next try."""

AHEAD, OUTSIDE, CROSSING = 12.0, 25.0, 60.0
"""Pixels farther that a number rather stands than where the machine faces, than outside the dig,
or with its line across another's."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Put:
    """A mark's middle and the point it belongs to, in pixels; `moved` if a line leads there."""

    middle: FloatArray
    point: FloatArray
    moved: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Marked:
    """Corners' letters and stands' numbers by corner and number, and what they take, in pixels.

    A number that is missing has no room anywhere.
    """

    letters: dict[int, Put]
    numbers: dict[int, Put]
    taken: tuple[BaseGeometry, ...]


def marked(drawing: PlanDrawing, others: Sequence[BaseGeometry] = ()) -> Marked:
    """Places of all letters and numbers; `others` are taken already."""
    spots = {
        one.stand.number: drawing.spot(one.stand.spot) for one in drawing.plan.passes
    }  # fmt: skip
    letters = letter_places(drawing, list(spots.values()))
    boxes = [letter_box(corner, put.middle) for corner, put in letters.items()]
    taken = [*boxes, *others]
    first: list[int] = []
    best: dict[int, Put] = {}
    for _ in range(TRIES):
        found = _numbers(drawing, spots, taken, first)
        if len(found) > len(best) or not best:
            best = found
        missing = [number for number in spots if number not in found]
        if not missing:
            break
        first = [*missing, *(number for number in first if number not in missing)]
    taken += [shapely.Point(spot).buffer(DOT + 2) for spot in spots.values()]
    for put in best.values():
        taken.append(shapely.Point(put.middle).buffer(drawing.radius + 2))
        if put.moved:
            taken.append(shapely.LineString([put.point, put.middle]).buffer(1.5))
    return Marked(letters=letters, numbers=best, taken=tuple(taken))


def letter_box(corner: int, middle: FloatArray) -> shapely.Polygon:
    """What a corner's letter takes, in pixels."""
    across, down = (float(value) for value in middle)
    wide, high = text_width(corner_letter(corner), LETTER) / 2 + 1, LETTER / 2
    return shapely.box(across - wide, down - high, across + wide, down + high)


def letter_places(drawing: PlanDrawing, spots: Sequence[FloatArray]) -> dict[int, Put]:
    """Each corner's letter outside it, if it is seen, over no other letter, truck or spot."""
    corners = drawing.view.pixels(drawing.plan.site.corners)
    window = shapely.box(0, 0, drawing.view.width, drawing.view.height)
    taken: list[BaseGeometry] = [shapely.Point(spot).buffer(DOT + 3) for spot in spots]
    taken += [shapely.Polygon(drawing.view.pixels(one.ring)) for one in drawing.plan.trucks]
    found: dict[int, Put] = {}
    outline = shapely.Polygon(corners).exterior
    for corner, (at, out) in enumerate(zip(corners, _outward(corners), strict=True)):
        if not window.contains(shapely.Point(at)):
            found[corner] = Put(middle=at + OFF * out, point=at, moved=False)
            continue
        best: tuple[float, FloatArray] | None = None
        for off in (OFF, OFF + 4, OFF + 9, OFF + 15, OFF + 22, OFF + 30):
            for turn in (0, 25, -25, 50, -50, 80, -80, 110, -110):
                middle = at + off * _turned(out, np.radians(turn))
                own = letter_box(corner, middle)
                if not window.contains(own) or any(own.intersects(other) for other in taken):
                    continue
                cost = off + abs(turn) / 6 + 30.0 * own.intersects(outline)
                if best is None or cost < best[0]:
                    best = cost, middle
        middle = at + OFF * out if best is None else best[1]
        taken.append(letter_box(corner, middle).buffer(1.0))
        moved = float(np.hypot(*(middle - at))) > FAR
        found[corner] = Put(middle=middle, point=at, moved=moved)
    return found


def _outward(corners: FloatArray) -> FloatArray:
    """Unit vectors (n, 2) out of each corner, halving the angle of its walls."""
    before, after = np.roll(corners, 1, axis=0) - corners, np.roll(corners, -1, axis=0) - corners
    ways = before / np.hypot(*before.T)[:, None] + after / np.hypot(*after.T)[:, None]
    house = shapely.Polygon(corners).buffer(0)
    outs = ways / np.maximum(np.hypot(*ways.T), 1e-9)[:, None]
    within = shapely.contains_xy(house, *(corners + 3 * outs).T)
    turned: FloatArray = np.where(within[:, None], -outs, outs)
    return turned


def _turned(way: FloatArray, turn: float) -> FloatArray:
    cosine, sine = np.cos(turn), np.sin(turn)
    return np.array([way[0] * cosine - way[1] * sine, way[0] * sine + way[1] * cosine])


@dataclass(frozen=True, slots=True, kw_only=True)
class _Held:
    """What is taken: shapes, and how far the middle of a number, and its line, keep off each."""

    shapes: list[BaseGeometry]
    number: list[float]
    line: list[float]

    def add(self, shape: BaseGeometry, number: float, line: float) -> None:
        self.shapes.append(shape)
        self.number.append(number)
        self.line.append(line)


def _numbers(
    drawing: PlanDrawing,
    spots: dict[int, FloatArray],
    taken: Sequence[BaseGeometry],
    first: Sequence[int],
) -> dict[int, Put]:
    """Numbers that found room, those in `first` placed first."""
    found: dict[int, Put] = {}
    dig = shapely.Polygon(drawing.view.pixels(drawing.plan.site.dig_line)).buffer(0)
    shapely.prepare(dig)
    headings = {one.stand.number: heading_of(one.stand) for one in drawing.plan.passes}
    for number in [*first, *(number for number in spots if number not in first)]:
        held = _held(drawing, number, spots, taken, found)
        put = _put(drawing, spots[number], headings[number], held, dig)
        if put is not None:
            found[number] = put
    return found


def _held(
    drawing: PlanDrawing,
    number: int,
    spots: dict[int, FloatArray],
    taken: Sequence[BaseGeometry],
    found: dict[int, Put],
) -> _Held:
    held, radius = _Held(shapes=[], number=[], line=[]), drawing.radius
    for shape in taken:
        held.add(shape, radius + APART, APART)
    for other, spot in spots.items():
        if other != number:
            held.add(shapely.Point(spot), radius + DOT + APART, DOT + APART)
    for put in found.values():
        held.add(shapely.Point(put.middle), 2 * radius + APART, radius + APART)
        if put.moved:
            held.add(shapely.LineString([put.point, put.middle]), radius + APART, 0.0)
    return held


def _put(
    drawing: PlanDrawing, spot: FloatArray, ahead: FloatArray, held: _Held, dig: BaseGeometry
) -> Put | None:
    """On the spot if there is room, else the cheapest place about it; None where none is free."""
    if _free(drawing, spot[None], held)[0]:
        return Put(middle=spot, point=spot, moved=False)
    best: tuple[float, FloatArray] | None = None
    turns = np.linspace(0, 2 * np.pi, 24, endpoint=False)
    ways = np.stack([np.cos(turns), np.sin(turns)], axis=1)
    aside = AHEAD * np.maximum(ways @ ahead - 0.5, 0.0) * 2
    least = drawing.radius + DOT + SEEN
    at_spot = shapely.distance(shapely.Point(spot), np.array(held.shapes))
    keeps = np.minimum(held.line, at_spot)  # what is nearer to the spot can't be kept off
    for off in least + np.arange(0.0, 160.0, 5.0):
        if best is not None and best[0] <= off:
            break
        places = spot + off * ways
        free = np.flatnonzero(_free(drawing, places, held))
        if not len(free):
            continue
        lines = shapely.linestrings(
            np.stack([np.broadcast_to(spot, places[free].shape), places[free]], axis=1)
        )
        near = shapely.distance(lines[:, None], np.array(held.shapes)[None])
        crossed = ((near <= 0) & (np.array(held.line) == 0)).sum(axis=1)
        cost = off + aside[free] + CROSSING * crossed
        cost = cost + OUTSIDE * ~shapely.contains_xy(dig, *places[free].T)
        cost = np.where(np.all(near >= keeps, axis=1), cost, np.inf)
        k = int(np.argmin(cost))
        if np.isfinite(cost[k]) and (best is None or cost[k] < best[0]):
            best = float(cost[k]), places[free[k]]
    return None if best is None else Put(middle=best[1], point=spot, moved=True)


def _free(drawing: PlanDrawing, places: FloatArray, held: _Held) -> BoolArray:
    """Which of some places (m, 2) have room for a number's circle."""
    edge = drawing.radius + 3
    size = np.array([drawing.view.width, drawing.view.height])
    inside = np.all((places >= edge) & (places <= size - edge), axis=1)
    gaps = shapely.distance(shapely.points(places)[:, None], np.array(held.shapes)[None])
    free: BoolArray = inside & np.all(gaps >= np.array(held.number), axis=1)
    return free
