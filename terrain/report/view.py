"""The window of a plan drawing: which ground it shows and at what scale."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from shapely import LineString

from terrain.base.arrays import FloatArray
from terrain.job.answer import Plan

MARGIN_SHARE = 0.07
MARGIN_PIXELS = 34.0
FLATTEST, TALLEST = 0.72, 1.15
NARROW, FLATTEST_NARROW = 500.0, 1.0
TIGHT, FLATTEST_TIGHT = (0.0, 38.0), 0.85
"""Margin and flattest window of a plan of the dig where it is narrow: nothing to spare."""


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """A window `width` by `height` pixels; north is up; `scale` is pixels a length unit.

    `west`, `north` are the local-frame coordinates of its top left corner.
    """

    west: float
    north: float
    scale: float
    width: float
    height: float

    def pixels(self, plan: FloatArray) -> FloatArray:
        """Where plan points (..., 2) of the local frame fall, in pixels from the top left."""
        plan = np.asarray(plan, dtype=np.float64)
        right = (plan[..., 0] - self.west) * self.scale
        down = (self.north - plan[..., 1]) * self.scale
        return np.stack([right, down], axis=-1)

    def lines(self, lines: Iterable[FloatArray]) -> list[FloatArray]:
        """Polylines of the local frame in pixels, without corners too slight to see."""
        moved = (self.pixels(line) for line in lines if len(line) > 1)
        return [np.asarray(LineString(line).simplify(0.2).coords) for line in moved]

    def within(self, places: FloatArray) -> FloatArray:
        """Those of the pixel places (m, 2) that fall in the window."""
        inside = np.all((places >= 0) & (places <= [self.width, self.height]), axis=1)
        kept: FloatArray = places[inside]
        return kept


def view_of(plan: Plan, width: float) -> View:
    """The window that shows the whole dig, its pits and its daylight line, with room for names."""
    shown = [plan.corners, *plan.dig_line, *plan.daylight]
    shown += [ring for extra in plan.extras for ring in extra.rings]
    points = np.concatenate([line for line in shown if len(line)])
    if width >= NARROW:
        return view_round(points, width)
    return view_round(points, width, TIGHT, FLATTEST_TIGHT)


def view_round(
    points: FloatArray,
    width: float,
    margin: tuple[float, float] = (MARGIN_SHARE, MARGIN_PIXELS),
    flattest: float | None = None,
) -> View:
    """The window that shows all of some points (n, 2) of the local frame, with room for names.

    `margin` on every side is a share of what is shown, and so many pixels; `flattest` is the least
    height for a width of 1.
    """
    share, pixels = margin
    low, high = points.min(axis=0), points.max(axis=0)
    size = np.maximum((high - low) * (1 + 2 * share), 1e-9)
    room = width - 2 * pixels
    scale = min(room / size[0], (width * TALLEST - 2 * pixels) / size[1])
    if flattest is None:
        flattest = FLATTEST_NARROW if width < NARROW else FLATTEST
    height = max(size[1] * scale + 2 * pixels, width * flattest)
    middle = (low + high) / 2
    return View(
        west=float(middle[0] - width / scale / 2),
        north=float(middle[1] + height / scale / 2),
        scale=float(scale),
        width=width,
        height=float(height),
    )
