"""The names and figures of a plan drawing, each where it covers nothing."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from shapely import LineString, MultiLineString, Point, Polygon, box
from shapely.ops import polylabel

from terrain.base.arrays import FloatArray
from terrain.job.answer import ExtraOutline
from terrain.report.drawing import Drawing, deepest_place
from terrain.report.labels import LINE_HEIGHT, Sheet, Spot, along_line, around, inside
from terrain.report.marks import section_marks
from terrain.report.names import plain, shortened
from terrain.report.room import drawn_lines, hatched, opened
from terrain.report.svg import text_width
from terrain.report.view import View
from terrain.report.wall_names import Named, name_walls
from terrain.report.written import LONGEST_NAME, Written

FIGURES_APART = 190.0
TRIES = 3
"""Where names found no room they come first in the next try."""

LINE_COST, DIG_COST = 3.0, 240.0
"""Pixels that a name may rather stand further off than over a pixel of line, or over the dig."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Names:
    """The markup of all names and depth figures of a plan, and what had no room for all of it.

    `left_off` is how many names stand nowhere on it; `by_number` are the walls, from 0, that are
    told in part or by their section's number only.
    """

    markup: str
    left_off: int
    by_number: tuple[int, ...]


def names(drawing: Drawing, north: FloatArray) -> Names:
    """All names and depth figures: of a few tries, the one that tells most walls in full."""
    first: list[int] = []
    best: tuple[tuple[int, int], str, Sheet, Written, Named] | None = None
    for _ in range(TRIES):
        sheet, written = _sheet(drawing, north), Written()
        marks = section_marks(drawing, sheet)
        named = name_walls(drawing, sheet, written, first)
        missed = len(named.left), len(named.part)
        if best is None or missed < best[0]:
            best = missed, marks, sheet, written, named
        if not any(missed):
            break
        now = [*named.left, *named.part]
        first = [*now, *(k for k in first if k not in now)]
    assert best is not None
    _, marks, sheet, written, named = best
    _name_extras(drawing, sheet, written)
    _depth_figures(drawing, sheet, written)
    numbered = {section.wall for section in drawing.sections}
    return Names(
        markup=marks + written.markup(),
        left_off=written.left_off,
        by_number=tuple(
            k for k in sorted({*named.left, *named.part}) if drawing.plan.walls[k] in numbered
        ),
    )


def north_place(view: View, lines: MultiLineString | None = None) -> FloatArray:
    """Where the north arrow stands: near the top right corner of the window.

    Where some of `lines` pass there: at the next place along the window's edges that has none.
    """
    corner = np.array([view.width - 20.0, 36.0])
    if lines is None:
        return corner
    low = view.height - 26.0
    right = [np.array([corner[0], down]) for down in np.arange(36.0, low, 12.0)]
    top = [np.array([across, 36.0]) for across in np.arange(corner[0], 20.0, -12.0)]
    left = [np.array([20.0, down]) for down in np.arange(36.0, low, 12.0)]
    foot = [np.array([across, low]) for across in np.arange(corner[0], 20.0, -12.0)]
    places = sorted([*right, *top, *left, *foot], key=lambda p: float(np.hypot(*(p - corner))))
    return next((p for p in places if not lines.intersects(_arrow_room(p))), corner)


def north_room(view: View) -> Polygon:
    """The room that the north arrow takes in its corner."""
    return _arrow_room(north_place(view))


def _arrow_room(place: FloatArray) -> Polygon:
    across, down = place
    return box(across - 16, down - 32, across + 16, down + 20)


def _sheet(drawing: Drawing, north: FloatArray) -> Sheet:
    view = drawing.view
    return Sheet(
        window=box(3, 3, view.width - 3, view.height - 3),
        lines=drawn_lines(drawing),
        shunned=opened(drawing).union(hatched(drawing)),
        taken=[_arrow_room(north), *_mark_room(drawing)],
        line_cost=LINE_COST,
        shunned_cost=DIG_COST,
    )


def _mark_room(drawing: Drawing) -> list[Polygon]:
    place = deepest_place(drawing)
    return [] if place is None else [Point(place).buffer(8.0)]


def _name_extras(drawing: Drawing, sheet: Sheet, written: Written) -> None:
    """The names of pits, ramps and trenches, inside where they fit, else beside."""
    size = drawing.size - 1
    for extra in drawing.plan.extras:
        content = shortened(plain(extra.name), LONGEST_NAME)
        spots = _extra_spots(drawing, extra, text_width(content, size))
        written.add(content, sheet.place(content, size, spots), size, font_style="italic")


def _extra_spots(drawing: Drawing, extra: ExtraOutline, length: float) -> Iterator[Spot]:
    rings = sorted((Polygon(drawing.view.pixels(r)).buffer(0) for r in extra.rings),
                   key=lambda ring: -ring.area)  # fmt: skip
    if not rings or rings[0].is_empty:
        return
    yield from inside(rings[0], length + 4, LINE_HEIGHT * drawing.size)
    house = drawing.view.pixels(drawing.plan.corners).mean(axis=0)
    middle = polylabel(rings[0], tolerance=2.0)
    place = np.array([middle.x, middle.y])
    yield from around(place, place - house, 0.0, length)


def _depth_figures(drawing: Drawing, sheet: Sheet, written: Written) -> None:
    """How deep the cut is on each line between bands, where the line has room for it."""
    size = drawing.size - 1
    between = list(zip(drawing.bands.levels[1:-1], drawing.bands.lines, strict=False))
    drawn = [drawing.lines(level) for _, level in between]
    for place, (depth, _) in enumerate(between):
        content = depth_text(float(depth))
        others = [line for k, lines in enumerate(drawn) if k != place for line in lines]
        clear = Sheet(
            window=sheet.window,
            lines=MultiLineString([*sheet.lines.geoms, *others]),
            taken=sheet.taken,
        )
        lines = sorted(drawn[place], key=lambda line: -LineString(line).length)
        for line in lines[:3]:
            if LineString(line).length < 3 * size:
                continue
            spots = _over_cut(drawing, along_line(line, 9.0))
            spot = clear.place(content, size, spots, most_covered=0.0)
            if spot is not None:
                written.add_pill(content, spot, size)
                clear.taken[-1] = Point(spot.middle).buffer(FIGURES_APART / 4)


def _over_cut(drawing: Drawing, spots: Iterator[Spot]) -> Iterator[Spot]:
    """Those of the spots that lie where something is cut: lines between bands go on beyond."""
    view = drawing.view
    for spot in spots:
        across, down = spot.middle
        place = Point(view.west + across / view.scale, view.north - down / view.scale)
        if drawing.bands.region.contains(place):
            yield spot


def depth_text(depth: float) -> str:
    """A cut depth as a signed figure: minus is below the ground of today."""
    return f"−{depth:g}" if depth > 0 else "0"
