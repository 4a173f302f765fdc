"""The page's sections: each drawing with its heading, and the key they share."""

from dataclasses import dataclass

from markupsafe import Markup

from terrain.job.sections import Section
from terrain.report import inks
from terrain.report.key import KeyItem, area_item, flow, line_item
from terrain.report.names import plain
from terrain.report.section import PARTS, own_scale, section_scale, section_svg
from terrain.report.section_parts import CONCRETE
from terrain.report.svg import Attribute, element

COMPASS = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """One section as the page shows it; `place` says where it is cut and which way one looks."""

    number: int
    name: str
    place: str
    drawing: Markup


def shown_sections(sections: tuple[Section, ...], length_unit: str) -> list[Cut]:
    """The sections, all to one scale but for those that are too wide for it."""
    if not sections:
        return []
    most = section_scale(sections, length_unit)
    return [
        Cut(
            number=section.number,
            name=plain(section.wall),
            place=section_place(section) + _smaller(section, length_unit, most),
            drawing=Markup(section_svg(section, length_unit, most)),
        )
        for section in sections
    ]


def section_place(section: Section) -> str:
    """Where a section is cut, which way one looks, and whose the cut is further out."""
    where = "at its middle"
    if section.place == "deepest":
        where = "where the cut along it is deepest; at its middle nothing is dug"
    return f"{where}, looking {compass(section.heading)}{_neighbours(section)}"


def _neighbours(section: Section) -> str:
    """The other walls whose overdig or side the section meets beyond its own face."""
    met = dict.fromkeys(
        (stretch.part, stretch.name)
        for stretch in section.cut
        if stretch.kind == "wall"
        and stretch.name != section.wall
        and stretch.part in ("overdig", "side")
        and float(stretch.ring[:, 0].max()) > 0.0
    )
    if not met:
        return ""
    told = " and ".join(f"the {part} of {plain(name)}" for part, name in met)
    return f"; farther out the cut, with its steps, is {told}"


def _smaller(section: Section, length_unit: str, most: float) -> str:
    """What a section says whose scale is not that of the others."""
    share = own_scale(section, length_unit, most) / most
    if share > 1 - 1e-9:
        return ""
    return f"; too wide for the others\u2019 scale, drawn at {share:.0%} of it"


def compass(heading: float) -> str:
    """The nearest of eight points of the compass.

    >>> compass(359.0), compass(100.0)
    ('north', 'east')
    """
    return COMPASS[round(heading / 45) % 8]


def sections_key(sections: tuple[Section, ...], width: float) -> Markup:
    """What lines, tones and hatches mean, as far as these sections have them."""
    stretches = [stretch for section in sections for stretch in section.cut]
    parts = {stretch.part for stretch in stretches}
    built = [section.built for section in sections]
    edge: dict[str, Attribute] = {"stroke": inks.INK, "stroke_width": 0.6}
    grade: dict[str, Attribute] = {"stroke": inks.GRASS, "stroke_width": 2.0}
    dig: dict[str, Attribute] = {"stroke": inks.INK, "stroke_width": 1.6}
    items = [line_item("existing grade", grade), line_item("dig", dig)]
    items += [area_item(f"cut: {p}", colour, **edge) for p, colour in PARTS.items() if p in parts]
    if None in parts:
        items.append(_hatched("cut: pit, ramp or trench", "M2 8L8 2M10 8L16 2M18 8L24 2", 0.7))
    if any(each.wall is not None or each.footing is not None for each in built):
        items.append(area_item("wall and footing", CONCRETE, stroke=inks.INK, stroke_width=1.2))
    if any(each.wall is None for each in built):
        face: dict[str, Attribute] = {
            "stroke": inks.INK, "stroke_width": 2.2, "stroke_dasharray": "7 2",
        }  # fmt: skip
        items.append(line_item("outside face (the job draws no wall)", face))
    if any(each.stone for each in built):
        items.append(_hatched("stone", "M4 3h0M10 3h0M16 3h0M22 3h0M7 7h0M13 7h0M19 7h0", 1.6))
    drawn, bottom = flow(items, width, 2.0, 12.0)
    return Markup(
        element("svg", drawn, xmlns="http://www.w3.org/2000/svg", role="img",
                viewBox=f"-1 0 {width + 2:g} {bottom:g}", font_family=inks.FACE,
                aria_label="What the sections' lines and tones mean")
    )  # fmt: skip


def _hatched(words: str, lines: str, weight: float) -> KeyItem:
    box = element("rect", width=24.0, height=10.0, fill=PARTS["core"], stroke=inks.INK,
                  stroke_width=0.6)  # fmt: skip
    hatch = element("path", d=lines, stroke=inks.INK, stroke_width=weight, stroke_linecap="round")
    return KeyItem(sample=box + hatch, words=words)
