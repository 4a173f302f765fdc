"""The drawing of one section as inline SVG: one scale for heights and widths, outside right."""

from collections.abc import Sequence

import numpy as np
from shapely import LineString

from terrain.base.arrays import FloatArray
from terrain.job.sections import Section
from terrain.report import figures, inks
from terrain.report.key import scale_bar
from terrain.report.names import plain, shortened
from terrain.report.section_sheet import EDGE, SIZE, WIDTH, Sheet
from terrain.report.section_words import (
    axis_words,
    dig_depth,
    extra_words,
    grade_word,
    level_column,
    level_words,
)
from terrain.report.svg import Attribute, element, path_data

HEADROOM, FOOTROOM = 18.0, 10.0
PARTS = {"core": "#f3e3c9", "overdig": "#dfb685", "side": "#c58f57", "footing": "#8f5a2c"}
CONCRETE = "#b4b2ad"


def section_scale(sections: Sequence[Section], length_unit: str) -> float:
    """Pixels a length unit at which half of the sections or more fill their drawings at most."""
    spans = [section.high - section.low for section in sections]
    column = max(level_column(section, length_unit) for section in sections)
    return (WIDTH - column - EDGE) / float(np.median(spans))


def section_svg(section: Section, length_unit: str, most: float) -> str:
    """A drawing `WIDTH` pixels wide, at `most` so many pixels a length unit."""
    column = level_column(section, length_unit)
    scale = min(most, (WIDTH - column - EDGE) / (section.high - section.low))
    low, high = _span(section)
    sheet = Sheet(
        section=section,
        scale=scale,
        column=column,
        top=high + HEADROOM / scale,
        height=(high - low) * scale + HEADROOM + FOOTROOM,
        unit=length_unit,
        tag=f"cut{section.number}",
    )
    axis, below = axis_words(sheet)
    unit = figures.unit_sign(length_unit)
    bar = element("g", scale_bar(scale, unit, 0.0, SIZE), transform=f"translate({column:g} 0)")
    return element(
        "svg",
        _definitions(sheet),
        element("g", *_ground(sheet), *_cut(sheet), *_built(sheet), *_lines(sheet),
                clip_path=f"url(#{sheet.tag}-window)"),
        axis,
        level_words(sheet),
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


def _span(section: Section) -> tuple[float, float]:
    """The lowest and the highest elevation that is drawn."""
    built = section.built
    rings = [*section.ground, *section.dig, *built.stone]
    rings += [ring for ring in (built.wall, built.footing) if ring is not None]
    upward = [section.floor, built.face[0], *(h for h in built.face[1:] if h is not None)]
    upward += [float(h) for ring in rings for h in (ring[:, 1].min(), ring[:, 1].max())]
    return min(upward), max(upward)


def _definitions(sheet: Sheet) -> str:
    window = element(
        "rect", x=sheet.column, y=0.0, width=WIDTH - sheet.column - EDGE, height=sheet.height - 0.5
    )
    stripe = element("path", d="M0 6L6 0", stroke=inks.INK, stroke_width=0.7, stroke_opacity=0.6)
    dots = element("path", d="M1 1h0M4 4h0", stroke=inks.INK, stroke_width=1.3,
                   stroke_linecap="round")  # fmt: skip
    square: dict[str, Attribute] = {"width": 6.0, "height": 6.0, "patternUnits": "userSpaceOnUse"}
    return element(
        "defs",
        element("clipPath", window, id=f"{sheet.tag}-window"),
        element("pattern", stripe, id=f"{sheet.tag}-hatch", **square),
        element("pattern", dots, id=f"{sheet.tag}-stone", **square),
    )


def _ground(sheet: Sheet) -> list[str]:
    """The ground of today down to the foot of the drawing."""
    drawn = []
    for line in sheet.section.ground:
        places = sheet.pixels(line)
        foot = [[places[-1, 0], sheet.height], [places[0, 0], sheet.height]]
        drawn.append(_area(np.vstack([places, foot]), fill="#e6e3d3"))
    return drawn


def _cut(sheet: Sheet) -> list[str]:
    """What is dug, toned by part; pits, ramps and trenches hatched."""
    drawn = []
    for stretch in sheet.section.cut:
        ring = sheet.pixels(stretch.ring)
        drawn.append(_area(ring, fill=PARTS[stretch.part or "core"]))
        if stretch.part is None:
            drawn.append(_area(ring, fill=f"url(#{sheet.tag}-hatch)"))
    return drawn


def _built(sheet: Sheet) -> list[str]:
    """Stone, footing and wall, or the outside face alone where the job draws no wall."""
    built = sheet.section.built
    ink: dict[str, Attribute] = {"stroke": inks.INK, "stroke_width": 1.2}
    drawn = []
    for ring in built.stone:
        places = sheet.pixels(ring)
        drawn.append(_area(places, fill=inks.PAPER))
        drawn.append(_area(places, fill=f"url(#{sheet.tag}-stone)", stroke=inks.INK,
                           stroke_width=0.6))  # fmt: skip
    for solid in (built.footing, built.wall):
        if solid is not None:
            drawn.append(_area(sheet.pixels(solid), fill=CONCRETE, **ink))
    if built.wall is None:
        low, high = built.face
        known = [up for up in (high, sheet.section.grade_at_face) if up is not None]
        face = sheet.pixels(np.array([[0.0, low], [0.0, max([low, *known])]]))
        if not known:
            face[1, 1] = HEADROOM / 2
        drawn.append(_path(face, stroke=inks.INK, stroke_width=2.2, stroke_dasharray="7 2"))
    return drawn


def _lines(sheet: Sheet) -> list[str]:
    """Existing grade and dig."""
    grade: dict[str, Attribute] = {"stroke": inks.GRASS, "stroke_width": 2.0}
    dig: dict[str, Attribute] = {"stroke": inks.INK, "stroke_width": 1.6}
    return [
        *(_path(sheet.pixels(line), **grade) for line in sheet.section.ground),
        *(_path(sheet.pixels(line), **dig) for line in sheet.section.dig),
    ]


def _area(ring: FloatArray, **style: Attribute) -> str:
    closed = np.vstack([ring, ring[:1]])
    return element("path", d=path_data([_slight(closed)]), **style)


def _path(line: FloatArray, **style: Attribute) -> str:
    return element("path", d=path_data([_slight(line)]), fill="none", **style)


def _slight(line: FloatArray) -> FloatArray:
    """The line without corners too slight to see."""
    return np.asarray(LineString(line).simplify(0.15).coords)
