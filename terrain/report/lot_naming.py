"""The names and figures of a lot plan, each where it covers nothing."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from shapely import LineString, MultiLineString, Point, Polygon, box
from shapely.ops import polylabel

from terrain.base.arrays import FloatArray
from terrain.report import figures, inks, lot_inks
from terrain.report.drawing import closed
from terrain.report.labels import (
    LINE_HEIGHT,
    Sheet,
    Spot,
    along_line,
    along_wall,
    around,
    inside,
)
from terrain.report.lot_drawing import LotDrawing
from terrain.report.lot_wall_names import LONGEST_NAME, name_walls
from terrain.report.names import plain, shortened
from terrain.report.naming import north_room
from terrain.report.svg import text_width
from terrain.report.written import Written

SAME_GRADE_APART = 90.0
"""Pixels within which one elevation of finished ground is told once."""

LEVELS_APART = 150.0
"""Pixels along a contour from one figure to the next, about."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LotNames:
    """The markup of all names and figures of a lot plan, and what of them is told under it.

    `by_letter` are the letters that stand on it and the names of their walls; `left_off` how many
    names stand nowhere.
    """

    markup: str
    by_letter: tuple[tuple[str, str], ...]
    left_off: int


def lot_names(drawing: LotDrawing) -> LotNames:
    """All names and figures, each where it covers nothing."""
    sheet, written = _sheet(drawing), Written()
    _grades(drawing, sheet, written)
    _things(drawing, sheet, written)
    _faces(drawing, sheet, written)
    _ponds(drawing, sheet, written)
    by_letter = name_walls(drawing, sheet, written)
    left_off = written.left_off
    _levels(drawing, sheet, written)
    _changes(drawing, sheet, written)
    return LotNames(markup=written.markup(), by_letter=tuple(by_letter), left_off=left_off)


def _sheet(drawing: LotDrawing) -> Sheet:
    plan, view = drawing.plan, drawing.view
    design = plan.design
    rings = [design.boundary, design.house, plan.dig_line]
    rings += [pad.corners for pad in design.pads]
    lines = view.lines([*map(closed, rings), *(swale.line for swale in design.swales)])
    lines += view.lines(line.line for line in plan.after)
    window = box(3, 3, view.width - 3, view.height - 3)
    return Sheet(window=window, lines=MultiLineString(lines), taken=[north_room(view)])


def _grades(drawing: LotDrawing, sheet: Sheet, written: Written) -> None:
    """Finished ground at the corners of the house, each elevation once along a level stretch."""
    house = Polygon(drawing.view.pixels(drawing.plan.design.house))
    unit, size = drawing.answer.length_unit, drawing.size - 1
    seen: dict[str, list[Point]] = {}
    for grade in drawing.plan.grades:
        place = drawing.view.pixels(grade.place)
        content = figures.coordinate(grade.upward, unit)
        if any(Point(place).distance(other) < SAME_GRADE_APART for other in seen.get(content, [])):
            continue
        length = text_width(content, size)
        spot = sheet.place(content, size, _inside_corner(house, place, length))
        if spot is not None:
            seen.setdefault(content, []).append(Point(place))
            written.add(content, spot, size, font_weight=600.0)


def _inside_corner(house: Polygon, place: FloatArray, length: float) -> Iterator[Spot]:
    """Spots in the house close to one of its corners: its inside is free of all else."""
    for away in (0.0, 4.0, 8.0):
        for right in (1, -1):
            for low in (1, -1):
                across = float(place[0]) + right * (length / 2 + 6 + away)
                down = float(place[1]) + low * (11 + away)
                if house.contains(
                    box(across - length / 2, down - 6, across + length / 2, down + 6)
                ):
                    yield Spot(middle=(across, down), cost=away)


def _things(drawing: LotDrawing, sheet: Sheet, written: Written) -> None:
    """Pads and areas kept by name inside them or beside, swales along their lines."""
    design, view = drawing.plan.design, drawing.view
    size = drawing.size - 0.5
    rings = [(pad.name, pad.corners) for pad in design.pads]
    rings += [(f"keep: {keep.name}", keep.corners) for keep in design.keeps]
    for name, corners in rings:
        ring = Polygon(view.pixels(corners))
        content = shortened(plain(name), LONGEST_NAME)
        written.add(content, sheet.place(content, size, _about(drawing, ring, content)), size,
                    font_style="italic")  # fmt: skip
    for swale in design.swales:
        line = view.pixels(swale.line)
        content = shortened(plain(swale.name), LONGEST_NAME)
        length = text_width(content, size)
        spots = [
            spot
            for start, end in pairwise(line)
            for one, two in ((start, end), (end, start))
            for spot in along_wall(one, two, size, length)
        ]
        written.add(content, sheet.place(content, size, iter(spots)), size, font_style="italic")


def _about(drawing: LotDrawing, ring: Polygon, content: str) -> Iterator[Spot]:
    length = text_width(content, drawing.size)
    yield from inside(ring, length, LINE_HEIGHT * drawing.size)
    house = drawing.view.pixels(drawing.plan.design.house).mean(axis=0)
    middle = polylabel(ring, tolerance=2.0)
    place = np.array([middle.x, middle.y])
    yield from around(place, place - house, 0.0, length)


def _faces(drawing: LotDrawing, sheet: Sheet, written: Written) -> None:
    """How high each face is that is left untied, signed along lot line and areas kept."""
    unit = figures.unit_sign(drawing.answer.length_unit)
    for face in drawing.answer.untied:
        start, end = drawing.pixels(face.start), drawing.pixels(face.end)
        height = figures.coordinate(abs(face.height), drawing.answer.length_unit)
        content = f"face {height} {unit}"
        length = text_width(content, drawing.size - 1)
        spots = [*along_wall(start, end, 9.0, length), *along_wall(end, start, 9.0, length)]
        spot = sheet.place(content, drawing.size - 1, iter(spots))
        written.add(content, spot, drawing.size - 1, font_weight=700.0)


def _ponds(drawing: LotDrawing, sheet: Sheet, written: Written) -> None:
    unit = figures.unit_sign(drawing.answer.length_unit)
    for pond in drawing.answer.drainage.ponds:
        place = drawing.pixels(pond.spot)
        depth = figures.length(pond.depth, drawing.answer.length_unit)
        kind = "new pond" if drawing.answer.drainage.is_new(pond) else "pond"
        content = f"{kind} {depth} {unit}"
        spots = around(place, np.array([0.0, 1.0]), 2.0, text_width(content, drawing.size - 1))
        spot = sheet.place(content, drawing.size - 1, spots)
        written.add(content, spot, drawing.size - 1, fill=lot_inks.WATER, font_weight=700.0)


def _levels(drawing: LotDrawing, sheet: Sheet, written: Written) -> None:
    """Elevations on finished contours, then on existing ones, where a line has room for it."""
    plan, view, size = drawing.plan, drawing.view, drawing.size - 1.5
    for lines, colour in ((plan.after, inks.INK), (plan.before, "#6b5a45")):
        for contour in sorted(lines, key=lambda c: (not c.is_index, -LineString(c.line).length)):
            line = view.pixels(contour.line)
            if LineString(line).length < 40:
                continue
            content = f"{contour.upward:g}"
            spot = sheet.place(content, size, along_line(line, 12.0), most_covered=3 * size)
            if spot is not None:
                written.add(content, spot, size, fill=colour)
                sheet.taken[-1] = Point(spot.middle).buffer(LEVELS_APART / 8)


def _changes(drawing: LotDrawing, sheet: Sheet, written: Written) -> None:
    """Signed figures of cut and fill: the greatest of every piece, then as many as have room."""
    unit = drawing.answer.length_unit
    house = Polygon(drawing.view.pixels(drawing.plan.design.house))
    for change in drawing.plan.changes:
        place = drawing.view.pixels(change.place)
        size = drawing.size - (1.0 if change.is_greatest else 2.0)
        content = figures.signed_length(change.upward, unit)
        if content[0] not in "+−":
            continue
        middle = (float(place[0]), float(place[1]))
        spots = [Spot(middle=middle)]
        if change.is_greatest:
            reach = [(dx, dy) for dx in (-24, -12, 0, 12, 24) for dy in (-14, -7, 0, 7, 14)]
            spots += [
                Spot(middle=(middle[0] + dx, middle[1] + dy), cost=abs(dx) + abs(dy))
                for dx, dy in reach
            ]
        spots = [s for s in spots if not house.contains(Point(s.middle))]
        most = np.inf if change.is_greatest else size
        spot = sheet.place(content, size, iter(spots), most_covered=most)
        if spot is not None:
            colour = lot_inks.CUT_STROKE if change.upward < 0 else lot_inks.FILL_STROKE
            written.add(content, spot, size, fill=colour,
                        font_weight=700.0 if change.is_greatest else 400.0)  # fmt: skip
