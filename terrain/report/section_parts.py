"""What section drawings share: ground, stone, footing and wall, areas and lines to scale."""

import numpy as np
from shapely import LineString

from terrain.base.arrays import FloatArray
from terrain.job.sections import Section
from terrain.report import inks
from terrain.report.section_sheet import EDGE, WIDTH, Sheet
from terrain.report.svg import Attribute, element, path_data

HEADROOM, FOOTROOM = 18.0, 10.0
CONCRETE = "#b4b2ad"


def drawn_span(section: Section) -> tuple[float, float]:
    """The lowest and the highest elevation that is drawn."""
    built = section.built
    rings = [*section.ground, *section.dig, *built.stone]
    rings += [ring for ring in (built.wall, built.footing) if ring is not None]
    upward = [section.floor, built.face[0], *(h for h in built.face[1:] if h is not None)]
    upward += [float(h) for ring in rings for h in (ring[:, 1].min(), ring[:, 1].max())]
    return min(upward), max(upward)


def section_definitions(sheet: Sheet) -> str:
    """The window, and the hatch and the dots that areas of the drawing are filled with."""
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


def ground_body(sheet: Sheet) -> list[str]:
    """The ground of today down to the foot of the drawing."""
    drawn = []
    for line in sheet.section.ground:
        places = sheet.pixels(line)
        foot = [[places[-1, 0], sheet.height], [places[0, 0], sheet.height]]
        drawn.append(area_path(np.vstack([places, foot]), fill="#e6e3d3"))
    return drawn


def built_in(sheet: Sheet) -> list[str]:
    """Stone, footing and wall, or the outside face alone where the job draws no wall."""
    built = sheet.section.built
    ink: dict[str, Attribute] = {"stroke": inks.INK, "stroke_width": 1.2}
    drawn = []
    for ring in built.stone:
        places = sheet.pixels(ring)
        drawn.append(area_path(places, fill=inks.PAPER))
        drawn.append(area_path(places, fill=f"url(#{sheet.tag}-stone)", stroke=inks.INK,
                           stroke_width=0.6))  # fmt: skip
    for solid in (built.footing, built.wall):
        if solid is not None:
            drawn.append(area_path(sheet.pixels(solid), fill=CONCRETE, **ink))
    if built.wall is None:
        low, high = built.face
        known = [up for up in (high, sheet.section.grade_at_face) if up is not None]
        face = sheet.pixels(np.array([[0.0, low], [0.0, max([low, *known])]]))
        if not known:
            face[1, 1] = HEADROOM / 2
        drawn.append(line_path(face, stroke=inks.INK, stroke_width=2.2, stroke_dasharray="7 2"))
    return drawn


def area_path(ring: FloatArray, **style: Attribute) -> str:
    """An area whose ring (m, 2) is in pixels."""
    closed = np.vstack([ring, ring[:1]])
    return element("path", d=path_data([_slight(closed)]), **style)


def line_path(line: FloatArray, **style: Attribute) -> str:
    """A line (m, 2) in pixels."""
    return element("path", d=path_data([_slight(line)]), fill="none", **style)


def _slight(line: FloatArray) -> FloatArray:
    """The line without corners too slight to see."""
    return np.asarray(LineString(line).simplify(0.15).coords)
