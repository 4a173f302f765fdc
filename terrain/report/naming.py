"""The names and figures of a plan drawing, each where it covers nothing."""

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
from shapely import LineString, MultiLineString, Point, Polygon, box
from shapely.ops import polylabel

from terrain.base.arrays import FloatArray
from terrain.job.answer import ExtraOutline
from terrain.report import figures, inks
from terrain.report.drawing import Drawing, closed
from terrain.report.labels import LINE_HEIGHT, Sheet, Spot, along_line, along_wall, around, inside
from terrain.report.marks import section_marks
from terrain.report.names import plain, shortened
from terrain.report.svg import Attribute, element, path_data, text, text_width
from terrain.report.view import View

LONGEST_NAME, SHORTEST_NAME = 24, 11
FIGURES_APART = 190.0


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


def names(drawing: Drawing) -> tuple[str, int]:
    """The markup of all names and depth figures, and how many names found no room."""
    sheet, written = _sheet(drawing), Written()
    _name_walls(drawing, sheet, written)
    _name_extras(drawing, sheet, written)
    marks = section_marks(drawing, sheet)
    _depth_figures(drawing, sheet, written)
    return marks + written.markup(), written.left_off


def north_place(view: View) -> FloatArray:
    """Where the north arrow stands: near the top right corner of the window."""
    return np.array([view.width - 20.0, 36.0])


def north_room(view: View) -> Polygon:
    """The room that the north arrow takes."""
    right, top = north_place(view)
    return box(right - 16, top - 32, right + 16, top + 20)


def _sheet(drawing: Drawing) -> Sheet:
    plan, view = drawing.plan, drawing.view
    lines = drawing.lines(
        [
            *plan.daylight,
            *plan.breaklines,
            *map(closed, plan.dig_line),
            closed(plan.corners),
            *(closed(ring) for extra in plan.extras for ring in extra.rings),
        ]
    )
    window = box(3, 3, view.width - 3, view.height - 3)
    house = Polygon(view.pixels(plan.corners)).buffer(0)
    return Sheet(
        window=window, lines=MultiLineString(lines), shunned=house, taken=[north_room(view)]
    )


def _name_walls(drawing: Drawing, sheet: Sheet, written: Written) -> None:
    """Each wall's name and bank volume outside its dig line.

    Short walls come first: they have the least choice, and long ones can give way.
    """
    plan, ledger = drawing.plan, drawing.volumes.ledger
    corners = drawing.view.pixels(plan.corners)
    ends = np.roll(corners, -1, axis=0)
    if Polygon(corners).exterior.is_ccw:  # pixels run downwards: an outline that goes clockwise
        corners, ends = ends, corners
    unit = figures.unit_sign(ledger.volume_unit)
    bank = {row.wall: figures.volume(row.quantity.bank) for row in ledger.walls}
    lengths = np.hypot(*(ends - corners).T)
    shorts = [shortened(plain(wall), SHORTEST_NAME) for wall in plan.walls]
    for k in np.argsort(lengths, kind="stable"):
        name = shortened(plain(plan.walls[k]), LONGEST_NAME)
        figure = bank.get(plan.walls[k])
        out = _dig_line_out(drawing, corners[k], ends[k]) + drawing.size
        short = shorts[k]
        said = [name, short] if shorts.count(short) == 1 else [name]
        if figure is not None:
            said.insert(0, f"{name} {figure} {unit}")
        for content in said:  # the name alone, then shorter, where there is no room for both
            length = text_width(content, drawing.size)
            spots = along_wall(corners[k], ends[k], out, length)
            spot = sheet.place(content, drawing.size, spots)
            if spot is not None:
                break
        written.add(content, spot, drawing.size, font_weight=600.0)


def _dig_line_out(drawing: Drawing, start: FloatArray, end: FloatArray) -> float:
    """How many pixels out the dig line stands before the middle of a wall."""
    length = float(np.hypot(*(end - start)))
    if length == 0:
        return 0.0
    along = (end - start) / length
    middle = (start + end) / 2
    outward = np.array([-along[1], along[0]])
    ray = LineString([middle + outward * 0.01, middle + outward * drawing.view.width])
    rings = drawing.lines(map(closed, drawing.plan.dig_line))
    hit = ray.intersection(MultiLineString(rings)) if rings else None
    if hit is None or hit.is_empty:
        return 0.0
    return float(hit.distance(Point(middle)))


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
    size = drawing.size - 1.5
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
                written.add(content, spot, size, fill="#5f3a1c")
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
