"""The small drawing on the operator's card: this stand, what is dug from it, where it goes."""

from collections.abc import Iterator

import numpy as np

from terrain.base.arrays import FloatArray
from terrain.job.dig_plan_record import DigPlan, Pass
from terrain.report import figures, inks
from terrain.report.dig_plan_drawing import (
    PlanDrawing,
    mark_places,
    pile_layer,
    plan_definitions,
    rim_marks,
    rings_of,
    site_layer,
    stand_mark,
    step,
)
from terrain.report.frame import Framed, framed
from terrain.report.names import plain
from terrain.report.svg import element, fitted, text, text_width
from terrain.report.view import View, view_round

WIDTH, SIZE, MARGIN = 344.0, 13.0, (0.02, 18.0)
NORTH, NORTH_ROOM = 50.0, 30.0
"""Pixels from the top and from the right that the north arrow takes."""

LONGEST = 130.0
"""Pixels that a name takes at most."""


def card_map_svg(plan: DigPlan) -> str:
    """One drawing for all stands: each pass is a group with `data-pass`, of which one is shown."""
    drawing = PlanDrawing(plan=plan, view=_window(plan), size=SIZE, name="map")
    marks = mark_places(drawing)
    unit = figures.unit_sign(plan.length_unit)
    sheet = Framed(
        view=drawing.view,
        name=drawing.name,
        title=f"Where the machine stands: {plain(plan.title)}",
        unit=unit,
        size=SIZE,
        notes=(f"{plan.date} · lengths in {unit}, north is up",),
        keys=(),
    )
    return framed(
        sheet,
        plan_definitions(drawing),
        pile_layer(drawing),
        site_layer(drawing),
        rim_marks(drawing),
        *(
            element(
                "g",
                element(
                    "g",
                    _face(drawing, one),
                    step(drawing, one),
                    *_names(drawing, one),
                    class_="work",
                ),
                stand_mark(drawing, one.stand, marks[one.stand.number]),
                class_="turn",
                data_turn=str(turn),
            )
            for turn, one in enumerate(plan.passes)
        ),
    )


def _window(plan: DigPlan) -> View:
    """The ground that shows the dig, every stand and where each bucket is emptied."""
    shown = [plan.site.dig_line, *rings_of([plan.site.daylight])]
    shown += [one.stand.tracks for one in plan.passes]
    spots = [cast.spot for one in plan.passes for cast in one.to if cast.spot is not None]
    points: list[FloatArray] = [*shown, np.array(spots)] if spots else shown
    return view_round(np.concatenate(points), WIDTH, MARGIN, 0.6)


def _face(drawing: PlanDrawing, one: Pass) -> str:
    """The wall this pass works along, heavy."""
    faces = [wall.face for wall in drawing.plan.card if wall.wall == one.wall]
    return drawing.path(faces, fill="none", stroke=inks.INK, stroke_width=6.0)


def _names(drawing: PlanDrawing, one: Pass) -> Iterator[str]:
    """The places this pass is cast to, at the tips of its arrows."""
    for cast in one.to:
        if cast.spot is not None:
            yield _name(drawing, cast.place, drawing.spot(cast.spot))


def _name(drawing: PlanDrawing, name: str, place: FloatArray) -> str:
    said = fitted(plain(name), LONGEST, SIZE)
    room = text_width(said, SIZE) / 2 + 3
    low, high = room, drawing.view.width - room
    if place[1] < NORTH:
        high -= NORTH_ROOM
    across = float(np.clip(place[0], low, high))
    down = float(np.clip(place[1] + 1.3 * SIZE, SIZE, drawing.view.height - 4))
    return text(said, x=across, y=down, text_anchor="middle", font_size=SIZE, font_weight="bold",
                fill=inks.INK, stroke=inks.PAPER, stroke_width=3.5, stroke_linejoin="round",
                paint_order="stroke")  # fmt: skip
