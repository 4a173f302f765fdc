"""Figures of the card's drawing "dig now": those of its words, from the seat; who digs later."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain, groupby

import numpy as np
import shapely

from terrain.base.arrays import FloatArray
from terrain.job.dig_plan_ahead import Ahead
from terrain.job.dig_plan_pieces import DugNow, Piece
from terrain.job.dig_plan_record import Stand
from terrain.report import dig_plan_inks as own
from terrain.report import figures, inks
from terrain.report.dig_plan_drawing import rings_of
from terrain.report.dig_plan_sheet import PlanDrawing
from terrain.report.labels import Sheet, Spot, around, inside
from terrain.report.svg import Attribute, element, text, text_width
from terrain.report.written import Written

FIGURE, TICK = 14.0, 5.0
"""Pixels: a measure, and half a tick across the line straight ahead."""

LATER, NUMBER = 9.0, 12.0
"""Pixels: the circle round the number of a stand to come, and that number."""


GUIDE: dict[str, Attribute] = {"fill": "none", "stroke": inks.FAINT, "stroke_width": 0.8,
                               "stroke_dasharray": "1 4"}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Seat:
    """The middle of a machine, the way it faces and the way to its right, unit vectors."""

    spot: FloatArray
    ahead: FloatArray
    right: FloatArray

    def at(self, ahead: float, across: float) -> FloatArray:
        """A point so far ahead and so far to the right."""
        return self.spot + ahead * self.ahead + across * self.right


def seat_of(stand: Stand) -> Seat:
    """The seat of a stand's machine."""
    turn = np.radians(stand.heading)
    ahead = np.array([np.sin(turn), np.cos(turn)])
    return Seat(spot=np.array(stand.spot), ahead=ahead, right=np.array([ahead[1], -ahead[0]]))


def box_ring(seat: Seat, box: Ahead) -> FloatArray:
    """The outline (5, 2) of a box told from the seat."""
    near, far, left, right = box.near, box.far, box.left, box.right
    corners = ((near, left), (near, right), (far, right), (far, left), (near, left))
    return np.array([seat.at(*corner) for corner in corners])


def seat_lines(drawing: PlanDrawing, stand: Stand, pieces: tuple[Piece, ...]) -> list[FloatArray]:
    """The line straight ahead, from the tracks to the farthest end of a box, then each box's."""
    seat = seat_of(stand)
    boxes = [box for piece in pieces for box in piece.ahead]
    first = min(drawing.plan.machine.track_length / 2, *(box.near for box in boxes))
    last = max(box.far for box in boxes)
    line = np.array([seat.at(first, 0.0), seat.at(last, 0.0)])
    return [line, *(box_ring(seat, box) for box in boxes)]


def measures(drawing: PlanDrawing, stand: Stand, pieces: tuple[Piece, ...], sheet: Sheet) -> str:
    """The boxes of the words, the line straight ahead with ticks at their ends, what their sides
    are to either hand; each figure once.
    """
    seat, written, unit = seat_of(stand), Written(), drawing.plan.length_unit
    boxes = [box for piece in pieces for box in piece.ahead]
    line, *rings = seat_lines(drawing, stand, pieces)
    ends = sorted((value for box in boxes for value in (box.near, box.far)), reverse=True)
    told = {figures.rough_length(value, unit): value for value in ends}
    drawn = [
        drawing.path(_guides(seat, boxes), **GUIDE),
        drawing.path(rings, **own.FACE_LINE),
        drawing.path([line], **own.TAPE_UNDER),
        drawing.path([line], **own.TAPE),
    ]
    tick = TICK / drawing.view.scale
    for value in told.values():
        across = np.array([seat.at(value, -tick), seat.at(value, tick)])
        drawn.append(drawing.path([across], class_="tick", **own.TAPE))
    aside = _in_picture(seat.right)
    for words, value in told.items():
        point = drawing.view.pixels(seat.at(value, 0.0))
        _figure(sheet, written, words, chain(*(
            _beside(words, point, way, off)
            for off in (TICK + 2, TICK + 8) for way in (aside, -aside)
        ), around(point, aside, 0.0, text_width(words, FIGURE))))  # fmt: skip
    for piece in pieces:
        _sides(drawing, seat, piece, (sheet, written))
    return element("g", *drawn, written.markup(), class_="measures")


def _guides(seat: Seat, boxes: list[Ahead]) -> list[FloatArray]:
    """From the line straight ahead out to boxes that lie off it, at their ends."""
    return [
        np.array([seat.at(end, 0.0), seat.at(end, max(box.left, 0.0) + min(box.right, 0.0))])
        for box in boxes
        if box.left > 0.0 or box.right < 0.0
        for end in (box.near, box.far)
    ]


def _sides(drawing: PlanDrawing, seat: Seat, piece: Piece, onto: tuple[Sheet, Written]) -> None:
    """How far its boxes go to either hand, or that it is to the paint; once where boxes agree."""
    unit = drawing.plan.length_unit
    out = _in_picture(seat.right)
    for hand in (-1, 1):

        def said(box: Ahead, hand: int = hand) -> str:
            paint, value = _side(box, hand)
            return "paint" if paint else _hand(value, unit)

        for words, run in groupby(piece.ahead, said):
            spots = list[Spot]()
            for box in run:
                for share in (0.5, 0.3, 0.7, 0.1, 0.9):
                    ahead = box.near + share * (box.far - box.near)
                    point = drawing.view.pixels(seat.at(ahead, _side(box, hand)[1]))
                    cost = 8.0 * abs(share - 0.5)
                    spots += _beside(words, point, hand * out, 4.0, cost)
                    spots += _beside(words, point, -hand * out, 4.0, cost + 12.0)
                spots += around(point, hand * out, 0.0, text_width(words, FIGURE))
            _figure(*onto, words, iter(spots))


def _side(box: Ahead, hand: int) -> tuple[bool, float]:
    """Whether a box's left or right side is the paint, and how far to the right it is."""
    return (box.left_paint, box.left) if hand < 0 else (box.right_paint, box.right)


def _hand(value: float, unit: str) -> str:
    """How far to which hand: `8 L`, `10 R`; the line straight ahead itself is `0`."""
    told = figures.rough_length(abs(value), unit)
    if not told.strip("0."):
        return "0"
    return f"{told} {'R' if value > 0 else 'L'}"


def _in_picture(way: FloatArray) -> FloatArray:
    """A way of the ground as it runs in the picture, where down is positive."""
    return np.array([way[0], -way[1]])


def _beside(
    words: str, point: FloatArray, way: FloatArray, off: float, cost: float = 0.0
) -> Iterator[Spot]:
    """The spot of a level text that is `off` pixels from a point on one side of it."""
    half = np.array([text_width(words, FIGURE), FIGURE]) / 2
    middle = point + way * (off + float(np.abs(way) @ half))
    yield Spot(middle=(float(middle[0]), float(middle[1])), cost=cost + off)


def _figure(sheet: Sheet, written: Written, words: str, spots: Iterator[Spot]) -> None:
    """A figure where there is room for it: the list has it in any case."""
    written.add(words, sheet.place(words, FIGURE, spots), FIGURE, font_weight="bold")


def later_numbers(drawing: PlanDrawing, now: DugNow, sheet: Sheet) -> str:
    """The number of the stand that takes it, in its circle, on what stays in front."""
    drawn = list[str]()
    for each in now.later:
        drawn.append(drawing.path(rings_of([each.ground]), fill="none", stroke=inks.FAINT,
                                  stroke_width=0.7))  # fmt: skip
        largest = max(shapely.get_parts(each.ground), key=lambda part: float(part.area))
        ring = drawing.view.pixels(np.array(largest.exterior.coords))
        shape = max(
            shapely.get_parts(shapely.Polygon(ring).buffer(0)), key=lambda part: float(part.area)
        )
        spot = sheet.place("00", 2 * LATER, inside(shape, 2 * LATER, 2 * LATER))
        if spot is not None:
            across, down = spot.middle
            drawn.append(
                element(
                    "g",
                    element("circle", cx=across, cy=down, r=LATER, **own.CIRCLE),
                    text(f"{each.stand}", x=across, y=down + 0.36 * NUMBER, font_size=NUMBER,
                         text_anchor="middle", fill=inks.INK),
                    class_="later",
                )
            )  # fmt: skip
    return "".join(drawn)
