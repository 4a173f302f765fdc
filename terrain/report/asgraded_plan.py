"""The lot as graded as inline SVG: where it is high and low, shots, falls that fail, ponds."""

from dataclasses import dataclass

import numpy as np
import shapely

from terrain.base.arrays import FloatArray
from terrain.job.asgraded_record import GradedSurvey
from terrain.report import figures, inks, lot_inks
from terrain.report.drawing import closed, window_clip
from terrain.report.frame import Framed, framed
from terrain.report.key import KeyItem, area_item, line_item
from terrain.report.lot_drawing import failed_mark
from terrain.report.names import plain
from terrain.report.svg import Attribute, dots_data, element, path_data, text
from terrain.report.view import NARROW, View, view_round

MARGIN = (0.0, 32.0)
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
    notes = (f"surveyed {survey.date} · lengths in {unit}, north is up",)
    areas: list[KeyItem] = [
        area_item(f"over {tolerance} high", f"url(#{name}-cut)", **lot_inks.SAMPLE),
        area_item(f"over {tolerance} low", f"url(#{name}-fill)", **lot_inks.SAMPLE),
        line_item("shot", {**inks.SHOT, "stroke": inks.INK}),
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
        unit=unit, size=size, notes=notes, keys=(areas, lines),
    )  # fmt: skip
    definitions = element("defs", window_clip(view, name), lot_inks.patterns(name))
    layers = (_areas(sheet, view), _lines(sheet, view), _water(sheet, view))
    return framed(frame, definitions, *layers, _worst(sheet, view, size))


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
            element("path", d=dots_data(shots), **{**inks.SHOT, "stroke": inks.INK}),
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


def _worst(sheet: GradedSheet, view: View, size: float) -> str:
    """The shots furthest off each way, with how far."""
    survey, drawn = sheet.survey, []
    for worst in (survey.worst_high, survey.worst_low):
        if worst is None:
            continue
        across, down = view.pixels(survey.map.frame.to_local(np.array(worst.spot)))
        told = figures.signed_fine(worst.error, sheet.length_unit)
        is_right = float(across) > 0.75 * view.width
        drawn.append(
            text(
                told, x=float(across) + (-6 if is_right else 6), y=float(down) - 5,
                text_anchor="end" if is_right else "start", font_size=size, font_weight="bold",
                fill=inks.INK, stroke=inks.PAPER, stroke_width=3.0, paint_order="stroke",
            )
        )  # fmt: skip
    return "".join(drawn)
