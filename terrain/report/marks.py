"""The marks on a plan that say where each section is cut."""

import numpy as np
from shapely import Point

from terrain.base.arrays import FloatArray
from terrain.job.sections import Section
from terrain.report import inks
from terrain.report.drawing import Drawing
from terrain.report.key import KeyItem
from terrain.report.labels import Sheet
from terrain.report.svg import Attribute, element, path_data, text

RADIUS = 7.5
INWARD, OUTWARD = (15.0, 31.0, 47.0, 63.0), (9.0, 24.0, 39.0, 54.0)
"""Pixels inside the wall, and past the cut, at which a number may stand: the first that is free."""

LINE: dict[str, Attribute] = {
    "fill": "none", "stroke": inks.INK, "stroke_width": 0.9, "stroke_dasharray": "1 2.5",
}  # fmt: skip


def section_marks(drawing: Drawing, sheet: Sheet) -> str:
    """A number and a dotted line through each wall out past the cut; takes the number's room."""
    return "".join(_mark(section, drawing, sheet) for section in drawing.sections)


def _mark(section: Section, drawing: Drawing, sheet: Sheet) -> str:
    start, end = drawing.view.pixels(np.stack([section.start, section.end]))
    length = float(np.hypot(*(end - start)))
    if length == 0:
        return ""
    along = (end - start) / length
    scale = length / (section.high - section.low)
    face = start - section.low * scale * along
    met = [0.0, section.dig_line or 0.0, section.daylight[0] if section.daylight else 0.0]
    tip = face + (max(met) * scale + 5) * along
    for inward, outward in zip(INWARD, OUTWARD, strict=True):
        place, ends = face - inward * along, (RADIUS - inward, max(met) * scale + 5)
        if _is_free(place, sheet):
            break
        place, ends = tip + outward * along, (-5.0, max(met) * scale + 5 + outward - RADIUS)
        if _is_free(place, sheet):
            break
    sheet.taken.append(Point(place).buffer(RADIUS + 1))
    line = np.stack([face + end * along for end in ends])
    return element("path", d=path_data([line]), **LINE) + _number(
        section.number, float(place[0]), float(place[1]), drawing.size
    )


def _is_free(place: FloatArray, sheet: Sheet) -> bool:
    room = Point(place).buffer(RADIUS + 1)
    free = not any(room.intersects(taken) for taken in sheet.taken)
    return free and bool(sheet.window.contains(room))


def _number(number: int, across: float, down: float, size: float) -> str:
    small = size - 2 if number < 100 else size - 4
    return element("circle", cx=across, cy=down, r=RADIUS, fill=inks.PAPER, stroke=inks.INK,
                   stroke_width=1.0) + text(
        f"{number}", x=across, y=down + 0.36 * small, text_anchor="middle", font_size=small,
        font_weight="bold", fill=inks.INK,
    )  # fmt: skip


def section_item(size: float) -> KeyItem:
    """The mark as the key shows it."""
    line = element("path", d="M0 5H9", **LINE)
    return KeyItem(sample=line + _number(1, 16.5, 5.0, size), words="section, with its number")
