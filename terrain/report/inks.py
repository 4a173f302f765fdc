"""The colours and kinds of line; lines differ in pattern and weight, never in hue alone."""

from terrain.report.svg import Attribute

INK = "#2a2420"
FAINT = "#6b6259"
PAPER = "#fffdf8"
LAND = "#f3f1e8"
GRASS = "#4c5f46"
FACE = "system-ui, 'Segoe UI', 'Helvetica Neue', 'DejaVu Sans', Arial, sans-serif"

FOUNDATION: dict[str, Attribute] = {"fill": "none", "stroke": INK, "stroke_width": 2.6}
DIG_LINE: dict[str, Attribute] = {
    "fill": "none",
    "stroke": INK,
    "stroke_width": 1.1,
    "stroke_dasharray": "6 3",
}
DAYLIGHT: dict[str, Attribute] = {
    "fill": "none",
    "stroke": INK,
    "stroke_width": 1.5,
    "stroke_dasharray": "9 3 2 3",
}
SEAM: dict[str, Attribute] = {
    "fill": "none",
    "stroke": INK,
    "stroke_width": 0.6,
    "stroke_opacity": 0.6,
}
SHARE: dict[str, Attribute] = {
    "fill": "none",
    "stroke": INK,
    "stroke_width": 0.7,
    "stroke_opacity": 0.75,
    "stroke_dasharray": "4 3",
}
EXTRA: dict[str, Attribute] = {"stroke": INK, "stroke_width": 1.2}
BREAKLINE: dict[str, Attribute] = {
    "fill": "none",
    "stroke": GRASS,
    "stroke_width": 1.4,
    "stroke_dasharray": "14 4",
}
SHOT: dict[str, Attribute] = {
    "fill": "none",
    "stroke": GRASS,
    "stroke_width": 2.8,
    "stroke_linecap": "round",
}
SHOT_AMONG_MANY: dict[str, Attribute] = {**SHOT, "stroke_width": 1.5, "stroke_opacity": 0.5}
CONTOUR: dict[str, Attribute] = {
    "fill": "none",
    "stroke": "#5f3a1c",
    "stroke_width": 0.7,
}
DEEPEST: dict[str, Attribute] = {"fill": PAPER, "stroke": INK, "stroke_width": 1.5}
LEADER: dict[str, Attribute] = {"fill": "none", "stroke": INK, "stroke_width": 0.8}
