"""The drawing "dig now" of a stand on the card: its pieces, measured, and what stays for later."""

from collections.abc import Iterator
from itertools import chain

import numpy as np
import shapely

from terrain.base.arrays import FloatArray
from terrain.job.dig_plan_pieces import DugNow, Piece
from terrain.job.dig_plan_record import DigPlan
from terrain.job.dig_plan_set_out import SetOut
from terrain.report import dig_plan_inks as own
from terrain.report import figures, inks
from terrain.report.card_measures import box_ring, later_numbers, measures, seat_lines, seat_of
from terrain.report.dig_plan_drawing import rings_of, truck_marks
from terrain.report.dig_plan_marks import belts, corner_letters, nose
from terrain.report.dig_plan_names import north_taken
from terrain.report.dig_plan_room import letter_box, letter_places
from terrain.report.dig_plan_sheet import PlanDrawing, heading_of, view_about
from terrain.report.drawing import closed, window_clip
from terrain.report.frame import Framed, framed
from terrain.report.labels import Sheet, around, inside
from terrain.report.names import plain
from terrain.report.naming import north_place
from terrain.report.svg import Attribute, element, path_data, text
from terrain.report.view import View

WIDTH, TALLEST, LEAST, SIZE = 344.0, 380.0, 190.0, 14.0
MARGIN, MACHINE = 40.0, 110.0
"""Pixels round what is shown, and how long the tracks are at most."""

MARK = 11.0
"""Pixels: half of a piece's mark."""

NUMERAL: dict[str, Attribute] = {
    "text_anchor": "middle", "font_size": 15.0, "font_weight": "bold", "fill": inks.PAPER,
}  # fmt: skip


def card_dig_svg(plan: DigPlan, told: SetOut, now: DugNow) -> str:
    """The pieces of one stand, hatched and numbered, with machine and reach; north up, to scale."""
    stand = told.one.stand
    view = _window(plan, told, now)
    drawing = PlanDrawing(plan=plan, view=view, size=SIZE, name=f"dig{stand.number}")
    letters = letter_places(drawing, [drawing.spot(stand.spot)])
    boxes = [letter_box(k, put.middle) for k, put in letters.items()]
    north = north_place(view, _busy(drawing, told, now, boxes))
    lines = [closed(plan.site.corners), *seat_lines(drawing, stand, now.pieces)]
    sheet = Sheet(
        window=shapely.box(2, 2, view.width - 2, view.height - 2),
        lines=shapely.MultiLineString([view.pixels(line) for line in lines]),
        taken=[
            *boxes,
            north_taken(north),
            shapely.Point(drawing.spot(stand.spot)).buffer(9),
            shapely.Point(_nose_at(drawing, told)).buffer(8),
            *(shapely.Polygon(view.pixels(truck.ring)) for truck in plan.trucks),
        ],
    )
    marks = _marks(drawing, now, sheet)
    return framed(
        Framed(
            view=view,
            name=drawing.name,
            title=f"What stand {stand.number} digs: {plain(stand.wall)}",
            unit=figures.unit_sign(plan.length_unit),
            size=SIZE - 2,
            notes=(),
            keys=(),
            north=north,
        ),
        element("defs", window_clip(view, drawing.name), own.patterns(drawing.name)),
        *_ground(drawing, told),
        truck_marks(drawing),
        _machine(drawing, told),
        measures(drawing, stand, now.pieces, sheet),
        marks,
        later_numbers(drawing, now, sheet),
        corner_letters(drawing, (), letters),
    )


def _window(plan: DigPlan, told: SetOut, now: DugNow) -> View:
    """The machine, its pieces and the boxes they are told by."""
    stand = told.one.stand
    seat = seat_of(stand)
    boxes = [box for piece in now.pieces for box in piece.ahead]
    ends = [seat.at(end, 0.0) for box in boxes for end in (box.near, box.far)]
    shown = [stand.tracks, *rings_of(piece.ground for piece in now.pieces)]
    shown += [*(box_ring(seat, box) for box in boxes), np.array(ends)]
    largest = MACHINE / plan.machine.track_length
    return view_about(np.vstack(shown), largest, (WIDTH, TALLEST, LEAST, MARGIN))


def _busy(
    drawing: PlanDrawing, told: SetOut, now: DugNow, boxes: list[shapely.Polygon]
) -> shapely.MultiLineString:
    """What the north arrow keeps off."""
    rings = [closed(told.one.stand.tracks), *rings_of(piece.ground for piece in now.pieces)]
    lines = [drawing.view.pixels(ring) for ring in rings]
    return shapely.MultiLineString([*lines, *(np.array(one.exterior.coords) for one in boxes)])


def _ground(drawing: PlanDrawing, told: SetOut) -> Iterator[str]:
    """What was dug before, what is dug now, what no stand digs, and the lines of the site."""
    plan, site = drawing.plan, drawing.plan.site
    before = [one.dug for one in plan.passes if one.stand.number < told.one.stand.number]
    holes = [closed(ring) for _, _, rings in site.extras for ring in rings]
    yield drawing.path(rings_of([shapely.union_all(before)]) if before else [],
                       fill=drawing.fill("dug"), fill_rule="evenodd")  # fmt: skip
    yield drawing.path(rings_of([plan.left]), fill=drawing.fill("left"), fill_rule="evenodd",
                       **own.LEFT)  # fmt: skip
    yield drawing.path(rings_of([told.one.dug]), fill=drawing.fill("dig"), fill_rule="evenodd",
                       stroke=inks.INK, stroke_width=1.6, class_="now")  # fmt: skip
    yield drawing.path(rings_of([site.daylight]), **own.EDGE)
    yield drawing.path(holes, fill="none", stroke=inks.INK, stroke_width=0.8)
    yield drawing.path([closed(site.dig_line)], **inks.DIG_LINE)
    yield drawing.path([closed(site.corners)], **inks.FOUNDATION)


def _nose_at(drawing: PlanDrawing, told: SetOut) -> FloatArray:
    """The middle of the beak before the tracks, in pixels."""
    off = drawing.plan.machine.track_length / 2 * drawing.view.scale + 7
    return drawing.spot(told.one.stand.spot) + off * heading_of(told.one.stand)


def _machine(drawing: PlanDrawing, told: SetOut) -> str:
    plan, stand = drawing.plan, told.one.stand
    across, down = (float(value) for value in drawing.spot(stand.spot))
    cross = [np.array([[across - x, down - 6], [across + x, down + 6]]) for x in (6.0, -6.0)]
    return "".join(
        [
            element("circle", cx=across, cy=down, r=plan.machine.reach * drawing.view.scale,
                    class_="reach", **own.REACH),
            drawing.path([closed(stand.tracks)], **own.MACHINE),
            drawing.path(belts(stand), **own.BELT),
            nose(drawing, stand, plan.machine.track_length),
            element("path", d=path_data(cross), **own.CROSS),
        ]
    )  # fmt: skip


def _marks(drawing: PlanDrawing, now: DugNow, sheet: Sheet) -> str:
    """The number of each piece: in it where there is room, else beside it with a line to it."""
    drawn = list[str]()
    for piece in sorted(now.pieces, key=lambda one: -one.ground.area):
        ring = drawing.view.pixels(np.array(piece.ground.exterior.coords))
        shape = max(shapely.get_parts(shapely.Polygon(ring).buffer(0)), key=lambda one: one.area)
        line = shapely.maximum_inscribed_circle(shape, tolerance=1.0)
        at = np.array(line.coords[0])
        beside = around(at, np.array([0.0, -1.0]), 0.0, 2 * MARK)
        spot = sheet.place("00", 2 * MARK, chain(inside(shape, 2 * MARK, 2 * MARK), beside))
        drawn.append(_mark(at if spot is None else np.array(spot.middle), at, piece))
    return "".join(drawn)


def _mark(at: FloatArray, point: FloatArray, piece: Piece) -> str:
    across, down = float(at[0]), float(at[1])
    return element(
        "g",
        element("path", d=path_data([np.stack([at, point])]), **own.LEADER),
        element("rect", x=across - MARK, y=down - MARK, width=2 * MARK, height=2 * MARK, rx=3.0,
                fill=inks.INK, stroke=inks.PAPER, stroke_width=1.5),
        text(f"{piece.number}", x=across, y=down + 5.4, **NUMERAL),
        class_="piece",
    )  # fmt: skip
