"""The marks on a plan that say where each section is cut."""

import numpy as np
from shapely import LineString, MultiLineString, Point

from terrain.base.arrays import FloatArray
from terrain.job.sections import Section
from terrain.report import inks
from terrain.report.drawing import Drawing
from terrain.report.key import KeyItem
from terrain.report.labels import Sheet
from terrain.report.svg import Attribute, element, path_data, text

RADIUS, SMALL_RADIUS, SMALL_SIZE = 7.5, 6.3, 12.0
"""Of the circle, and of the smaller one in drawings with letters under `SMALL_SIZE`."""

INWARD, OUTWARD = np.arange(13.0, 70.0, 6.0), np.arange(9.0, 66.0, 6.0)
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
    tip, past, radius = (
        face + (max(met) * scale + 5) * along,
        max(met) * scale + 5,
        _radius_of(drawing.size),
    )
    for inward, outward in zip(INWARD, OUTWARD, strict=True):
        place, ends = face - inward * along, (radius - inward, past)
        if _is_free(place, radius, sheet):
            break
        place, ends = tip + outward * along, (-5.0, past + outward - radius)
        if _is_free(place, radius, sheet):
            break
    line = np.stack([face + end * along for end in ends])
    sheet.taken.append(Point(place).buffer(radius + 1))
    sheet.lines = MultiLineString([*sheet.lines.geoms, LineString(line)])
    return element("path", d=path_data([line]), **LINE) + _number(
        section.number, place, drawing.size, radius
    )


def _radius_of(size: float) -> float:
    return SMALL_RADIUS if size < SMALL_SIZE else RADIUS


def _is_free(place: FloatArray, radius: float, sheet: Sheet) -> bool:
    room = Point(place).buffer(radius + 1)
    free = not any(room.intersects(taken) for taken in sheet.taken)
    return free and bool(sheet.window.contains(room))


def _number(number: int, place: FloatArray, size: float, radius: float) -> str:
    small = size - 2 if number < 100 else size - 4
    across, down = float(place[0]), float(place[1])
    return element("circle", cx=across, cy=down, r=radius, fill=inks.PAPER, stroke=inks.INK,
                   stroke_width=1.0) + text(
        f"{number}", x=across, y=down + 0.36 * small, text_anchor="middle", font_size=small,
        font_weight="bold", fill=inks.INK,
    )  # fmt: skip


def section_item(size: float) -> KeyItem:
    """The mark as the key shows it."""
    line = element("path", d="M0 5H9", **LINE)
    return KeyItem(
        sample=line + _number(1, np.array([16.5, 5.0]), size, RADIUS),
        words="section, with its number",
    )


def numbered_item(number: int, words: str, size: float) -> KeyItem:
    """The number of a section, as on the plan, with words on its wall."""
    return KeyItem(
        sample=_number(number, np.array([14.0, 5.0]), size, _radius_of(size)), words=words
    )
