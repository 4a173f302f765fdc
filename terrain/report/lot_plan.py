"""The plan of the finished lot as inline SVG, to scale, north up."""

import numpy as np

from terrain.job.grade_answer import GradeAnswer
from terrain.job.lot_pictures import LotPictures
from terrain.report import figures, inks, lot_inks
from terrain.report.frame import Framed, framed
from terrain.report.key import KeyItem, area_item, line_item
from terrain.report.lot_drawing import (
    LotDrawing,
    areas,
    contour_lines,
    failed_mark,
    lot_definitions,
    lot_lines,
    seen_contours,
    water,
)
from terrain.report.lot_naming import LotNames, lot_names
from terrain.report.names import plain
from terrain.report.svg import element, text_width
from terrain.report.view import NARROW, view_round

MARGIN = (0.0, 32.0)
"""A lot has its names inside: no share of it, and room for a line's weight and its figures."""


NOTES = 0.75
"""The share of the width that a note under the plan takes at most: the scale bar is beside it."""


def lot_plan_svg(answer: GradeAnswer, pictures: LotPictures, width: float, name: str) -> str:
    """A drawing `width` pixels wide; `name` keeps its ids apart from others on the page."""
    plan = pictures.plan
    drawing = LotDrawing(
        answer=answer,
        plan=plan,
        view=view_round(np.concatenate([plan.design.boundary, plan.dig_line]), width, MARGIN),
        size=10.5 if width < NARROW else 12.0,
        name=name,
    )
    names = lot_names(drawing)
    unit = figures.unit_sign(answer.length_unit)
    notes = [f"{pictures.made.date} · lengths in {unit}, north is up"]
    every = (*plan.before, *plan.after)
    specks = len(every) - len(seen_contours(drawing, every))
    if specks:
        notes.append(f"contours too short to draw: {figures.count(specks)}")
    notes += _by_letter(names, drawing)
    if names.left_off:
        notes.append(f"names left off for want of room: {figures.count(names.left_off)}")
    sheet = Framed(
        view=drawing.view,
        name=name,
        title=f"Plan of the finished lot: {plain(answer.title)}",
        unit=unit,
        size=drawing.size,
        notes=tuple(notes),
        keys=(_area_items(drawing, unit), _line_items(drawing, unit), _water_items(drawing)),
    )
    return framed(
        sheet, lot_definitions(drawing), areas(drawing), contour_lines(drawing), lot_lines(drawing),
        water(drawing), names.markup,
    )  # fmt: skip


def _by_letter(names: LotNames, drawing: LotDrawing) -> list[str]:
    """Lines for under the plan: letters that stand for walls, and the walls' names."""
    lines: list[str] = []
    for letter, name in names.by_letter:
        told = f"{letter} = {name}"
        longer = f"{lines[-1]}, {told}" if lines else told
        if lines and text_width(longer, drawing.size) <= NOTES * drawing.view.width:
            lines[-1] = longer
        else:
            lines.append(told)
    return lines


def _area_items(drawing: LotDrawing, unit: str) -> list[KeyItem]:
    name, design = drawing.name, drawing.plan.design
    items = [
        area_item(f"cut, − {unit}", f"url(#{name}-cut)", **lot_inks.SAMPLE),
        area_item(f"fill, + {unit}", f"url(#{name}-fill)", **lot_inks.SAMPLE),
    ]
    if design.pads:
        items.append(area_item("pad", "none", **lot_inks.PAD))
    if design.keeps:
        items.append(area_item("kept as it is", f"url(#{name}-keep)", **lot_inks.KEEP))
    return items


def _line_items(drawing: LotDrawing, unit: str) -> list[KeyItem]:
    plan = drawing.plan
    items = [
        line_item(f"contour before, every {plan.interval:g} {unit}", lot_inks.BEFORE),
        line_item("contour after", lot_inks.AFTER),
        line_item("house, with finished grade at its corners", inks.FOUNDATION),
        line_item("dig line", inks.DIG_LINE),
        line_item("lot line", lot_inks.LOT_LINE),
    ]
    if plan.design.swales:
        items.append(line_item("swale", lot_inks.SWALE))
    if plan.untied:
        face = element("path", d="M0 5H24", **lot_inks.UNTIED)
        face += element("path", d="M0 5H24", **lot_inks.UNTIED_CORE)
        items.append(KeyItem(sample=face, words="face that does not tie in, with its height"))
    return items


def _water_items(drawing: LotDrawing) -> list[KeyItem]:
    drained = drawing.answer.drainage
    arrow = "M3 5H21M16 1.5L21 5L16 8.5"
    items = [KeyItem(sample=element("path", d=arrow, **lot_inks.ARROW), words="falls this way")]
    if drained.outlets:
        way = element("path", d=arrow, **lot_inks.OUTLET)
        items.append(KeyItem(sample=way, words="water leaves the lot"))
    if drained.ponds:
        disc = element("circle", cx=12.0, cy=5.0, r=6.0, fill=f"url(#{drawing.name}-pond)",
                       **lot_inks.POND)  # fmt: skip
        items.append(KeyItem(sample=disc, words="pond: a disc of its area, its depth beside it"))
    if drained.failures:
        items.append(KeyItem(sample=failed_mark(12.0, 5.0), words="falls too little from here"))
    if drained.returns:
        ring = element("circle", cx=12.0, cy=5.0, r=4.5, fill=inks.PAPER, **lot_inks.POND)
        items.append(KeyItem(sample=ring, words="water runs to the house"))
    return items
