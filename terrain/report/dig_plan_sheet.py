"""What a dig plan's drawings are drawn from: the plan, the window, the size of letters."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from terrain.base.arrays import FloatArray
from terrain.job.dig_plan_record import DigPlan, Stand
from terrain.report.svg import Attribute, element, path_data
from terrain.report.view import NARROW, View

RADIUS, SMALL_RADIUS = 10.0, 9.5
BEAK, SMALL_BEAK = 7.0, 4.0
"""Pixels: of the circle round a stand's number, and how far its beak stands out."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanDrawing:
    """What one dig plan is drawn from; `size` is of its letters in pixels, `name` opens its ids."""

    plan: DigPlan
    view: View
    size: float
    name: str

    @property
    def radius(self) -> float:
        """Of the circle round a stand's number."""
        return SMALL_RADIUS if self.view.width < NARROW else RADIUS

    @property
    def beak(self) -> float:
        """How far a stand's beak stands out of its circle."""
        return SMALL_BEAK if self.view.width < NARROW else BEAK

    def spot(self, place: tuple[float, float]) -> FloatArray:
        """Where a place of the local frame falls, in pixels."""
        return self.view.pixels(np.array(place))

    def path(self, rings: Iterable[FloatArray], **style: Attribute) -> str:
        """Lines of the local frame as one path; nothing where there are none."""
        data = path_data(self.view.lines(rings))
        return element("path", d=data, **style) if data else ""

    def fill(self, kind: str) -> str:
        """A pattern of this drawing."""
        return f"url(#{self.name}-{kind})"


def heading_of(stand: Stand) -> FloatArray:
    """The way a machine faces in the picture, where north is up: right and down."""
    turn = np.radians(stand.heading)
    return np.array([np.sin(turn), -np.cos(turn)])


def view_about(
    points: FloatArray, largest: float, paper: tuple[float, float, float, float]
) -> View:
    """A window with some plan points (m, 2) in its middle, as large as fits.

    `largest` is the scale it is drawn at most, in pixels a length unit; `paper` is its width, its
    greatest and least height and the margin about the points, in pixels.
    """
    width, tallest, least, margin = paper
    low, high = points.min(axis=0), points.max(axis=0)
    size = np.maximum(high - low, 1e-6)
    room = np.array([width, tallest]) - 2 * margin
    scale = float(min(*(room / size), largest))
    height = max(float(size[1]) * scale + 2 * margin, least)
    middle = (low + high) / 2
    return View(
        west=float(middle[0] - width / scale / 2),
        north=float(middle[1] + height / scale / 2),
        scale=scale,
        width=width,
        height=height,
    )
