"""Colours and kinds of line of the finished lot.

Cut is clay, dark, hatched aslant; fill is a pale grey-green, dotted: apart in hue to colour-blind
eyes, in lightness to a grey printer, and in pattern to both.
"""

from terrain.report import inks
from terrain.report.svg import Attribute, element

CUT, CUT_STROKE = "#d3a063", "#6e431c"
FILL, FILL_STROKE = "#d8e6dd", "#3f6460"
WATER = "#5c7273"

BEFORE: dict[str, Attribute] = {
    "fill": "none", "stroke": "#6b5a45", "stroke_width": 0.8, "stroke_dasharray": "3.5 2.5",
}  # fmt: skip
AFTER: dict[str, Attribute] = {"fill": "none", "stroke": inks.INK, "stroke_width": 0.9}
AFTER_INDEX: dict[str, Attribute] = {**AFTER, "stroke_width": 1.7}
LOT_LINE: dict[str, Attribute] = {
    "fill": "none", "stroke": inks.INK, "stroke_width": 2.0, "stroke_dasharray": "16 3 2 3 2 3",
}  # fmt: skip
PAD: dict[str, Attribute] = {"stroke": inks.INK, "stroke_width": 1.3}
SWALE: dict[str, Attribute] = {
    "fill": "none", "stroke": inks.INK, "stroke_width": 1.3, "stroke_dasharray": "7 3 1.5 3",
}  # fmt: skip
KEEP: dict[str, Attribute] = {
    "stroke": inks.GRASS, "stroke_width": 1.6, "stroke_dasharray": "2 2.5",
}  # fmt: skip
UNTIED: dict[str, Attribute] = {"fill": "none", "stroke": inks.INK, "stroke_width": 4.0}
UNTIED_CORE: dict[str, Attribute] = {
    "fill": "none", "stroke": inks.PAPER, "stroke_width": 1.6, "stroke_dasharray": "3 3",
}  # fmt: skip
ARROW: dict[str, Attribute] = {
    "fill": "none", "stroke": WATER, "stroke_width": 1.1, "stroke_linecap": "round",
    "stroke_linejoin": "round",
}  # fmt: skip
OUTLET: dict[str, Attribute] = {**ARROW, "stroke_width": 2.4}
POND: dict[str, Attribute] = {"stroke": WATER, "stroke_width": 1.6}
FAILED: dict[str, Attribute] = {"fill": "none", "stroke": inks.INK, "stroke_width": 1.8}
SAMPLE: dict[str, Attribute] = {"stroke": inks.INK, "stroke_width": 0.6}


def patterns(name: str) -> str:
    """The patterns that `cut`, `fill`, `pond` and `keep` areas are filled with, by id."""
    square: dict[str, Attribute] = {"width": 7.0, "height": 7.0, "patternUnits": "userSpaceOnUse"}
    stripe = element("path", d="M-1 1L1 -1M0 7L7 0M6 8L8 6", stroke=CUT_STROKE, stroke_width=0.8,
                     stroke_opacity=0.6)  # fmt: skip
    dots = element("path", d="M1.8 1.8h0M5.3 5.3h0", stroke=FILL_STROKE, stroke_width=1.4,
                   stroke_linecap="round", stroke_opacity=0.75)  # fmt: skip
    waves = element("path", d="M0 2q1.75 -2 3.5 0t3.5 0M0 5.5q1.75 -2 3.5 0t3.5 0", fill="none",
                    stroke=WATER, stroke_width=0.9)  # fmt: skip
    crosses = element("path", d="M2 3.5h3M3.5 2v3", stroke=inks.GRASS, stroke_width=0.9)
    made = (
        ("cut", element("rect", width=7.0, height=7.0, fill=CUT), stripe),
        ("fill", element("rect", width=7.0, height=7.0, fill=FILL), dots),
        ("pond", element("rect", width=7.0, height=7.0, fill=inks.PAPER), waves),
        ("keep", "", crosses),
    )
    return "".join(
        element("pattern", ground, mark, id=f"{name}-{kind}", **square)
        for kind, ground, mark in made
    )
