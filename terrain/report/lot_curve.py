"""The curve of what is left over or lacking against the wall grade, as inline SVG."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from terrain.base.arrays import FloatArray
from terrain.job.balance import Balance
from terrain.job.grade_answer import GradeAnswer
from terrain.report import figures, inks, lot_inks
from terrain.report.svg import Attribute, element, path_data, text, text_width

HEIGHT = 240.0
LEFT, RIGHT, TOP, BOTTOM = 46.0, 14.0, 40.0, 42.0
TICK_ROOM = 62.0
"""Pixels that an axis wants at least from one figure to the next."""

STEPS = tuple(m * 10.0**k for k in range(-2, 7) for m in (1.0, 2.0, 5.0))
SIZE = 11.0
EDGE, BOLD = 3.0, 1.15
"""Pixels from the sheet's edge that words keep; how much wider than reckoned bold words may be."""

THIN: dict[str, Attribute] = {"stroke": inks.FAINT, "stroke_width": 0.6, "fill": "none"}
HALO: dict[str, Attribute] = {
    "stroke": inks.PAPER, "stroke_width": 3.0, "stroke_linejoin": "round", "paint_order": "stroke",
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Axes:
    """What fills the sheet: elevations from `low[0]` to `high[0]`, surplus from [1] to [1]."""

    low: FloatArray
    high: FloatArray
    width: float

    def place(self, elevation: float, surplus: float) -> FloatArray:
        """Where a point of the curve falls, in pixels."""
        share = (np.array([elevation, surplus]) - self.low) / (self.high - self.low)
        reach = np.array([self.width - LEFT - RIGHT, -(HEIGHT - TOP - BOTTOM)])
        spot: FloatArray = np.array([LEFT, HEIGHT - BOTTOM]) + share * reach
        return spot


def curve_svg(answer: GradeAnswer, width: float) -> str | None:
    """A drawing `width` pixels wide; None where fewer than two elevations can be graded."""
    balance = answer.balance
    if len(balance.curve) < 2:
        return None
    axes = _axes(balance, width)
    line = np.array([axes.place(p.elevation, p.surplus_bank) for p in balance.curve])
    zero = float(axes.place(balance.asked_grade, 0.0)[1])
    words: dict[str, Attribute] = {"font_size": SIZE, "fill": inks.INK}
    volume, length = figures.unit_sign(answer.volume_unit), figures.unit_sign(answer.length_unit)
    return element(
        "svg",
        *_between(line, zero),
        *_ticks(axes),
        element("path", d=f"M{LEFT:g} {zero:.1f}H{width - RIGHT:g}", stroke=inks.INK,
                stroke_width=1.2),
        element("path", d=path_data([line]), fill="none", stroke=inks.INK, stroke_width=2.2),
        *_marks(answer, axes, line),
        text(f"{volume} bank: + left over, − lacking", x=0.0, y=12.0, **words),
        text(f"wall grade, {length}", x=width - RIGHT, y=HEIGHT - 4, text_anchor="end", **words),
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {width:g} {HEIGHT:g}",
        role="img",
        aria_label="What is left over or lacking, against the wall grade",
        font_family=inks.FACE,
        class_="plan curve",
    )  # fmt: skip


def _axes(balance: Balance, width: float) -> Axes:
    """Axes that hold the curve, nought, and the balance if there is one."""
    shown = [(point.elevation, float(point.surplus_bank)) for point in balance.curve]
    shown.append((balance.asked_grade, 0.0))
    if balance.wall_grade is not None:
        shown.append((balance.wall_grade, 0.0))
    box = np.array(shown)
    low, high = box.min(axis=0), box.max(axis=0)
    spare = np.maximum((high - low) * np.array([0.05, 0.1]), 1e-6)
    return Axes(low=low - spare, high=high + spare, width=width)


def _between(line: FloatArray, zero: float) -> Iterator[str]:
    """The ground between curve and nought: clay where earth is left over, else pale."""
    for above, colour in ((True, lot_inks.CUT), (False, lot_inks.FILL)):
        held = line.copy()
        held[:, 1] = np.minimum(held[:, 1], zero) if above else np.maximum(held[:, 1], zero)
        ring = np.vstack([[held[0, 0], zero], held, [held[-1, 0], zero], [held[0, 0], zero]])
        yield element("path", d=path_data([ring]), fill=colour)


def _ticks(axes: Axes) -> Iterator[str]:
    """Round elevations below and round volumes on the left, with thin lines."""
    style: dict[str, Attribute] = {"font_size": SIZE - 0.5, "fill": inks.FAINT}
    room = np.array([axes.width - LEFT - RIGHT, HEIGHT - TOP - BOTTOM])
    count = room / np.array([TICK_ROOM, 0.6 * TICK_ROOM])
    for axis in (0, 1):
        span = float(axes.high[axis] - axes.low[axis])
        step = next(s for s in STEPS if span / s <= count[axis] or s == STEPS[-1])
        first, last = np.ceil(axes.low[axis] / step), np.floor(axes.high[axis] / step)
        for k in range(int(first), int(last) + 1):
            value = k * step
            if axis == 0:
                across = float(axes.place(value, axes.low[1])[0])
                yield element("path", d=f"M{across:.1f} {TOP:g}V{HEIGHT - BOTTOM + 4:g}", **THIN)
                yield text(f"{value:g}", x=across, y=HEIGHT - BOTTOM + 16, text_anchor="middle",
                           **style)  # fmt: skip
            else:
                down = float(axes.place(axes.low[0], value)[1])
                yield element("path", d=f"M{LEFT - 4:g} {down:.1f}H{axes.width - RIGHT:g}", **THIN)
                yield text(f"{value:+,g}" if value else "0", x=LEFT - 7, y=down + 3.6,
                           text_anchor="end", **style)  # fmt: skip


def _marks(answer: GradeAnswer, axes: Axes, line: FloatArray) -> Iterator[str]:
    """The job's own grade, and where it balances; dotted on to it where it is off the curve."""
    balance, unit = answer.balance, answer.length_unit
    across = float(axes.place(balance.asked_grade, 0.0)[0])
    asked = f"this job {figures.coordinate(balance.asked_grade, unit)}"
    yield element("path", d=f"M{across:.1f} {TOP - 6:g}V{HEIGHT - BOTTOM:g}", stroke=inks.INK,
                  stroke_width=1.2, stroke_dasharray="5 3")  # fmt: skip
    yield _word(asked, across, TOP - 4, axes.width)
    if balance.wall_grade is None:
        return
    spot = axes.place(balance.wall_grade, 0.0)
    ends = [balance.curve[0].elevation, balance.curve[-1].elevation]
    if not ends[0] <= balance.wall_grade <= ends[1]:
        near = line[0] if balance.wall_grade < ends[0] else line[-1]
        yield element("path", d=path_data([np.stack([near, spot])]), stroke=inks.INK,
                      stroke_width=1.6, stroke_dasharray="1.5 4", fill="none")  # fmt: skip
    yield element("circle", cx=float(spot[0]), cy=float(spot[1]), r=5.0, fill=inks.PAPER,
                  stroke=inks.INK, stroke_width=2.0)  # fmt: skip
    found = f"balances at {figures.coordinate(balance.wall_grade, unit)}"
    wide = BOLD * text_width(found, SIZE)
    left = min(max(float(spot[0]) - wide / 2, LEFT), axes.width - EDGE - wide)
    over = float(np.interp(left, line[:, 0], line[:, 1]))  # the curve falls: highest on the left
    yield _word(found, float(spot[0]), min(float(spot[1]) - 12, over - 8), axes.width)


def _word(content: str, across: float, down: float, width: float) -> str:
    """A text over a spot, moved so far aside that it stays on the sheet.

    Near an edge it is held by the edge itself: fonts differ in width from what is reckoned.
    """
    half = BOLD * text_width(content, SIZE) / 2
    anchor, at = "middle", across
    if across > width - EDGE - half:
        anchor, at = "end", width - EDGE
    elif across < LEFT + half:
        anchor, at = "start", LEFT
    return text(content, x=at, y=down, text_anchor=anchor, font_size=SIZE, font_weight=700.0,
                fill=inks.INK, **HALO)  # fmt: skip
