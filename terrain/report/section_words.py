"""The words and figures of a section drawing, each where it covers no other."""

from collections.abc import Sequence
from typing import TypeAlias

import numpy as np
from shapely import Polygon, box, union_all

from terrain.base.arrays import FloatArray
from terrain.job.sections import Section
from terrain.report import figures, inks
from terrain.report.names import plain, shortened
from terrain.report.section_sheet import EDGE, SIZE, WIDTH, Sheet
from terrain.report.svg import Attribute, element, path_data, text, text_width

ROW = 13.0
HALO: dict[str, Attribute] = {
    "stroke": inks.PAPER, "stroke_width": 3.0, "stroke_linejoin": "round", "paint_order": "stroke",
}  # fmt: skip
THIN: dict[str, Attribute] = {"fill": "none", "stroke": inks.INK, "stroke_width": 0.7}
Levels: TypeAlias = Sequence[tuple[str, float]]
"""Names and elevations."""

Mark: TypeAlias = tuple[str, float, float]
"""A name, its station, and the elevation from which a line goes down to it."""

SHORT_NAMES = {
    "top of wall": "wall top",
    "top of footing": "footing top",
    "underside of slab": "under slab",
    "floor of the dig": "floor",
    "underside of footing": "footing foot",
}


def levels_of(section: Section) -> list[tuple[str, float]]:
    """The short name and the elevation of every level of a section."""
    levels = [(SHORT_NAMES[v.name], v.elevation) for v in section.levels]
    if section.grade_at_face is not None:
        levels.append(("grade", section.grade_at_face))
    if section.daylight is not None:
        levels.append(("daylight", section.daylight[1]))
    return levels


def level_column(levels: Levels, unit: str) -> float:
    """Pixels that the column of some levels takes."""
    return 22 + max(text_width(words, SIZE - 0.5) for words, _ in _told(levels, unit))


def _told(levels: Levels, unit: str) -> list[tuple[str, float]]:
    """The words and the elevation of every level, the highest first."""
    ordered = sorted(levels, key=lambda level: -level[1])
    return [(f"{name} {figures.coordinate(up, unit)}", up) for name, up in ordered]


def level_words(sheet: Sheet, levels: Levels) -> str:
    """The column of levels on the left, spread so that none covers another, with their ties.

    Levels closer together than a line of text share one tie, with a tick at each of them.
    """
    told = _told(levels, sheet.unit)
    wanted = [sheet.down(elevation) for _, elevation in told]
    places = spread(wanted, ROW)
    drawn = [
        text(content, x=sheet.column - 18, y=place + 3.6, text_anchor="end",
             font_size=SIZE - 0.5, fill=inks.INK)
        for (content, _), place in zip(told, places, strict=True)
    ]  # fmt: skip
    for first, last in _close_together(wanted):
        tie = _tie(sheet, places[first : last + 1], wanted[first : last + 1])
        drawn.append(element("path", d=path_data(tie), **THIN))
    return "".join(drawn)


def _close_together(wanted: list[float]) -> list[tuple[int, int]]:
    """First and last of each run of places that one line of text would cover."""
    runs: list[tuple[int, int]] = []
    for k, place in enumerate(wanted):
        if runs and place - wanted[runs[-1][0]] < ROW:
            runs[-1] = runs[-1][0], k
        else:
            runs.append((k, k))
    return runs


def _tie(sheet: Sheet, places: list[float], downs: list[float]) -> list[FloatArray]:
    """The lines from some texts, one under another, to their levels at the drawing's edge."""
    column, middle, level = sheet.column, float(np.mean(places)), float(np.mean(downs))
    lines = [np.array([[column - 14, middle], [column - 6, level]])]
    if len(places) > 1:
        top, foot = places[0] - 4, places[-1] + 4
        lines.append(np.array([[column - 16, top], [column - 14, top], [column - 14, foot],
                               [column - 16, foot]]))  # fmt: skip
        lines.append(np.array([[column - 6, downs[0]], [column - 6, downs[-1]]]))
    return [*lines, *(np.array([[column - 6, down], [column, down]]) for down in downs)]


def spread(wanted: list[float], apart: float) -> list[float]:
    """Places in the same order, at least `apart` from one another, near those wanted.

    >>> spread([10.0, 11.0, 50.0], 4.0)
    [8.5, 12.5, 50.0]
    """
    groups: list[list[float]] = []  # each holds the wanted places of texts that touch
    for place in wanted:
        groups.append([place])
        while len(groups) > 1 and _first(groups[-1], apart) < _last(groups[-2], apart) + apart:
            last = groups.pop()
            groups[-1] += last
    return [_first(group, apart) + apart * k for group in groups for k in range(len(group))]


def _first(group: list[float], apart: float) -> float:
    return sum(group) / len(group) - apart * (len(group) - 1) / 2


def _last(group: list[float], apart: float) -> float:
    return sum(group) / len(group) + apart * (len(group) - 1) / 2


def marks_of(section: Section) -> list[Mark]:
    """The stations of a section of the dig: outside face, dig line, daylight."""
    marks = [("outside face", 0.0, section.floor)]
    if section.dig_line is not None:
        marks.append(("dig line", section.dig_line, section.floor))
    if section.daylight is not None:
        marks.append(("daylight", *section.daylight))
    return marks


def axis_words(sheet: Sheet, marks: Sequence[Mark]) -> tuple[str, float]:
    """Under the drawing: how far out each mark is; and where that ends."""
    section = sheet.section
    end = sheet.across(section.high)
    ticks = [element("path", d=f"M{sheet.column:g} {sheet.height:g}H{end:.1f}", **THIN)]
    words = []
    down = sheet.height
    for name, station, upward in marks:
        down += ROW
        across = sheet.across(station)
        figure = figures.length(station, sheet.unit)
        content = name if station == 0 else f"{name} {figure} {figures.unit_sign(sheet.unit)} out"
        tick = f"M{across:.1f} {sheet.down(upward):.1f}V{down:.1f}"
        ticks.append(element("path", d=tick, stroke_dasharray="3 2", **THIN))
        fits = across + 4 + text_width(content, SIZE) < WIDTH
        words.append(
            text(content, x=across + (4 if fits else -4), y=down, font_size=SIZE, fill=inks.INK,
                 text_anchor="start" if fits else "end", **HALO)
        )  # fmt: skip
    return "".join([*ticks, *words]), down + 8


def dig_depth(sheet: Sheet) -> str:
    """An arrow from the existing grade at the face down to the floor, with its length."""
    section = sheet.section
    if section.cut_at_face is None or section.grade_at_face is None:
        return ""
    rings = [r for r in (section.built.wall, section.built.footing) if r is not None]
    inner = min((float(ring[:, 0].min()) for ring in rings), default=0.0)
    across = max(sheet.across(inner) - 14, sheet.column + 6)
    top, bottom = sheet.down(section.grade_at_face), sheet.down(section.floor)
    content = f"{figures.length(section.cut_at_face, sheet.unit)} cut"
    heads = (
        f"M{across - 3:.1f} {top + 5:.1f}L{across:.1f} {top:.1f}L{across + 3:.1f} {top + 5:.1f}"
        f"M{across - 3:.1f} {bottom - 5:.1f}L{across:.1f} {bottom:.1f}"
        f"L{across + 3:.1f} {bottom - 5:.1f}"
    )
    reach = f"M{across - 5:.1f} {top:.1f}H{sheet.across(0.0):.1f}"
    tall = bottom - top > 16
    arrow = f"M{across:.1f} {top:.1f}V{bottom:.1f}{heads if tall else ''}"
    fits = across - 5 - text_width(content, SIZE) > sheet.column
    return "".join(
        [
            element("path", d=reach, stroke_dasharray="1 2", **THIN),
            element("path", d=arrow, **(THIN | {"stroke_width": 1.0})),
            text(
                content,
                x=across - 5 if fits else across + 5,
                y=(top + bottom) / 2 + 3.6,
                text_anchor="end" if fits else "start",
                font_size=SIZE,
                font_weight="bold",
                fill=inks.INK,
                **HALO,
            ),
        ]
    )


def grade_word(sheet: Sheet) -> str:
    """The words "existing grade" over the outer end of its line, in two rows where it is short.

    They are left to the key where they would stand over wall, footing or stone.
    """
    if not sheet.section.ground:
        return ""
    places, built = sheet.pixels(sheet.section.ground[-1]), sheet.section.built
    rings = [r for r in (built.wall, built.footing, *built.stone) if r is not None]
    solid = union_all([Polygon(sheet.pixels(ring)).buffer(2) for ring in rings])
    right = float(places[-1, 0])
    for rows in (("existing grade",), ("existing", "grade")):
        width = max(text_width(row, SIZE) for row in rows)
        near = places[places[:, 0] >= right - width]
        across = np.array([right - width, right])
        heights = np.concatenate([near[:, 1], np.interp(across, places[:, 0], places[:, 1])])
        foot = float(heights.min()) - 5
        if box(right - width, foot - len(rows) * ROW, right, foot).intersects(solid):
            continue
        return "".join(
            text(row, x=right - 2, y=foot - ROW * (len(rows) - 1 - k), text_anchor="end",
                 font_size=SIZE, fill=inks.GRASS, font_weight="600", **HALO)
            for k, row in enumerate(rows)
        )  # fmt: skip
    return ""


def extra_words(sheet: Sheet) -> str:
    """The names of pits, ramps and trenches in what they add, once each."""
    drawn, done = [], set()
    for stretch in sheet.section.cut:
        if stretch.part is not None or stretch.name in done:
            continue
        done.add(stretch.name)
        places = sheet.pixels(stretch.ring)
        content = shortened(plain(stretch.name), 18)
        half = text_width(content, SIZE) / 2
        middle = float(np.clip(_middle(places), sheet.column + half, WIDTH - EDGE - half))
        drawn.append(
            text(content, x=middle, y=float(places[:, 1].max()) + SIZE + 2, text_anchor="middle",
                 font_size=SIZE, font_style="italic", fill=inks.INK, **HALO)
        )  # fmt: skip
    return "".join(drawn)


def _middle(places: FloatArray) -> float:
    return float(places[:, 0].min() + places[:, 0].max()) / 2
