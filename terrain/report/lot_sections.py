"""Sections through the finished lot as inline SVG: what is dug, put back, cut and filled."""

from collections.abc import Sequence

import numpy as np
from markupsafe import Markup

from terrain.base.arrays import FloatArray
from terrain.job.lot_sections import LotSection
from terrain.report import figures, inks, lot_inks
from terrain.report.key import KeyItem, area_item, flow, line_item, scale_bar
from terrain.report.names import plain, shortened
from terrain.report.section_parts import (
    CONCRETE,
    FOOTROOM,
    HEADROOM,
    area_path,
    built_in,
    drawn_span,
    ground_body,
    line_path,
    section_definitions,
)
from terrain.report.section_sheet import EDGE, SIZE, WIDTH, Sheet
from terrain.report.section_words import (
    SHORT_NAMES,
    Levels,
    Mark,
    axis_words,
    level_column,
    level_words,
)
from terrain.report.sections import Cut, section_place
from terrain.report.svg import Attribute, element

EXISTING: dict[str, Attribute] = {
    "stroke": inks.GRASS, "stroke_width": 1.3, "stroke_dasharray": "5 3",
}  # fmt: skip
FINISHED: dict[str, Attribute] = {"stroke": inks.INK, "stroke_width": 2.6}
DIG: dict[str, Attribute] = {"stroke": inks.INK, "stroke_width": 1.0}
BACKFILL = "#efe3cb"


def shown_lot_sections(sections: Sequence[LotSection], length_unit: str) -> list[Cut]:
    """The sections, all to one scale but for those that are too wide for it."""
    if not sections:
        return []
    spans = [own.section.high - own.section.low for own in sections]
    column = max(level_column(_levels(own), length_unit) for own in sections)
    most = (WIDTH - column - EDGE) / float(np.median(spans))
    return [
        Cut(
            number=own.section.number,
            name=plain(own.section.wall),
            place=section_place(own.section),
            drawing=Markup(lot_section_svg(own, length_unit, most)),
        )
        for own in sections
    ]


def lot_section_svg(own: LotSection, length_unit: str, most: float) -> str:
    """A drawing `WIDTH` pixels wide, at `most` so many pixels a length unit."""
    section, levels = own.section, _levels(own)
    column = level_column(levels, length_unit)
    scale = min(most, (WIDTH - column - EDGE) / (section.high - section.low))
    low, high = drawn_span(section)
    heights = [float(h) for line in own.finished for h in (line[:, 1].min(), line[:, 1].max())]
    low, high = min([low, *heights]), max([high, *heights])
    sheet = Sheet(
        section=section,
        scale=scale,
        column=column,
        top=high + HEADROOM / scale,
        height=(high - low) * scale + HEADROOM + FOOTROOM,
        unit=length_unit,
        tag=f"lot{section.number}",
    )
    axis, below = axis_words(sheet, _marks(own))
    unit = figures.unit_sign(length_unit)
    bar = element("g", scale_bar(scale, unit, 0.0, SIZE), transform=f"translate({column:g} 0)")
    return element(
        "svg",
        section_definitions(sheet),
        element("defs", lot_inks.patterns(sheet.tag)),
        element("g", *ground_body(sheet), *_earth(sheet, own), *built_in(sheet),
                *_lines(sheet, own), clip_path=f"url(#{sheet.tag}-window)"),
        axis,
        level_words(sheet, levels),
        element("g", bar, transform=f"translate(0 {below:g})"),
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {WIDTH:g} {below + 24:g}",
        role="img",
        aria_label=f"Section {section.number} through the finished lot at "
        f"{shortened(plain(section.wall), 60)}",
        font_family=inks.FACE,
        class_="section",
    )  # fmt: skip


def _levels(own: LotSection) -> Levels:
    levels = [(SHORT_NAMES[v.name], v.elevation) for v in own.section.levels]
    if own.grade is not None:
        levels.append(("new grade", own.grade))
    if own.section.grade_at_face is not None:
        levels.append(("old grade", own.section.grade_at_face))
    return levels


def _marks(own: LotSection) -> list[Mark]:
    """Outside face, dig line and the end of the fall from the house."""
    section = own.section
    marks: list[Mark] = [("outside face", 0.0, section.floor)]
    if section.dig_line is not None:
        marks.append(("dig line", section.dig_line, section.floor))
    if own.apron is not None:
        marks.append(("apron", *own.apron))
    return marks


def _earth(sheet: Sheet, own: LotSection) -> list[str]:
    """What was dug as bare paper, then backfill, fill and cut over it."""
    drawn = [area_path(sheet.pixels(piece.ring), fill=inks.PAPER) for piece in own.section.cut]
    drawn += [area_path(sheet.pixels(ring), fill=BACKFILL) for ring in own.backfill]
    for kind, rings in (("fill", own.fill), ("cut", own.trimmed)):
        drawn += [area_path(sheet.pixels(ring), fill=f"url(#{sheet.tag}-{kind})") for ring in rings]
    return drawn


def _lines(sheet: Sheet, own: LotSection) -> list[str]:
    def paths(lines: Sequence[FloatArray], style: dict[str, Attribute]) -> list[str]:
        return [line_path(sheet.pixels(line), **style) for line in lines]

    section = own.section
    return [
        *paths(section.dig, DIG),
        *paths(section.ground, EXISTING),
        *paths(own.finished, FINISHED),
    ]


def lot_sections_key(sections: Sequence[LotSection], width: float) -> Markup:
    """What lines, tones and hatches mean, as far as these sections have them."""
    built = [own.section.built for own in sections]
    items = [
        line_item("finished grade", FINISHED),
        line_item("existing grade", EXISTING),
        line_item("dig", DIG),
        area_item("backfill", BACKFILL, **lot_inks.SAMPLE),
    ]
    name = f"lotkey{width:.0f}"
    for kind, words, has in (
        ("fill", "fill above existing grade", any(own.fill for own in sections)),
        ("cut", "cut below existing grade", any(own.trimmed for own in sections)),
    ):
        if has:
            items.append(area_item(words, f"url(#{name}-{kind})", **lot_inks.SAMPLE))
    if any(each.wall is not None or each.footing is not None for each in built):
        items.append(area_item("wall and footing", CONCRETE, stroke=inks.INK, stroke_width=1.2))
    if any(each.stone for each in built):
        dots = element("path", d="M4 3h0M10 3h0M16 3h0M22 3h0M7 7h0M13 7h0M19 7h0",
                       stroke=inks.INK, stroke_width=1.6, stroke_linecap="round")  # fmt: skip
        box = element("rect", width=24.0, height=10.0, fill=inks.PAPER, **lot_inks.SAMPLE)
        items.append(KeyItem(sample=box + dots, words="stone"))
    drawn, bottom = flow(items, width, 2.0, 12.0)
    return Markup(
        element("svg", element("defs", lot_inks.patterns(name)), drawn,
                xmlns="http://www.w3.org/2000/svg", role="img",
                viewBox=f"-1 0 {width + 2:g} {bottom:g}", font_family=inks.FACE,
                aria_label="What the sections' lines and tones mean")
    )  # fmt: skip
