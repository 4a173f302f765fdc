"""The drawing of a dig plan as inline SVG, to scale, north up: all of it, and a step a pass."""

from shapely import Point
from shapely.geometry.base import BaseGeometry

from terrain.job.dig_plan_record import DigPlan
from terrain.report import dig_plan_inks as own
from terrain.report import figures, inks, lot_inks
from terrain.report.dig_plan_bench import bench_marks
from terrain.report.dig_plan_drawing import (
    cast_arrows,
    close_window,
    is_pile,
    pile_layer,
    plan_definitions,
    reach_layer,
    rim_marks,
    site_layer,
    step,
    truck_marks,
    truck_rooms,
    window_of,
)
from terrain.report.dig_plan_marks import corner_letters, stand_mark
from terrain.report.dig_plan_names import dig_plan_names, north_of, north_taken
from terrain.report.dig_plan_room import Marked, marked
from terrain.report.dig_plan_sheet import PlanDrawing
from terrain.report.dig_plan_stand_words import wall_letters
from terrain.report.frame import Framed, framed
from terrain.report.key import KeyItem, area_item, flow, line_item
from terrain.report.names import plain
from terrain.report.svg import element, text_width
from terrain.report.view import NARROW

PAPER_PLAN = (900.0, 780.0)
PAPER_KEY, NARROW_SIZE, WIDE_SIZE = 250.0, 13.5, 14.5
"""Pixels: the drawing and the key of the sheet that is printed, letters narrow and wide."""


STEPPED = ("dug now", "dug before", "tail swing", "way to the stand")
"""What only the steps of the page show."""


def dig_plan_svg(plan: DigPlan, width: float, name: str) -> str:
    """A drawing `width` pixels wide; `name` keeps its ids apart from others on the page.

    What belongs to one pass is a group with `data-pass`, its stand one with `data-stand`.
    """
    drawing = PlanDrawing(
        plan=plan,
        view=window_of(plan, width),
        size=NARROW_SIZE if width < NARROW else WIDE_SIZE,
        name=name,
    )
    passes = element("g", *(step(drawing, one) for one in plan.passes), class_="passes")
    work = element("g", reach_layer(drawing), cast_arrows(drawing), class_="all")
    return _framed(drawing, (passes, work), (_areas(drawing), _lines(drawing)))


def dig_plan_close(plan: DigPlan, width: float, name: str) -> str:
    """The dig and its stands alone, larger, for a narrow screen: corners by letter, no names."""
    view = close_window(plan, width)
    drawing = PlanDrawing(plan=plan, view=view, size=NARROW_SIZE, name=name)
    return _framed(drawing, ("", ""), None)


def dig_plan_paper(plan: DigPlan, name: str) -> tuple[str, str]:
    """The drawing for a sheet of paper of its own, without steps, and its key apart."""
    view = window_of(plan, *PAPER_PLAN)
    drawing = PlanDrawing(plan=plan, view=view, size=WIDE_SIZE, name=name)
    items = [item for item in (*_areas(drawing), *_lines(drawing)) if item.words not in STEPPED]
    drawn, bottom = flow(items, PAPER_KEY, 2.0, NARROW_SIZE)
    key = element("svg", drawn, xmlns="http://www.w3.org/2000/svg", role="img",
                  viewBox=f"-1 0 {PAPER_KEY:g} {bottom:g}", aria_label="Key of the map",
                  font_family=inks.FACE, class_="paper-key")  # fmt: skip
    return _framed(drawing, ("", reach_layer(drawing) + cast_arrows(drawing)), ()), key


def _framed(
    drawing: PlanDrawing, work: tuple[str, str], keys: tuple[list[KeyItem], ...] | None
) -> str:
    """A drawing with what is done `work`, below the site's lines and above; no keys: no names."""
    plan, (below, above) = drawing.plan, work
    north = north_of(drawing)
    fixed = [north_taken(north), *_fixed(drawing)]
    bench, bench_taken = bench_marks(drawing, fixed)
    fixed += bench_taken
    marks = marked(drawing, fixed)
    taken = [*fixed, *marks.taken]
    words, left = ("", []) if keys is None else dig_plan_names(drawing, taken)
    unit = figures.unit_sign(plan.length_unit)
    sheet = Framed(
        view=drawing.view,
        name=drawing.name,
        title=f"Plan of the digging: {plain(plan.title)}",
        unit=unit,
        size=drawing.size,
        notes=(f"{plan.date} · lengths in {unit}, north is up", *_left_off(drawing, marks, left)),
        north=north,
        keys=keys or (),
    )
    return framed(
        sheet,
        plan_definitions(drawing),
        pile_layer(drawing),
        below,
        site_layer(drawing),
        truck_marks(drawing),
        above,
        element(
            "g",
            *(
                stand_mark(drawing, one.stand, marks.numbers[one.stand.number].middle)
                for one in plan.passes
                if one.stand.number in marks.numbers
            ),
            class_="stands",
        ),
        rim_marks(drawing),
        corner_letters(drawing, letters=marks.letters),
        bench,
        words,
    )


def _fixed(drawing: PlanDrawing) -> list[BaseGeometry]:
    """What rim corners' triangles and trucks' boxes take, in pixels."""
    rims = [Point(drawing.spot(corner.spot)).buffer(9) for corner in drawing.plan.rim_corners]
    return [*rims, *truck_rooms(drawing)]


def _left_off(drawing: PlanDrawing, marks: Marked, left: list[int]) -> list[str]:
    """Lines on walls and stands that found no room, walls by the letters of their ends."""
    plan, size, told = drawing.plan, drawing.size, []
    if left:
        walls = [f"{wall_letters(plan, k)} {plain(plan.site.walls[k])}" for k in left]
        named = f"no room for {', '.join(walls)}"
        letters = f"no room for names: {', '.join(wall_letters(plan, k) for k in left)}"
        fits = [line for line in (named, letters) if text_width(line, size) < drawing.view.width]
        told.append(fits[0] if fits else f"names left off for want of room: {len(left)}")
    missing = len(plan.passes) - len(marks.numbers)
    if missing:
        told.append(f"stands left off for want of room: {missing}")
    return told


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
    truck = element("rect", width=19.0, height=10.0, **own.TRUCK)
    truck += element("path", d="M19 1L26 5L19 9Z", **own.HEADING)
    kinds = [
        (True, KeyItem(sample=beak + number, words="stand, and where it faces")),
        (True, KeyItem(sample=cast, words="where earth goes, by volume")),
        (bool(plan.trucks), KeyItem(sample=truck, words="truck, and its way out")),
        (True, line_item("how far the bucket reaches", own.REACH)),
        (True, line_item("tail swing", own.SWING)),
        (True, line_item("way to the stand", own.WAY)),
        (True, line_item("foundation, outside face", inks.FOUNDATION)),
        (True, line_item("dig line, at the floor", inks.DIG_LINE)),
        (not plan.site.daylight.is_empty, line_item("edge of the cut: paint it", own.EDGE)),
        (plan.site.boundary is not None, line_item("lot line", lot_inks.LOT_LINE)),
        (bool(plan.rim_corners), KeyItem(sample=rim, words="rim corner, finished blind")),
    ]  # fmt: skip
    return [item for is_drawn, item in kinds if is_drawn]
