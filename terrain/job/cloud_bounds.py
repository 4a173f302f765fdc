"""How far out a job needs its clouds: the dig as wide as its sides climb, the lot, a margin.

How far sides climb hangs on the ground, which is not known before it is read, and the highest point
of a cloud may be a bird. So a first crop takes the ground to be no higher than is usual, and is
made larger where what was read in it is higher.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from terrain.base.arrays import FloatArray
from terrain.base.errors import SpoilbankError
from terrain.job.design import Layout, lay_out
from terrain.job.load import Job
from terrain.job.lot_line import lot_line
from terrain.surface.moves import Side, run_to_climb
from terrain.survey.cloud_facts import Bounds, BoundsAt
from terrain.survey.files import kind_of
from terrain.survey.read import FileFacts

MARGIN_M = 10.0
"""Metres kept beyond what is needed, for pictures and for ground that spoil lies on."""
USUAL_CLIMB_M = 6.0
"""Metres that ground stands above the floor at most, as a first guess: basements are dug 2.5 to
4 m deep (common practice, no source)."""
SHARPEST_MITRE = 2.0
"""A mitred corner of 60 degrees stands twice as far out as the walls that meet in it; for sharper
ones the crop may be too small, and the cloud is then read in full."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Needed:
    """What a job needs of a cloud: its dig as laid out, its lot line (n, 2) on the site if any."""

    layout: Layout
    line: FloatArray | None
    metre: float

    def bounds(self, top: float, margin: float = MARGIN_M) -> Bounds:
        """The bounds on the site for ground up to an elevation, and a margin in metres."""
        boxes = list(_boxes(self.layout, top))
        if self.line is not None:
            boxes.append(_box(self.line, 0.0))
        low = np.min([low for low, _ in boxes], axis=0) - margin * self.metre
        high = np.max([high for _, high in boxes], axis=0) + margin * self.metre
        return float(low[0]), float(low[1]), float(high[0]), float(high[1])

    @property
    def usual_top(self) -> float:
        """The elevation up to which the first crop reckons."""
        return self.layout.design.floor + USUAL_CLIMB_M * self.metre

    def up_to(self, top: float) -> BoundsAt:
        """The crop of a cloud for ground up to `top`, or to its own highest point if lower."""
        return lambda highest: self.bounds(min(highest, top))

    def higher_top(self, files: tuple[FileFacts, ...], top: float) -> float | None:
        """The elevation to crop for instead, where ground read within a crop calls for a larger."""
        cropped = [f.high[2] for f in files if f.cloud is not None and f.cloud.outside]
        highest = max(cropped, default=top)
        if highest <= top:
            return None
        have, want = np.array(self.bounds(top)), np.array(self.bounds(highest, margin=0.0))
        enough = (have[:2] <= want[:2]).all() and (have[2:] >= want[2:]).all()
        return None if enough else highest + USUAL_CLIMB_M * self.metre


def cloud_bounds(job: Job) -> Needed | None:
    """What clouds are cropped to; None to keep all.

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
    return Needed(layout=layout, line=line, metre=1.0 / float(job.unit.metres))


def _boxes(layout: Layout, top: float) -> Iterator[tuple[FloatArray, FloatArray]]:
    """Boxes on the site round the main dig and each extra, wide enough for ground up to `top`."""
    design, frame = layout.design, layout.frame
    sides = [(wall.overdig, wall.side) for wall in design.walls]
    reach = _reach(sides, top - design.floor) * _mitre(design.corners)
    yield _box(frame.to_site(design.corners), reach)
    for extra in design.extras:
        for piece in extra.pieces:
            origin, east, north = piece.plane[:2], piece.plane[3], piece.plane[4]
            floors = piece.plane[2] + (piece.corners - origin) @ np.array([east, north])
            reach = _reach([(extra.overdig, extra.side)], top - float(floors.min()))
            reach *= _mitre(piece.corners)
            yield _box(frame.to_site(piece.corners), reach)


def _reach(sides: list[tuple[float, Side]], height: float) -> float:
    """How far out the farthest side has come at a height above its floor."""
    return max(
        overdig + (run_to_climb(side, height) if height > 0.0 else 0.0) for overdig, side in sides
    )


def _mitre(corners: FloatArray) -> float:
    """How many times as far out as its walls the sharpest corner of a ring stands."""
    along = np.roll(corners, -1, axis=0) - corners
    along /= np.hypot(*along.T)[:, None]
    turn = (np.roll(along, 1, axis=0) * along).sum(axis=1)  # cosines; 1/cos of half the turn:
    return float(min(np.sqrt(2.0 / np.maximum(1.0 + turn, 1e-9)).max(), SHARPEST_MITRE))


def _box(corners: FloatArray, reach: float) -> tuple[FloatArray, FloatArray]:
    return corners.min(axis=0) - reach, corners.max(axis=0) + reach
