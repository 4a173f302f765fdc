"""Figures of the card's drawing "dig now": how far along and off a wall, and who digs the rest."""

from collections.abc import Iterator

import numpy as np
import shapely

from terrain.base.arrays import FloatArray
from terrain.job.dig_plan_pieces import DugNow, Piece
from terrain.job.dig_plan_record import DigPlan
from terrain.job.dig_plan_strips import Strip
from terrain.report import dig_plan_inks as own
from terrain.report import figures, inks
from terrain.report.dig_plan_drawing import rings_of
from terrain.report.dig_plan_sheet import PlanDrawing
from terrain.report.labels import Sheet, Spot, around, inside
from terrain.report.svg import text_width
from terrain.report.written import Written

FIGURE, SMALL = 13.5, 13.0
"""Pixels: a measure; the number of a later stand."""


def measures(drawing: PlanDrawing, piece: Piece, sheet: Sheet) -> str:
    """Along the wall from the corner to where each strip ends, and square out and in from it."""
    written, drawn = Written(), list[str]()
    said = set[tuple[int, str]]()
    for strip in piece.strips:
        foot, ahead, into = _axes(drawing.plan, piece, strip)
        for value in (strip.start, strip.end):
            words = figures.length(abs(value), drawing.plan.length_unit)
            key = strip.corner, f"{value < 0}{words}"
            if key not in said and abs(value) > 0.05:
                said.add(key)
                ends = np.array([foot + value * ahead, foot + value * ahead + into * strip.inner])
                drawn.append(drawing.path([ends], **own.FACE_LINE))
                _figure(drawing, sheet, written, (words, ends[0], _in_picture(-into)))
    outer = max(piece.strips, key=lambda strip: strip.inner - strip.outer)
    foot, ahead, into = _axes(drawing.plan, piece, outer)
    for value in (outer.outer, outer.inner):
        middle = foot + outer.end * ahead + value / 2 * into
        ends = np.array([foot + outer.end * ahead, foot + outer.end * ahead + value * into])
        drawn.append(drawing.path([ends], **own.TAPE))
        words = figures.length(abs(value), drawing.plan.length_unit)
        side = " inside" if value > 0 else " outside"
        _figure(drawing, sheet, written, (words + side, middle, _in_picture(ahead)))
    return "".join(drawn) + written.markup()


def _in_picture(way: FloatArray) -> FloatArray:
    """A way of the ground as it runs in the picture, where down is positive."""
    return np.array([way[0], -way[1]])


def _axes(plan: DigPlan, piece: Piece, strip: Strip) -> tuple[FloatArray, FloatArray, FloatArray]:
    """The corner a strip is measured from, the way along and the way in."""
    turn = np.radians(strip.heading)
    ahead = np.array([np.sin(turn), np.cos(turn)])
    left = np.array([-ahead[1], ahead[0]])
    is_left = shapely.LinearRing(plan.site.corners).is_ccw == (strip.corner == piece.wall)
    return plan.site.corners[strip.corner], ahead, left if is_left else -left


def _figure(
    drawing: PlanDrawing, sheet: Sheet, written: Written, told: tuple[str, FloatArray, FloatArray]
) -> None:
    """A measure beside its point, if there is room for it: the list has it in any case."""
    words, point, way = told
    at = drawing.view.pixels(point)
    length = text_width(words, FIGURE)

    def spots() -> Iterator[Spot]:
        for off in (9.0, 15.0, 24.0):
            for side in (way, -way):
                middle = at + side * (off + abs(side[0]) * length / 2)
                yield Spot(middle=(float(middle[0]), float(middle[1])), cost=off)
        yield from around(at, way, 0.0, length)

    written.add(words, sheet.place(words, FIGURE, spots()), FIGURE, font_weight="bold")


def later_numbers(drawing: PlanDrawing, now: DugNow, sheet: Sheet) -> str:
    """The number of the stand that takes it, on what stays in front; outlined thin."""
    written, drawn = Written(), list[str]()
    for each in now.later:
        drawn.append(drawing.path(rings_of([each.ground]), fill="none", stroke=inks.FAINT,
                                  stroke_width=0.7))  # fmt: skip
        parts = sorted(shapely.get_parts(each.ground), key=lambda part: -float(part.area))
        words = f"{each.stand}"
        for part in parts[:1]:
            shape = shapely.Polygon(drawing.view.pixels(np.array(part.exterior.coords))).buffer(0)
            biggest = max(shapely.get_parts(shape), key=lambda one: float(one.area))
            spot = sheet.place(words, SMALL, inside(biggest, text_width(words, SMALL), SMALL))
            if spot is not None:
                written.add(words, spot, SMALL, font_style="italic")
    return "".join(drawn) + written.markup()
