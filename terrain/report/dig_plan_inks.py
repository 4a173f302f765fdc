"""Colours and kinds of line of the dig plan, apart in pattern and weight as well as in hue.

Piles are pale earth, dotted; what a pass digs is clay, hatched; what is dug already is paper with
level lines; standing ground is plain paper with a heavy edge.
"""

from terrain.report import inks
from terrain.report.lot_inks import CUT, CUT_STROKE
from terrain.report.palette import EARTH
from terrain.report.svg import Attribute, element

PILE: dict[str, Attribute] = {"stroke": "#7a6238", "stroke_width": 1.1}
EMPTY: dict[str, Attribute] = {
    "fill": "none", "stroke": "#7a6238", "stroke_width": 0.9, "stroke_dasharray": "2 3",
}  # fmt: skip
EDGE: dict[str, Attribute] = {"fill": "none", "stroke": inks.INK, "stroke_width": 0.9,
                              "stroke_dasharray": "9 3 2 3"}  # fmt: skip
LEFT: dict[str, Attribute] = {"stroke": inks.INK, "stroke_width": 1.4}
TRACKS: dict[str, Attribute] = {
    "fill": inks.PAPER, "fill_opacity": 0.55, "stroke": inks.INK, "stroke_width": 0.5,
    "stroke_opacity": 0.55,
}  # fmt: skip
MACHINE: dict[str, Attribute] = {
    "fill": inks.PAPER, "fill_opacity": 0.9, "stroke": inks.INK, "stroke_width": 2.0,
}  # fmt: skip
BELT: dict[str, Attribute] = {"fill": inks.INK, "fill_opacity": 0.28, "stroke": "none"}
SWING: dict[str, Attribute] = {
    "fill": "none", "stroke": inks.INK, "stroke_width": 1.0, "stroke_dasharray": "2 2",
}  # fmt: skip
REACH: dict[str, Attribute] = {"fill": "none", "stroke": inks.FAINT, "stroke_width": 1.2}
REACH_ALL: dict[str, Attribute] = {**REACH, "stroke_width": 0.9}
KEEP: dict[str, Attribute] = {"stroke": inks.INK, "stroke_width": 1.6}
TAPE: dict[str, Attribute] = {"fill": "none", "stroke": inks.INK, "stroke_width": 2.0}
TAPE_UNDER: dict[str, Attribute] = {**TAPE, "stroke": inks.PAPER, "stroke_width": 5.0}
CROSS: dict[str, Attribute] = {**TAPE, "stroke_width": 2.6}
LEADER: dict[str, Attribute] = {"fill": "none", "stroke": inks.INK, "stroke_width": 1.4}
LEADER_UNDER: dict[str, Attribute] = {**LEADER, "stroke": inks.PAPER, "stroke_width": 3.6}
TIE: dict[str, Attribute] = {"fill": "none", "stroke": inks.INK, "stroke_width": 0.9}
SPOT: dict[str, Attribute] = {
    "fill": "none", "stroke": inks.INK, "stroke_width": 6.0, "stroke_linecap": "round",
}  # fmt: skip
HALO: dict[str, Attribute] = {
    "fill": inks.INK, "stroke": inks.PAPER, "stroke_width": 3.5, "stroke_linejoin": "round",
    "paint_order": "stroke",
}  # fmt: skip
OLD_GROUND: dict[str, Attribute] = {
    "fill": "none", "stroke": inks.GRASS, "stroke_width": 1.6, "stroke_dasharray": "9 3",
}  # fmt: skip
SECTION: dict[str, Attribute] = {"fill": "none", "stroke": inks.INK, "stroke_width": 2.6,
                                 "stroke_linejoin": "round"}  # fmt: skip
FACE_LINE: dict[str, Attribute] = {"fill": "none", "stroke": inks.INK, "stroke_width": 1.2,
                                   "stroke_dasharray": "5 3"}  # fmt: skip
WAY: dict[str, Attribute] = {
    "fill": "none", "stroke": inks.GRASS, "stroke_width": 2.4, "stroke_dasharray": "1 5",
    "stroke_linecap": "round",
}  # fmt: skip
ARROW: dict[str, Attribute] = {"fill": inks.INK, "stroke": inks.PAPER, "stroke_width": 0.9,
                               "stroke_linejoin": "round"}  # fmt: skip
TRUCK: dict[str, Attribute] = {"fill": inks.PAPER, "stroke": inks.INK, "stroke_width": 2.4}
HEADING: dict[str, Attribute] = {"fill": inks.INK, "stroke": "none"}
CIRCLE: dict[str, Attribute] = {"fill": inks.PAPER, "stroke": inks.INK, "stroke_width": 1.1}
RIM: dict[str, Attribute] = {"fill": inks.PAPER, "stroke": inks.INK, "stroke_width": 1.8}


def patterns(name: str) -> str:
    """The patterns of `pile`, `dig` (now), `dug` (before), `left`, `hatch` and `keep`, by id."""
    square: dict[str, Attribute] = {"width": 7.0, "height": 7.0, "patternUnits": "userSpaceOnUse"}
    dots = element("path", d="M1.8 1.8h0M5.3 5.3h0", stroke="#7a6238", stroke_width=1.3,
                   stroke_linecap="round", stroke_opacity=0.8)  # fmt: skip
    stripe = element("path", d="M-1 1L1 -1M0 7L7 0M6 8L8 6", stroke=CUT_STROKE, stroke_width=1.0)
    bare = element("path", d="M0 2H7M0 5.5H7", stroke=inks.FAINT, stroke_width=0.7)
    barred = element("path", d="M1.5 1.5L5.5 5.5M1.5 5.5L5.5 1.5", stroke=inks.INK,
                     stroke_width=0.8, stroke_opacity=0.45)  # fmt: skip
    cross = element("path", d="M0 0L7 7M0 7L7 0", stroke=inks.INK, stroke_width=0.8)
    hatch = element("path", d="M0 7L7 0", stroke=inks.INK, stroke_width=0.6, stroke_opacity=0.5)
    made = (
        ("pile", EARTH, dots), ("dig", CUT, stripe), ("dug", "#e9e2d3", bare),
        ("left", inks.PAPER, cross), ("hatch", "none", hatch), ("keep", inks.PAPER, barred),
    )  # fmt: skip
    return "".join(
        element("pattern", element("rect", width=7.0, height=7.0, fill=fill), mark,
                id=f"{name}-{kind}", **square)
        for kind, fill, mark in made
    )  # fmt: skip
