"""How far out a job needs its clouds: the dig as wide as its sides climb, the lot, a margin."""

from collections.abc import Iterator

import numpy as np

from terrain.base.arrays import FloatArray
from terrain.base.errors import SpoilbankError
from terrain.job.design import Layout, lay_out
from terrain.job.load import Job
from terrain.job.lot_line import lot_line
from terrain.surface.moves import Side, run_to_climb
from terrain.survey.cloud_facts import Bounds, BoundsAt
from terrain.survey.files import kind_of

MARGIN_M = 10.0
"""Metres kept beyond what is needed, for pictures and for ground that spoil lies on."""
SHARPEST_MITRE = 2.0
"""A mitred corner of 60 degrees stands twice as far out as the walls that meet in it."""


def cloud_bounds(job: Job) -> BoundsAt | None:
    """What clouds are cropped to, from the highest elevation in them; None to keep all.

    All is kept where there is no cloud, where the foundation is fitted to shots, and where the
    design is faulty, which is told once the survey is read.
    """
    if not any(kind_of(name) == "cloud" for name in job.existing.shots):
        return None
    if job.foundation.stakes is not None:
        return None
    try:
        layout, line = lay_out(job), lot_line(job)
    except SpoilbankError:
        return None
    margin = MARGIN_M / float(job.unit.metres)

    def bounds(top: float) -> Bounds:
        boxes = list(_boxes(layout, top))
        if line is not None:
            boxes.append(_box(line, 0.0))
        low = np.min([low for low, _ in boxes], axis=0) - margin
        high = np.max([high for _, high in boxes], axis=0) + margin
        return float(low[0]), float(low[1]), float(high[0]), float(high[1])

    return bounds


def _boxes(layout: Layout, top: float) -> Iterator[tuple[FloatArray, FloatArray]]:
    """Boxes on the site round the main dig and each extra, wide enough for ground up to `top`."""
    design, frame = layout.design, layout.frame
    sides = [(wall.overdig, wall.side) for wall in design.walls]
    yield _box(frame.to_site(design.corners), _reach(sides, top - design.floor))
    for extra in design.extras:
        for piece in extra.pieces:
            origin, east, north = piece.plane[:2], piece.plane[3], piece.plane[4]
            floors = piece.plane[2] + (piece.corners - origin) @ np.array([east, north])
            reach = _reach([(extra.overdig, extra.side)], top - float(floors.min()))
            yield _box(frame.to_site(piece.corners), reach)


def _reach(sides: list[tuple[float, Side]], height: float) -> float:
    """How far out the farthest side has come at a height above its floor; corners are mitred."""
    farthest = max(
        overdig + (run_to_climb(side, height) if height > 0.0 else 0.0) for overdig, side in sides
    )
    return SHARPEST_MITRE * farthest


def _box(corners: FloatArray, reach: float) -> tuple[FloatArray, FloatArray]:
    return corners.min(axis=0) - reach, corners.max(axis=0) + reach
