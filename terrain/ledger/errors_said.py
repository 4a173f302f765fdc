"""What a survey is said to err by."""

from dataclasses import dataclass, field, fields

import numpy as np

from terrain.base.arrays import FloatArray, IntArray


@dataclass(frozen=True, slots=True, kw_only=True)
class SurveyErrors:
    """What a survey is said to err by: standard deviations in length units, None if not said.

    Args:
        accuracy: of a shot's elevation, each for itself.
        each: (n,), the same point by point of the ground, where shots are not all alike; it then
            holds instead of `accuracy`.
        horizontal_accuracy: of a shot's easting and of its northing, each for itself.
        datum_accuracy: shared by all elevations, against the mark the floor is set from.
        correlated_accuracy: of elevations, shared by shots near one another.
        correlation_range: the distance at which two shots share nothing of it any more.
    """

    accuracy: float | None = None
    horizontal_accuracy: float | None = None
    datum_accuracy: float | None = None
    correlated_accuracy: float | None = None
    correlation_range: float | None = None
    each: FloatArray | None = field(default=None, compare=False)

    @property
    def is_said(self) -> bool:
        """Whether anything is said of how the survey errs."""
        return any(getattr(self, one.name) is not None for one in fields(self))

    def of_elevations(self, point: IntArray) -> FloatArray:
        """The standard deviation of each of these points' own error, nought where it isn't said."""
        if self.each is not None:
            return np.asarray(self.each[point], dtype=np.float64)
        return np.full(point.shape, self.accuracy or 0.0)


NOTHING_SAID = SurveyErrors()
"""A survey that nothing is said of."""
