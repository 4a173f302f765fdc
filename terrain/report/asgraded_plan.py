"""The lot as graded as inline SVG: where it is high and low, shots, falls that fail, ponds."""

from dataclasses import dataclass

import numpy as np
import shapely
from shapely import MultiLineString, box

from terrain.base.arrays import FloatArray
from terrain.job.asgraded_record import GradedSurvey
from terrain.report import figures, inks, lot_inks
from terrain.report.drawing import closed, window_clip
from terrain.report.frame import Framed, framed
from terrain.report.key import KeyItem, area_item, line_item
from terrain.report.labels import Sheet, along_wall, around
from terrain.report.lot_drawing import failed_mark
from terrain.report.names import plain, shortened
from terrain.report.naming import north_room
from terrain.report.svg import Attribute, dots_data, element, path_data, text_width
from terrain.report.view import NARROW, View, view_round
from terrain.report.written import LONGEST_NAME, SHORTEST_NAME, Written

MARGIN = (0.0, 32.0)
SHOT: dict[str, Attribute] = {**inks.SHOT, "stroke": inks.INK}
LEAST_POND = 5.0
"""Pixels: the radius below which a pond's disc would not be seen."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GradedSheet:
    """A survey to draw: the lot's title, the job's length unit, how wide, what opens its ids."""

    survey: GradedSurvey
    title: str
    length_unit: str
    width: float
    name: str


def asgraded_svg(sheet: GradedSheet) -> str:
    """The map of one survey: high hatched, low dotted, the worst shots with their errors."""
    survey, name = sheet.survey, sheet.name
    view = view_round(survey.map.boundary, sheet.width, MARGIN)
    size = 10.5 if sheet.width < NARROW else 12.0
    unit = figures.unit_sign(sheet.length_unit)
    tolerance = f"{survey.tolerance:g} {unit}"
    words, left_off = _names(sheet, view, size)
    notes = [f"surveyed {survey.date} · lengths in {unit}, north is up"]
    if left_off:
        notes.append(f"names left off for want of room: {figures.count(left_off)}")
    areas: list[KeyItem] = [
        area_item(f"over {tolerance} high", f"url(#{name}-cut)", **lot_inks.SAMPLE),
        area_item(f"over {tolerance} low", f"url(#{name}-fill)", **lot_inks.SAMPLE),
        KeyItem(sample=element("path", d="M12 5h0", **SHOT), words="shot"),
    ]
    lines: list[KeyItem] = [
        line_item("house", inks.FOUNDATION),
        line_item("lot line", lot_inks.LOT_LINE),
    ]
    if survey.drainage.failures:
        lines.append(KeyItem(sample=failed_mark(12.0, 5.0), words="falls too little from here"))
    if survey.drainage.ponds:
        disc = element("circle", cx=12.0, cy=5.0, r=6.0, fill=f"url(#{name}-pond)",
                       **lot_inks.POND)  # fmt: skip
        lines.append(KeyItem(sample=disc, words="pond: a disc of its area"))
    frame = Framed(
        view=view, name=name, title=f"The lot as graded, {survey.date}: {plain(sheet.title)}",
        unit=unit, size=size, notes=tuple(notes), keys=(areas, lines),
    )  # fmt: skip
    definitions = element("defs", window_clip(view, name), lot_inks.patterns(name))
    layers = (_areas(sheet, view), _lines(sheet, view), _water(sheet, view))
    return framed(frame, definitions, *layers, words)


def _areas(sheet: GradedSheet, view: View) -> str:
    shown = sheet.survey.map
    return "".join(
        _path(view, _rings(shape), fill=f"url(#{sheet.name}-{kind})", fill_rule="evenodd")
        for kind, shape in (("fill", shown.low), ("cut", shown.high))
    )


def _rings(shape: shapely.MultiPolygon) -> list[FloatArray]:
    return [
        np.asarray(ring.coords) for p in shape.geoms for ring in (p.exterior, *p.interiors)
    ]  # fmt: skip


def _path(view: View, rings: list[FloatArray], **style: Attribute) -> str:
    return element("path", d=path_data(view.lines(rings)), **style)


def _lines(sheet: GradedSheet, view: View) -> str:
    shown = sheet.survey.map
    shots = view.within(view.pixels(shown.shots))
    house = {**inks.FOUNDATION, "fill": inks.PAPER}
    return "".join(
        [
            _path(view, [closed(pad) for pad in shown.pads], fill="none", **lot_inks.PAD),
            _path(view, [closed(shown.house)], **house),
            _path(view, [closed(shown.boundary)], **lot_inks.LOT_LINE),
            element("path", d=dots_data(shots), **SHOT),
        ]
    )


def _water(sheet: GradedSheet, view: View) -> str:
    survey, drawn = sheet.survey, []
    place = survey.map.frame.to_local
    for pond in survey.drainage.ponds:
        across, down = view.pixels(place(np.array(pond.spot)))
        radius = max(view.scale * float(np.sqrt(pond.area / np.pi)), LEAST_POND)
        drawn.append(element("circle", cx=float(across), cy=float(down), r=radius,
                             fill=f"url(#{sheet.name}-pond)", **lot_inks.POND))  # fmt: skip
    for failed in survey.drainage.failures:
        line = view.pixels(place(np.array([failed.spot, failed.to])))
        drawn.append(element("path", d=path_data([line]), stroke_dasharray="1.5 2.5",
                             **lot_inks.FAILED))  # fmt: skip
        drawn.append(failed_mark(float(line[0, 0]), float(line[0, 1])))
    return "".join(drawn)


def _names(sheet: GradedSheet, view: View, size: float) -> tuple[str, int]:
    """Wall names outside the house, and the shots furthest off each way with how far."""
    survey, written = sheet.survey, Written()
    house, line = view.pixels(survey.map.house), view.pixels(survey.map.boundary)
    window = box(3, 3, view.width - 3, view.height - 3)
    lines = MultiLineString([closed(house), closed(line)])
    room = Sheet(window=window, lines=lines, taken=[north_room(view)])
    for worst in (survey.worst_high, survey.worst_low):
        if worst is not None:
            place = view.pixels(survey.map.frame.to_local(np.array(worst.spot)))
            told = figures.signed_fine(worst.error, sheet.length_unit)
            spots = around(place, np.array([0.0, -1.0]), 8.0, text_width(told, size))
            written.add(told, room.place(told, size, spots), size, font_weight=700.0)
    ends = np.roll(house, -1, axis=0)
    done: set[str] = set()
    for k in np.argsort(np.hypot(*(ends - house).T), kind="stable").tolist():
        wall = survey.map.walls[k]
        if wall in done:
            continue
        done.add(wall)
        spot, said = None, ""
        for most in (LONGEST_NAME, SHORTEST_NAME):
            said = shortened(plain(wall), most)
            length = text_width(said, size)
            beside = [*along_wall(house[k], ends[k], 0.8 * size, length),
                      *along_wall(ends[k], house[k], 0.8 * size, length)]  # fmt: skip
            spot = room.place(said, size, iter(beside))
            if spot is not None:
                break
        written.add(said, spot, size, font_weight=600.0)
    return written.markup(), written.left_off
