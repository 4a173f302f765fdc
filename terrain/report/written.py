"""The markup of the words that found a place on a drawing, and how many found none."""

from dataclasses import dataclass, field

from terrain.report import inks
from terrain.report.labels import Spot
from terrain.report.svg import Attribute, element, path_data, text, text_width

LONGEST_NAME, SHORTEST_NAME = 24, 11


@dataclass(slots=True, kw_only=True)
class Written:
    """The markup of the texts placed so far, and the names that found no room."""

    leaders: list[str] = field(default_factory=list)
    texts: list[str] = field(default_factory=list)
    left_off: int = 0

    def add(self, content: str, spot: Spot | None, size: float, **style: Attribute) -> None:
        """Write the text at its spot, with its leader; no spot: count it as left off."""
        if spot is None:
            self.left_off += 1
            return
        if spot.tie is not None:
            tie = path_data([spot.tie])
            self.leaders.append(element("path", d=tie, **inks.LEADER))
        turn = f"translate({spot.middle[0]:.1f} {spot.middle[1]:.1f}) rotate({spot.turn:.1f})"
        self.texts.append(text(content, transform=turn, y=0.35 * size, font_size=size, **style))

    def add_pill(self, content: str, spot: Spot, size: float) -> None:
        """Write a figure over shading, on paper of its own so that it can be read."""
        width, height = text_width(content, size) + 3, 1.15 * size
        across, down = spot.middle[0] - width / 2, spot.middle[1] - height / 2
        self.leaders.append(
            element("rect", x=across, y=down, width=width, height=height, rx=2.0, fill=inks.PAPER)
        )
        self.add(content, spot, size)

    def markup(self) -> str:
        """Leaders, and over them the texts, each with a halo."""
        halo: dict[str, Attribute] = {
            "stroke": inks.PAPER,
            "stroke_width": 3.0,
            "stroke_linejoin": "round",
            "paint_order": "stroke",
            "text_anchor": "middle",
            "fill": inks.INK,
        }
        named = element("g", *self.texts, **halo) if self.texts else ""
        return "".join(self.leaders) + named
