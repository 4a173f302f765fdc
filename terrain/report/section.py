"""The drawing of one section as inline SVG: one scale for heights and widths, outside right."""

from collections.abc import Sequence

import numpy as np

from terrain.job.sections import Section
from terrain.report import figures, inks
from terrain.report.key import scale_bar
from terrain.report.names import plain, shortened
from terrain.report.section_parts import (
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
    axis_words,
    dig_depth,
    extra_words,
    grade_word,
    level_column,
    level_words,
    levels_of,
    marks_of,
)
from terrain.report.svg import Attribute, element

PARTS = {"core": "#f3e3c9", "overdig": "#dfb685", "side": "#c58f57", "footing": "#8f5a2c"}


SMALLEST_SHARE = 0.55
"""A section that needs a scale smaller than this part of the others' gets one of its own."""


def section_scale(sections: Sequence[Section], length_unit: str) -> float:
    """Pixels a length unit at which all sections fit, but for those much wider than most."""
    spans = [section.high - section.low for section in sections]
    column = max(level_column(levels_of(section), length_unit) for section in sections)
    widest = float(np.median(spans)) / SMALLEST_SHARE
    return (WIDTH - column - EDGE) / max(span for span in spans if span <= widest)


def own_scale(section: Section, length_unit: str, most: float) -> float:
    """Pixels a length unit at which a section is drawn: `most`, or as many as it has room for."""
    column = level_column(levels_of(section), length_unit)
    return min(most, (WIDTH - column - EDGE) / (section.high - section.low))


def section_svg(section: Section, length_unit: str, most: float) -> str:
    """A drawing `WIDTH` pixels wide, at `most` so many pixels a length unit."""
    levels = levels_of(section)
    column = level_column(levels, length_unit)
    scale = own_scale(section, length_unit, most)
    low, high = drawn_span(section)
    sheet = Sheet(
        section=section,
        scale=scale,
        column=column,
        top=high + HEADROOM / scale,
        height=(high - low) * scale + HEADROOM + FOOTROOM,
        unit=length_unit,
        tag=f"cut{section.number}",
    )
    axis, below = axis_words(sheet, marks_of(section))
    unit = figures.unit_sign(length_unit)
    bar = element("g", scale_bar(scale, unit, 0.0, SIZE), transform=f"translate({column:g} 0)")
    return element(
        "svg",
        section_definitions(sheet),
        element("g", *ground_body(sheet), *_cut(sheet), *built_in(sheet), *_lines(sheet),
                clip_path=f"url(#{sheet.tag}-window)"),
        axis,
        level_words(sheet, levels),
        extra_words(sheet),
        dig_depth(sheet),
        grade_word(sheet),
        element("g", bar, transform=f"translate(0 {below:g})"),
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {WIDTH:g} {below + 24:g}",
        role="img",
        aria_label=f"Section {section.number} through {shortened(plain(section.wall), 60)}",
        font_family=inks.FACE,
        class_="section",
    )  # fmt: skip


def _cut(sheet: Sheet) -> list[str]:
    """What is dug, toned by part; pits, ramps and trenches hatched."""
    drawn = []
    for stretch in sheet.section.cut:
        ring = sheet.pixels(stretch.ring)
        drawn.append(area_path(ring, fill=PARTS[stretch.part or "core"]))
        if stretch.part is None:
            drawn.append(area_path(ring, fill=f"url(#{sheet.tag}-hatch)"))
    return drawn


def _lines(sheet: Sheet) -> list[str]:
    """Existing grade and dig."""
    grade: dict[str, Attribute] = {"stroke": inks.GRASS, "stroke_width": 2.0}
    dig: dict[str, Attribute] = {"stroke": inks.INK, "stroke_width": 1.6}
    return [
        *(line_path(sheet.pixels(line), **grade) for line in sheet.section.ground),
        *(line_path(sheet.pixels(line), **dig) for line in sheet.section.dig),
    ]
