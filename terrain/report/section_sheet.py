"""The sheet of a section drawing: where stations and elevations fall."""

from dataclasses import dataclass

import numpy as np

from terrain.base.arrays import FloatArray
from terrain.job.sections import Section

WIDTH = 360.0
EDGE = 6.0
"""Pixels left free on the right."""

SIZE = 11.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """Where stations and elevations fall, in pixels from the top left; `scale` pixels a unit.

    The column of levels takes `column` pixels on the left.
    `unit` is the job's length unit; `tag` keeps the drawing's ids apart from others.
    """

    section: Section
    scale: float
    column: float
    top: float
    height: float
    unit: str
    tag: str

    def pixels(self, line: FloatArray) -> FloatArray:
        """Places (m, 2) of stations and elevations (m, 2)."""
        line = np.asarray(line, dtype=np.float64)
        across = self.column + (line[..., 0] - self.section.low) * self.scale
        return np.stack([across, (self.top - line[..., 1]) * self.scale], axis=-1)

    def across(self, station: float) -> float:
        """The place of a station."""
        return float(self.pixels(np.array([station, 0.0]))[0])

    def down(self, elevation: float) -> float:
        """The place of an elevation."""
        return float(self.pixels(np.array([0.0, elevation]))[1])
