"""The drawing of the whole dig on the operator's card: this stand, what is dug, where it goes."""

from collections.abc import Iterator

import numpy as np
import shapely
from shapely import Point
from shapely.geometry.base import BaseGeometry

from terrain.base.arrays import FloatArray
from terrain.job.dig_plan_record import DigPlan
from terrain.job.dig_plan_set_out import SetOut
from terrain.report import dig_plan_inks as own
from terrain.report import figures, inks, lot_inks
from terrain.report.dig_plan_bench import bench_marks
from terrain.report.dig_plan_drawing import (
    is_pile,
    pile_layer,
    plan_definitions,
    rim_marks,
    rings_of,
    site_layer,
    step,
    truck_marks,
)
from terrain.report.dig_plan_marks import corner_letters, stand_mark
from terrain.report.dig_plan_names import north_taken
from terrain.report.dig_plan_room import letter_box, letter_places
from terrain.report.dig_plan_sheet import PlanDrawing
from terrain.report.frame import Framed, framed
from terrain.report.key import KeyItem, area_item, line_item
from terrain.report.labels import Sheet, Spot
from terrain.report.names import plain
from terrain.report.naming import north_place
from terrain.report.svg import element, fitted
from terrain.report.view import View, view_round
from terrain.report.written import Written

WIDTH, SIZE, MARGIN = 344.0, 13.0, (0.02, 18.0)
LONGEST = 130.0
"""Pixels that a name takes at most."""


def card_map_svg(plan: DigPlan, told: tuple[SetOut, ...]) -> str:
    """One drawing for all stands: each pass is a group with `data-turn`, of which one is shown.

    The ground of each is once more in `data-before`, shown when a later stand is.
    """
    drawing = PlanDrawing(plan=plan, view=_window(plan), size=SIZE, name="map")
    rooms = [shapely.Polygon(drawing.view.pixels(truck.ring)) for truck in plan.trucks]
    bench, benches = bench_marks(drawing, [north_taken(north_place(drawing.view)), *rooms])
    sheet = Framed(
        view=drawing.view,
        name=drawing.name,
        title=f"Where the machine stands: {plain(plan.title)}",
        unit=figures.unit_sign(plan.length_unit),
        size=SIZE,
        notes=(f"{plan.date} · lengths in {figures.unit_sign(plan.length_unit)}, north is up",),
        keys=(_key(drawing),),
    )
    return framed(
        sheet,
        plan_definitions(drawing),
        pile_layer(drawing),
        *(_before(drawing, turn, each) for turn, each in enumerate(told)),
        site_layer(drawing),
        rim_marks(drawing),
        truck_marks(drawing),
        bench,
        element("g", *_pile_names(drawing, benches), class_="piles"),
        *(_turn(drawing, (turn, each), benches) for turn, each in enumerate(told)),
        corner_letters(drawing),
    )


def _before(drawing: PlanDrawing, turn: int, each: SetOut) -> str:
    """What a stand has dug, for the stands after it."""
    ground = drawing.path(
        rings_of([each.one.dug]), fill=drawing.fill("dug"), fill_rule="evenodd"
    )  # fmt: skip
    return element("g", ground, class_="before", data_before=str(turn))


def _turn(drawing: PlanDrawing, told: tuple[int, SetOut], benches: list[BaseGeometry]) -> str:
    turn, each = told
    one = each.one
    work = element(
        "g",
        _face(drawing, each),
        step(drawing, one),
        *_names(drawing, each, benches),
        class_="work",
    )
    return element(
        "g",
        work,
        stand_mark(drawing, one.stand, drawing.spot(one.stand.spot)),
        _from(drawing, each),
        class_="turn",
        data_turn=str(turn),
    )


def _from(drawing: PlanDrawing, each: SetOut) -> str:
    """Rings round the corners that this stand is measured from."""
    spot = each.spot
    corners = (
        [tape.corner for tape in spot.tapes] if spot.past or spot.corner is None else [spot.corner]
    )
    places = [drawing.view.pixels(drawing.plan.site.corners[corner]) for corner in corners]
    return "".join(
        element("circle", cx=float(at[0]), cy=float(at[1]), r=5.0, **own.TAPE) for at in places
    )


def _window(plan: DigPlan) -> View:
    """The ground that shows the dig, every stand and where each bucket is emptied."""
    shown = [plan.site.dig_line, *rings_of([plan.site.daylight])]
    shown += [one.stand.tracks for one in plan.passes]
    shown += [truck.ring for truck in plan.trucks]
    shown += rings_of(place.ground for place in plan.places if place.kind == "topsoil")
    spots = [cast.spot for one in plan.passes for cast in one.to if cast.spot is not None]
    points: list[FloatArray] = [*shown, np.array(spots)] if spots else shown
    return view_round(np.concatenate(points), WIDTH, MARGIN, 0.6)


def _face(drawing: PlanDrawing, each: SetOut) -> str:
    """The wall this pass works along, heavy."""
    faces = [wall.face for wall in drawing.plan.card if wall.wall == each.one.wall]
    return drawing.path(faces, fill="none", stroke=inks.INK, stroke_width=6.0)


def _names(drawing: PlanDrawing, each: SetOut, benches: list[BaseGeometry]) -> Iterator[str]:
    """The places this pass is cast to, at the tips of its arrows."""
    sheet = _sheet(drawing, benches)
    sheet.taken.append(Point(drawing.spot(each.one.stand.spot)).buffer(drawing.radius + 2))
    for loaded in each.casts:
        cast = loaded.cast
        if cast.spot is not None and cast.truck is None and cast.buckets > 0:
            yield _name(sheet, cast.place, drawing.spot(cast.spot))


def _pile_names(drawing: PlanDrawing, benches: list[BaseGeometry]) -> Iterator[str]:
    """Each pile's name on itself, for the pages before the first stand."""
    view, sheet = drawing.view, _sheet(drawing, benches)
    window = shapely.box(0, 0, view.width, view.height)
    for place in filter(is_pile, drawing.plan.places):
        part = max(shapely.get_parts(place.ground), key=lambda one: float(one.area))
        seen = shapely.Polygon(view.pixels(np.array(part.exterior.coords))).buffer(0)
        seen = seen.intersection(window)
        if seen.is_empty:
            continue
        spot = seen.representative_point()
        yield _name(sheet, place.name, np.array([spot.x, spot.y]))


def _sheet(drawing: PlanDrawing, benches: list[BaseGeometry]) -> Sheet:
    """The map's room for names: over no letter, truck, bench mark and not the north arrow."""
    view = drawing.view
    letters = letter_places(drawing, ())
    return Sheet(
        window=shapely.box(2, 2, view.width - 2, view.height - 2),
        lines=shapely.MultiLineString(),
        taken=[
            *(letter_box(corner, put.middle) for corner, put in letters.items()),
            *(shapely.Polygon(view.pixels(truck.ring)) for truck in drawing.plan.trucks),
            north_taken(north_place(view)),
            *benches,
        ],
    )


def _name(sheet: Sheet, name: str, place: FloatArray) -> str:
    said, written = fitted(plain(name), LONGEST, SIZE), Written()
    written.add(said, sheet.place(said, SIZE, _near(place)), SIZE, font_weight="bold")
    return written.markup()


def _near(place: FloatArray) -> Iterator[Spot]:
    """Spots about a place, the nearest first; those that are far have a line to it."""
    for down in range(-60, 61, 10):
        for across in range(-150, 151, 15):
            off = float(np.hypot(across, 1.5 * down))
            spot = place + np.array([across, down])
            tied = None if abs(across) < 50 and abs(down) < 16 else (place[0], place[1])
            yield Spot(middle=(float(spot[0]), float(spot[1])), cost=off, leader=tied)


def _key(drawing: PlanDrawing) -> list[KeyItem]:
    plan = drawing.plan
    ring = element("circle", cx=12.0, cy=5.0, r=5.0, **own.TAPE)
    items = [
        (True, area_item("dig now", drawing.fill("dig"))),
        (True, area_item("dug before", drawing.fill("dug"))),
        (True, area_item("pile", drawing.fill("pile"), **own.PILE)),
        (bool(plan.trucks), area_item("truck", inks.PAPER, stroke=inks.INK, stroke_width=1.6)),
        (not plan.left.is_empty, area_item("not dug", drawing.fill("left"), **own.LEFT)),
        (True, KeyItem(sample=ring, words="measure from")),
        (True, line_item("paint: edge of the cut", own.EDGE)),
        (True, line_item("dig line, floor", inks.DIG_LINE)),
        (True, line_item("reach", own.REACH)),
        (True, line_item("tail swing", own.SWING)),
        (True, line_item("way there", own.WAY)),
        (bool(plan.site.extras), area_item("pit, ramp, trench", drawing.fill("hatch"),
                                           stroke=inks.INK, stroke_width=0.8)),
        (bool(plan.site.keeps), area_item("keep off", drawing.fill("keep"), **own.KEEP)),
        (plan.site.boundary is not None, line_item("lot line", lot_inks.LOT_LINE)),
    ]  # fmt: skip
    return [item for is_drawn, item in items if is_drawn]
