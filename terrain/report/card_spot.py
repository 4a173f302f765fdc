"""The small drawing of one stand on the card: the machine's middle, and the tapes that find it."""

import numpy as np

from terrain.base.arrays import FloatArray
from terrain.job.dig_plan_record import DigPlan
from terrain.job.dig_plan_set_out import SetOut
from terrain.report import dig_plan_inks as own
from terrain.report import figures, inks
from terrain.report.dig_plan_drawing import rings_of
from terrain.report.dig_plan_marks import belts, corner_letters, nose
from terrain.report.dig_plan_sheet import PlanDrawing
from terrain.report.drawing import closed, window_clip
from terrain.report.frame import Framed, framed
from terrain.report.names import plain
from terrain.report.svg import element, path_data, text
from terrain.report.view import View

WIDTH, TALLEST, LEAST, SIZE = 344.0, 210.0, 120.0, 14.0
MARGIN, MACHINE = 34.0, 130.0
"""Pixels round what is shown, and how long the tracks are at most."""


def card_spot_svg(plan: DigPlan, told: SetOut) -> str:
    """Wall, machine and measures of one stand, north up, to scale."""
    stand = told.one.stand
    drawing = PlanDrawing(
        plan=plan, view=_window(plan, told), size=SIZE, name=f"spot{stand.number}"
    )
    site = plan.site
    lines = _measures(plan, told)
    sheet = Framed(
        view=drawing.view,
        name=drawing.name,
        title=f"Where stand {stand.number} is: {plain(stand.wall)}",
        unit=figures.unit_sign(plan.length_unit),
        size=SIZE - 2,
        notes=(),
        keys=(),
    )
    return framed(
        sheet,
        element("defs", window_clip(drawing.view, drawing.name)),
        drawing.path(rings_of([site.daylight]), **own.EDGE),
        drawing.path([closed(site.dig_line)], **inks.DIG_LINE),
        drawing.path([closed(site.corners)], **inks.FOUNDATION),
        drawing.path([closed(stand.tracks)], **own.MACHINE),
        drawing.path(belts(stand), **own.BELT),
        nose(drawing, stand, plan.machine.track_length),
        "".join(_measure(drawing, *line) for line in lines),
        _cross(drawing.spot(stand.spot)),
        corner_letters(drawing, [tape for tape, *_ in lines if tape is not None]),
    )


def _measures(
    plan: DigPlan, told: SetOut
) -> list[tuple[int | None, FloatArray, FloatArray, float]]:
    """The lines taped: from which corner, both ends, and how long."""
    spot, middle = told.spot, np.array(told.one.stand.spot)
    corners = plan.site.corners
    if spot.past or spot.corner is None or spot.foot is None:
        return [(tape.corner, corners[tape.corner], middle, tape.length) for tape in spot.tapes]
    return [
        (spot.corner, corners[spot.corner], spot.foot, spot.along),
        (None, spot.foot, middle, abs(spot.inside)),
    ]


def _window(plan: DigPlan, told: SetOut) -> View:
    ends = [end for _, one, two, _ in _measures(plan, told) for end in (one, two)]
    points = np.vstack([told.one.stand.tracks, *ends])
    low, high = points.min(axis=0), points.max(axis=0)
    size = np.maximum(high - low, 1e-6)
    room = np.array([WIDTH, TALLEST]) - 2 * MARGIN
    scale = float(min(*(room / size), MACHINE / plan.machine.track_length))
    height = max(float(size[1]) * scale + 2 * MARGIN, LEAST)
    middle = (low + high) / 2
    return View(
        west=float(middle[0] - WIDTH / scale / 2),
        north=float(middle[1] + height / scale / 2),
        scale=scale,
        width=WIDTH,
        height=height,
    )


def _measure(
    drawing: PlanDrawing, _: int | None, one: FloatArray, two: FloatArray, length: float
) -> str:
    """A measured line with ticks at its ends and its length beside its middle."""
    ends = drawing.view.pixels(np.stack([one, two]))
    run = ends[1] - ends[0]
    far = float(np.hypot(*run))
    if far < 1.0:
        return ""
    aside = np.array([-run[1], run[0]]) / far
    ticks = [np.stack([end - 6 * aside, end + 6 * aside]) for end in ends]
    said = f"{figures.length(length, drawing.plan.length_unit)}"
    at = ends.mean(axis=0) + (0.0 if far > 60 else 1.0) * 17 * np.sign(aside[0] or 1.0) * aside
    across = float(np.clip(at[0], 20, drawing.view.width - 20))
    down = float(np.clip(at[1] + 0.36 * SIZE, SIZE, drawing.view.height - 4))
    return (
        element("path", d=path_data([ends]), **own.TAPE_UNDER)
        + element("path", d=path_data([ends, *ticks]), **own.TAPE)
        + text(said, x=across, y=down, text_anchor="middle", font_size=SIZE + 1,
               font_weight="bold", **own.HALO)
    )  # fmt: skip


def _cross(at: FloatArray) -> str:
    lines = [
        np.stack([at - arm, at + arm]) for arm in (np.array([6.0, 6.0]), np.array([6.0, -6.0]))
    ]
    return element("path", d=path_data(lines), **own.CROSS)
