"""The local frame: plan coordinates less a whole-number origin near the work."""

from dataclasses import dataclass

import numpy as np

from terrain.base.arrays import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class LocalFrame:
    """A shift of plan coordinates that keeps sixteen digits for the lot itself.

    The origin is a whole number of length units, so the shift of a coordinate near it loses
    nothing. Elevations are left as they are.
    """

    easting: float = 0.0
    northing: float = 0.0

    @classmethod
    def near(cls, plan: FloatArray) -> "LocalFrame":
        """The frame with its origin at the whole units nearest the middle of `plan` (n, 2)."""
        middle = np.round((plan.min(axis=0) + plan.max(axis=0)) / 2)
        return cls(easting=float(middle[0]), northing=float(middle[1]))

    @property
    def origin(self) -> FloatArray:
        """The origin as (easting, northing)."""
        return np.array([self.easting, self.northing])

    def to_local(self, plan: FloatArray) -> FloatArray:
        """Plan coordinates (..., 2) of the site in the local frame."""
        return _shifted(plan, -self.easting, -self.northing)

    def to_site(self, plan: FloatArray) -> FloatArray:
        """Plan coordinates (..., 2) of the local frame on the site."""
        return _shifted(plan, self.easting, self.northing)


def _shifted(plan: FloatArray, easting: float, northing: float) -> FloatArray:
    """Plan coordinates (..., 2) moved, column by column: numpy is slow along rows of two."""
    plan = np.asarray(plan, dtype=np.float64)
    shifted = np.empty_like(plan, order="C")
    np.add(plan[..., 0], easting, out=shifted[..., 0])
    np.add(plan[..., 1], northing, out=shifted[..., 1])
    return shifted
