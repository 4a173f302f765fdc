"""The plan drawing of the dig as inline SVG, to scale, north up."""

import numpy as np

from terrain.job.answer import Volumes
from terrain.job.sections import Section
from terrain.report import figures, inks
from terrain.report.bands import band_colours, depth_bands
from terrain.report.drawing import (
    Drawing,
    deepest_mark,
    definitions,
    mark_at,
    outlines,
    shading,
    shots,
)
from terrain.report.frame import Framed, framed
from terrain.report.key import SAMPLE, KeyItem, area_item, line_item
from terrain.report.marks import numbered_item, section_item
from terrain.report.names import plain
from terrain.report.naming import depth_text, names, north_place
from terrain.report.room import drawn_lines
from terrain.report.svg import element, fitted, text_width
from terrain.report.view import NARROW, view_of


def plan_svg(volumes: Volumes, width: float, name: str, sections: tuple[Section, ...] = ()) -> str:
    """A drawing `width` pixels wide; `name` keeps its ids apart from others on the page.

    The places of `sections` are marked with their numbers.
    """
    drawing = Drawing(
        volumes=volumes,
        view=view_of(volumes.plan, width),
        bands=depth_bands(volumes.plan),
        size=11.0 if width < NARROW else 12.5,
        name=name,
        sections=sections,
    )
    dots, dots_words = shots(drawing)
    north = north_place(drawing.view, drawn_lines(drawing))
    told = names(drawing, north)
    unit = figures.unit_sign(volumes.ledger.length_unit)
    notes = [f"{volumes.date} · lengths in {unit}, north is up", dots_words]
    if told.left_off:
        notes.append(f"names left off for want of room: {figures.count(told.left_off)}")
    if told.by_number:
        notes.append("where a name has no room for its volume: by number, below")
    sheet = Framed(
        view=drawing.view,
        name=name,
        title=f"Plan of the dig: {plain(volumes.ledger.title)}",
        unit=unit,
        size=drawing.size,
        notes=tuple(notes),
        north=north,
        keys=(
            _band_items(drawing, unit),
            _line_items(drawing),
            _wall_items(drawing, told.by_number),
        ),
    )
    return framed(
        sheet,
        definitions(drawing),
        shading(drawing),
        dots,
        outlines(drawing),
        deepest_mark(drawing),
        told.markup,
    )


def _band_items(drawing: Drawing, unit: str) -> list[KeyItem]:
    """One swatch a depth band, in signed figures: minus is below the ground of today."""
    levels = [float(level) for level in drawing.bands.levels]
    colours = band_colours(len(drawing.bands.rings))
    items = []
    for colour, low, high in zip(colours, levels[:-1], levels[1:], strict=True):
        words = f"{depth_text(low)} to {depth_text(high)}"
        words = f"cut {words} {unit}" if low == 0 else words
        items.append(area_item(words, colour, stroke=inks.INK, stroke_width=0.6))
    return items


def _wall_items(drawing: Drawing, by_number: tuple[int, ...]) -> list[KeyItem]:
    """The walls that the drawing does not tell in full, by their sections' numbers."""
    ledger = drawing.volumes.ledger
    unit = figures.unit_sign(ledger.volume_unit)
    rows = {row.wall: row for row in ledger.walls}
    number = {section.wall: section.number for section in drawing.sections}
    room = drawing.view.width - SAMPLE - 20
    items = []
    for k in by_number:
        wall = drawing.plan.walls[k]
        bank = f" {figures.volume(rows[wall].quantity.bank)} {unit}" if wall in rows else ""
        words = fitted(plain(wall), room - text_width(bank, drawing.size), drawing.size) + bank
        items.append(numbered_item(number[wall], words, drawing.size))
    return items


def _line_items(drawing: Drawing) -> list[KeyItem]:
    """The kinds of line that this drawing has."""
    plan, name, volumes = drawing.plan, drawing.name, drawing.volumes
    unit = volumes.ledger.length_unit
    deepest = f"{figures.length(volumes.ledger.deepest_cut, unit)} {figures.unit_sign(unit)}"
    kinds = [
        (True, line_item("foundation, outside face", inks.FOUNDATION)),
        (len(plan.dig_line) > 0, line_item("dig line, at the floor", inks.DIG_LINE)),
        (len(plan.daylight) > 0, line_item("daylight: cut meets the ground", inks.DAYLIGHT)),
        (len(plan.seams) > 0, line_item("seam between sides", inks.SEAM)),
        (len(plan.shares) > 0, line_item("where one wall\u2019s share ends", inks.SHARE)),
        (
            len(plan.extras) > 0,
            area_item("pit, ramp or trench", f"url(#{name}-hatch)", **inks.EXTRA),
        ),
        (len(plan.breaklines) > 0, line_item("breakline", inks.BREAKLINE)),
        (len(plan.shots) > 0, KeyItem(sample=element("path", d="M12 5h0", **inks.SHOT),
                                      words="shot")),
        (len(drawing.sections) > 0, section_item(drawing.size)),
        (volumes.deepest_at is not None,
         KeyItem(sample=mark_at(np.array([12.0, 5.0])), words=f"deepest cut, {deepest}")),
    ]  # fmt: skip
    return [item for is_drawn, item in kinds if is_drawn]
