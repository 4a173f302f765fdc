"""The layers of a lot plan under its names: areas, contours, lines, water."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import shapely

from terrain.base.arrays import FloatArray
from terrain.job.grade_answer import GradeAnswer
from terrain.job.lot_plan import ContourLine, LotPlan
from terrain.report import inks, lot_inks
from terrain.report.drawing import closed, window_clip
from terrain.report.svg import Attribute, element, path_data
from terrain.report.view import NARROW, View

ARROW_LENGTH = 13.0
SPECK = 16.0
"""Pixels of contour below which it is not drawn: on a dense survey most of them are noise."""

LEAST_POND = 5.0
"""Pixels: the radius below which a pond's disc would not be seen."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LotDrawing:
    """What one lot plan is made from; `size` is of its letters in pixels, `name` opens its ids."""

    answer: GradeAnswer
    plan: LotPlan
    view: View
    size: float
    name: str

    def pixels(self, spot: tuple[float, float]) -> FloatArray:
        """Where a spot on the site falls, in pixels."""
        return self.view.pixels(self.plan.place(spot))

    @property
    def is_narrow(self) -> bool:
        """Whether the drawing is for a small screen."""
        return self.view.width < NARROW

    def path(self, rings: Iterable[FloatArray], **style: Attribute) -> str:
        """Lines of the local frame as one path."""
        return element("path", d=path_data(self.view.lines(rings)), **style)


def lot_definitions(drawing: LotDrawing) -> str:
    """The window and the patterns of areas."""
    return element("defs", window_clip(drawing.view, drawing.name), lot_inks.patterns(drawing.name))


def areas(drawing: LotDrawing) -> str:
    """What is cut and what is filled."""
    plan = drawing.plan
    return "".join(
        drawing.path(
            _rings(area.shape for area in plan.areas if area.kind == kind),
            fill=f"url(#{drawing.name}-{kind})", fill_rule="evenodd",
        )
        for kind in ("fill", "cut")
    )  # fmt: skip


def _rings(shapes: Iterable[shapely.MultiPolygon]) -> list[FloatArray]:
    polygons = [polygon for shape in shapes for polygon in shape.geoms]
    return [
        np.asarray(ring.coords) for p in polygons for ring in (p.exterior, *p.interiors)
    ]  # fmt: skip


def contour_lines(drawing: LotDrawing) -> str:
    """Existing contours thin and dashed, finished ones solid, every fifth heavier."""
    after = seen_contours(drawing, drawing.plan.after)

    def own(lines: Iterable[ContourLine]) -> list[FloatArray]:
        return [line.line for line in lines]

    return "".join(
        [
            drawing.path(own(seen_contours(drawing, drawing.plan.before)), **lot_inks.BEFORE),
            drawing.path(own(line for line in after if not line.is_index), **lot_inks.AFTER),
            drawing.path(own(line for line in after if line.is_index), **lot_inks.AFTER_INDEX),
        ]
    )


def seen_contours(drawing: LotDrawing, lines: Iterable[ContourLine]) -> list[ContourLine]:
    """Those of some contours that are long enough to be more than a speck on the paper."""
    least = SPECK / drawing.view.scale
    return [line for line in lines if shapely.LineString(line.line).length >= least]


def lot_lines(drawing: LotDrawing) -> str:
    """Areas kept, pads, swales, dig line, house, foundation, lot line, faces left untied."""
    plan, design = drawing.plan, drawing.plan.design
    keep = f"url(#{drawing.name}-keep)"
    untied = [np.stack([face.start, face.end]) for face in plan.untied]
    house = {**inks.FOUNDATION, "fill": inks.PAPER}
    return "".join(
        [
            drawing.path([closed(k.corners) for k in design.keeps], fill=keep, **lot_inks.KEEP),
            drawing.path([closed(p.corners) for p in design.pads], fill="none", **lot_inks.PAD),
            *(
                drawing.path(map(closed, rings), fill="none", stroke=inks.INK, stroke_width=0.7)
                for rings in plan.swale_areas
            ),
            drawing.path([swale.line for swale in design.swales], **lot_inks.SWALE),
            drawing.path([closed(plan.dig_line)], **inks.DIG_LINE),
            drawing.path([closed(design.house)], **house),
            drawing.path([closed(plan.foundation)], fill="none", stroke=inks.INK, stroke_width=1.0),
            drawing.path([closed(design.boundary)], **lot_inks.LOT_LINE),
            drawing.path(untied, **lot_inks.UNTIED),
            drawing.path(untied, **lot_inks.UNTIED_CORE),
        ]
    )


def water(drawing: LotDrawing) -> str:
    """Arrows downhill, ponds as discs of their area, ways out, stations that fail."""
    drained = drawing.answer.drainage
    every = 2 if drawing.is_narrow else 1
    drawn = [
        _arrow(drawing.view.pixels(arrow.place), arrow.downhill, ARROW_LENGTH, lot_inks.ARROW)
        for arrow in drawing.plan.arrows[::every]
    ]
    for pond in drained.ponds:
        across, down = drawing.pixels(pond.spot)
        radius = max(drawing.view.scale * float(np.sqrt(pond.area / np.pi)), LEAST_POND)
        drawn.append(element("circle", cx=float(across), cy=float(down), r=radius,
                             fill=f"url(#{drawing.name}-pond)", **lot_inks.POND))  # fmt: skip
    middle = drawing.plan.design.house.mean(axis=0)
    for out in drained.outlets:
        away = drawing.plan.place(out.spot) - middle
        place = drawing.pixels(out.spot)
        drawn.append(_arrow(place, away / np.hypot(*away), 1.6 * ARROW_LENGTH, lot_inks.OUTLET))
    for failed in drained.failures:
        line = np.stack([drawing.pixels(failed.spot), drawing.pixels(failed.to)])
        drawn.append(element("path", d=path_data([line]), stroke_dasharray="1.5 2.5",
                             **lot_inks.FAILED))  # fmt: skip
        drawn.append(failed_mark(float(line[0, 0]), float(line[0, 1])))
    for back in drained.returns:
        across, down = drawing.pixels(back.spot)
        drawn.append(element("circle", cx=float(across), cy=float(down), r=4.5, fill=inks.PAPER,
                             **lot_inks.POND))  # fmt: skip
    return "".join(drawn)


def failed_mark(across: float, down: float) -> str:
    """A cross at a station that fails."""
    low, high = (across - 4, down - 4), (across + 4, down + 4)
    d = f"M{low[0]:.1f} {low[1]:.1f}L{high[0]:.1f} {high[1]:.1f}"
    d += f"M{low[0]:.1f} {high[1]:.1f}L{high[0]:.1f} {low[1]:.1f}"
    return element("path", d=d, **lot_inks.FAILED)


def _arrow(
    place: FloatArray, downhill: FloatArray, length: float, style: dict[str, Attribute]
) -> str:
    """An arrow about a place in pixels; `downhill` is in plan, where north is up."""
    along = np.array([downhill[0], -downhill[1]])
    aside = np.array([-along[1], along[0]])
    tail, tip = place - along * length / 2, place + along * length / 2
    barbs = [tip - along * 0.36 * length + side * aside * 0.26 * length for side in (1, -1)]
    lines = [np.stack([tail, tip]), np.stack([barbs[0], tip, barbs[1]])]
    return element("path", d=path_data(lines), **style)
