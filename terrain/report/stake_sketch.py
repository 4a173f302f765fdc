"""The sketch of a cut sheet as inline SVG: each stake with its number, among the lines of the dig.

Stakes differ by shape, never by colour alone.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from shapely import MultiLineString, Point, Polygon, box

from terrain.base.arrays import FloatArray
from terrain.job.stake_lines import StakeLines
from terrain.job.stakes import Kind, Stake
from terrain.report import figures, inks
from terrain.report.drawing import closed, window_clip
from terrain.report.frame import Framed, framed
from terrain.report.key import KeyItem, line_item
from terrain.report.labels import COMPASS, Sheet, Spot, along_wall
from terrain.report.names import plain, shortened
from terrain.report.naming import north_room
from terrain.report.svg import Attribute, element, path_data, text_width
from terrain.report.view import NARROW, View, view_round
from terrain.report.written import SHORTEST_NAME, Written

MARGIN, FLATTEST = (0.02, 34.0), 0.6
RADIUS = 4.5
"""Pixels that a mark takes on every side."""
MOST_NAMED = 250
"""Of more stakes than these none is numbered on the sketch: the sheets tell them."""
SHAPES: dict[Kind, str] = {
    "dig corner": "M0 -4.5L4.5 0L0 4.5L-4.5 0Z",
    "daylight": "M-3.2 0a3.2 3.2 0 1 0 6.4 0a3.2 3.2 0 1 0 -6.4 0Z",
    "apron": "M-3.2 -3.2H3.2V3.2H-3.2Z",
    "grid": "M-3.5 0H3.5M0 -3.5V3.5",
}
STYLE: dict[Kind, dict[str, Attribute]] = {
    "dig corner": {"fill": inks.INK, "stroke": inks.INK, "stroke_width": 1.0},
    "daylight": {"fill": inks.PAPER, "stroke": inks.INK, "stroke_width": 1.3},
    "apron": {"fill": inks.PAPER, "stroke": inks.INK, "stroke_width": 1.3},
    "grid": {"fill": "none", "stroke": inks.INK, "stroke_width": 1.3},
}
MEANING: dict[Kind, str] = {
    "dig corner": "D: corner of the dig line",
    "daylight": "L: where the side meets the ground",
    "apron": "A: finished ground at the house",
    "grid": "G: finished ground, grid",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Sketch:
    """What is sketched: some stakes of a job, `width` pixels wide; `name` opens the ids.

    `outline` (n, 2) are the walls told by `walls`, in the local frame.
    """

    lines: StakeLines
    stakes: Sequence[Stake]
    outline: FloatArray
    walls: tuple[str, ...]
    width: float
    name: str
    unit: str
    date: str


def sketch_svg(sketch: Sketch) -> str:
    """The stakes where they stand, numbered where there is room, with the walls' names inside."""
    lines = sketch.lines
    spots = {s.point: (s.kind, s.easting, s.northing) for s in sketch.stakes}
    site = np.array([(e, n) for _, e, n in spots.values()]).reshape(-1, 2)
    local = lines.frame.to_local(site)
    shown = [lines.corners, lines.dig_line, sketch.outline, *lines.daylight, local]
    view = view_round(np.concatenate(shown), sketch.width, MARGIN, FLATTEST)
    size = 9.5 if sketch.width < NARROW else 11.0
    places = dict(zip(spots, view.pixels(local), strict=True))
    kinds = [kind for kind, _, _ in spots.values()]
    words, left_off = _words(sketch, view, places, size)
    notes = [f"{sketch.date} · lengths in {figures.unit_sign(sketch.unit)}, north is up"]
    if left_off:
        notes.append(f"numbers left off for want of room: {figures.count(left_off)}")
    frame = Framed(
        view=view,
        name=sketch.name,
        title="Sketch of the stakes",
        unit=figures.unit_sign(sketch.unit),
        size=size,
        notes=tuple(notes),
        keys=(_stake_items(kinds), _line_items(sketch)),
    )
    marks = [_mark(kind, place) for kind, place in zip(kinds, places.values(), strict=True)]
    definitions = element("defs", window_clip(view, sketch.name))
    return framed(frame, definitions, _drawn(sketch, view), *marks, words)


def _drawn(sketch: Sketch, view: View) -> str:
    lines = sketch.lines
    return "".join(
        [
            element("path", d=path_data(view.lines(lines.daylight)), **inks.DAYLIGHT),
            element("path", d=path_data(view.lines([closed(lines.dig_line)])), **inks.DIG_LINE),
            element("path", d=path_data(view.lines([closed(sketch.outline)])), **inks.FOUNDATION),
        ]
    )


def _mark(kind: Kind, place: FloatArray) -> str:
    moved = f"translate({place[0]:.1f} {place[1]:.1f})"
    return element("path", d=SHAPES[kind], transform=moved, **STYLE[kind])


def _stake_items(kinds: Sequence[Kind]) -> list[KeyItem]:
    return [
        KeyItem(sample=_mark(kind, np.array([12.0, 5.0])), words=words)
        for kind, words in MEANING.items()
        if kind in kinds
    ]


def _line_items(sketch: Sketch) -> list[KeyItem]:
    return [
        line_item("walls, outside face", inks.FOUNDATION),
        line_item("dig line, at the floor", inks.DIG_LINE),
        line_item("daylight: cut meets the ground", inks.DAYLIGHT),
    ]


def _beside(place: FloatArray, outward: FloatArray, length: float, size: float) -> Iterator[Spot]:
    """Level spots close about a mark, those to the `outward` side first; farther ones are tied."""
    bearing = float(np.arctan2(outward[1], outward[0]))
    for off in (0.0, 5.0, 12.0, 22.0, 34.0):
        for swing in COMPASS:
            step = np.array([np.cos(swing), np.sin(swing)])
            reach = RADIUS + 3.0 + off + abs(step[0]) * length / 2 + abs(step[1]) * 0.4 * size
            middle, edge = place + reach * step, place + (RADIUS + 2.0) * step
            aside = abs(float(np.angle(np.exp(1j * (swing - bearing)))))
            yield Spot(
                middle=(float(middle[0]), float(middle[1])),
                cost=off + 4.0 * aside,
                leader=None if off < 10.0 else (float(edge[0]), float(edge[1])),
            )


def _words(
    sketch: Sketch, view: View, places: dict[str, FloatArray], size: float
) -> tuple[str, int]:
    """Numbers of stakes beside them, away from the house, then names of walls inside it."""
    written, lines = Written(), sketch.lines
    rings = [closed(lines.dig_line), closed(sketch.outline), *lines.daylight]
    room = Sheet(
        window=box(3, 3, view.width - 3, view.height - 3),
        lines=MultiLineString(view.lines(rings)),
        taken=[north_room(view), *(Point(place).buffer(RADIUS) for place in places.values())],
    )
    corners = view.pixels(sketch.outline)
    middle = corners.mean(axis=0)
    for point, place in places.items() if len(places) <= MOST_NAMED else ():
        beside = _beside(place, place - middle, text_width(point, size), size)
        written.add(point, room.place(point, size, beside), size, font_weight=600.0)
    left_off = written.left_off + (len(places) if len(places) > MOST_NAMED else 0)
    ends = np.roll(corners, -1, axis=0)
    if not Polygon(corners).exterior.is_ccw:
        # pixels run downwards, so this outline goes counter-clockwise: inside is on its left
        corners, ends = ends, corners
    for wall, start, end in zip(sketch.walls, corners, ends, strict=True):
        said = shortened(plain(wall), SHORTEST_NAME)
        inside = along_wall(start, end, 0.9 * size, text_width(said, size))
        written.add(said, room.place(said, size, inside), size, font_style="italic")
    return written.markup(), left_off
