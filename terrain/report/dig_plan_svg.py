"""The drawing of a dig plan as inline SVG, to scale, north up: all of it, and a step a pass."""

from terrain.job.dig_plan_record import DigPlan
from terrain.report import dig_plan_inks as own
from terrain.report import figures, inks, lot_inks
from terrain.report.dig_plan_drawing import (
    cast_arrows,
    is_pile,
    pile_layer,
    plan_definitions,
    reach_layer,
    rim_marks,
    site_layer,
    step,
    window_of,
)
from terrain.report.dig_plan_marks import corner_letters, mark_places, stand_mark
from terrain.report.dig_plan_names import dig_plan_names, north_of
from terrain.report.dig_plan_sheet import PlanDrawing
from terrain.report.frame import Framed, framed
from terrain.report.key import KeyItem, area_item, line_item
from terrain.report.names import plain
from terrain.report.svg import element, text_width
from terrain.report.view import NARROW


def dig_plan_svg(plan: DigPlan, width: float, name: str) -> str:
    """A drawing `width` pixels wide; `name` keeps its ids apart from others on the page.

    What belongs to one pass is a group with `data-pass`, its stand one with `data-stand`.
    """
    drawing = PlanDrawing(
        plan=plan, view=window_of(plan, width), size=11.0 if width < NARROW else 12.5, name=name
    )
    marks = mark_places(drawing)
    north = north_of(drawing)
    words, left = dig_plan_names(drawing, marks.values(), north)
    unit = figures.unit_sign(plan.length_unit)
    notes = [f"{plan.date} · lengths in {unit}, north is up"]
    if left:
        told = f"no room for the names {', '.join(left)}"
        fits = text_width(told, drawing.size) < width
        notes.append(told if fits else f"names left off for want of room: {len(left)}")
    sheet = Framed(
        view=drawing.view,
        name=name,
        title=f"Plan of the digging: {plain(plan.title)}",
        unit=unit,
        size=drawing.size,
        notes=tuple(notes),
        north=north,
        keys=(_areas(drawing), _lines(drawing)),
    )
    return framed(
        sheet,
        plan_definitions(drawing),
        pile_layer(drawing),
        element("g", *(step(drawing, one) for one in plan.passes), class_="passes"),
        element("g", reach_layer(drawing), class_="all"),
        site_layer(drawing),
        element("g", cast_arrows(drawing), class_="all"),
        element(
            "g",
            *(stand_mark(drawing, one.stand, marks[one.stand.number]) for one in plan.passes),
            class_="stands",
        ),
        rim_marks(drawing),
        corner_letters(drawing),
        words,
    )


def _areas(drawing: PlanDrawing) -> list[KeyItem]:
    plan = drawing.plan
    kinds = [
        (any(map(is_pile, plan.places)), _filled(drawing, "pile", "pile, to scale", own.PILE)),
        (True, _filled(drawing, "dig", "dug now", {})),
        (True, _filled(drawing, "dug", "dug before", {})),
        (not plan.left.is_empty, _filled(drawing, "left", "not dug by this plan", own.LEFT)),
        (bool(plan.site.keeps), _filled(drawing, "keep", "keep off", own.KEEP)),
        (
            bool(plan.site.extras),
            _filled(drawing, "hatch", "pit, ramp or trench",
                    {"stroke": inks.INK, "stroke_width": 0.8}),
        ),
    ]  # fmt: skip
    return [item for is_drawn, item in kinds if is_drawn]


def _filled(drawing: PlanDrawing, kind: str, words: str, style: dict[str, str | float]) -> KeyItem:
    return area_item(words, drawing.fill(kind), **style)


def _lines(drawing: PlanDrawing) -> list[KeyItem]:
    plan = drawing.plan
    number = element("circle", cx=12.0, cy=5.0, r=6.0, **own.CIRCLE)
    beak = element("path", d="M24 5L16 0.5V9.5Z", **own.HEADING)
    cast = element("path", d="M0 2.5H14V0L23 5L14 10V7.5H0Z", **own.ARROW)
    rim = element("path", d="M12 -2L18 9H6Z", **own.RIM)
    kinds = [
        (True, KeyItem(sample=beak + number, words="stand, and the way the machine faces")),
        (True, KeyItem(sample=cast, words="cast, thick as its volume")),
        (True, line_item("reach", own.REACH)),
        (True, line_item("tail swing", own.SWING)),
        (True, line_item("way to the stand", own.WAY)),
        (True, line_item("foundation, outside face", inks.FOUNDATION)),
        (True, line_item("dig line, at the floor", inks.DIG_LINE)),
        (not plan.site.daylight.is_empty, line_item("edge of the cut: paint it", own.EDGE)),
        (plan.site.boundary is not None, line_item("lot line", lot_inks.LOT_LINE)),
        (bool(plan.rim_corners), KeyItem(sample=rim, words="rim corner")),
    ]  # fmt: skip
    return [item for is_drawn, item in kinds if is_drawn]
