"""The excavator: what a job gives of it, and typical figures for the rest by weight."""

from dataclasses import dataclass, fields

import numpy as np

from terrain.base.arrays import FloatArray
from terrain.base.units import LengthUnit

TYPICAL_WEIGHT = 14.0
"""Tonnes taken where a job says nothing at all of its machine."""

_FIGURES = (
    "reach", "digging_depth", "track_length", "track_width", "tail_swing", "bucket_width",
    "bucket_capacity", "cycle_seconds",
)  # fmt: skip
_BY_WEIGHT = np.array(
    [
        [2.0, 4.2, 2.4, 1.90, 1.45, 1.20, 0.45, 0.07, 15.0],
        [5.0, 5.9, 3.7, 2.50, 1.95, 1.50, 0.60, 0.16, 15.0],
        [8.0, 6.9, 4.6, 2.90, 2.25, 1.80, 0.75, 0.28, 16.0],
        [14.0, 8.3, 5.5, 3.65, 2.60, 2.30, 1.20, 0.76, 18.0],
        [20.0, 9.7, 6.5, 4.40, 3.00, 2.80, 1.30, 1.00, 19.0],
        [30.0, 10.6, 7.3, 4.90, 3.20, 3.30, 1.50, 1.50, 21.0],
    ]
)
"""Tonnes, then `_FIGURES` in metres, cubic metres and seconds. Common practice, no source: to be
checked against the machine's own chart."""

AT_FULL_DEPTH = 0.45
"""How far out the bucket still digs at full depth, as a share of the reach at ground level.
Common practice, no source."""

TAIL_CLEAR_M = 0.5
"""Metres to keep between the swinging tail and anything fixed (guidance on plant safety, as quoted
at workersaved.com/training/mobile-equipment-safety)."""

CASTS_WITHIN = 0.9
"""How far out the bucket is emptied over a pile, as a share of that reach. Common practice, no
source."""

LOADS_WITHIN = 0.8
"""The same over a truck's body, which is hit or missed: nearer. Common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Machine:
    """An excavator. Lengths in length units, `bucket_capacity` loose in cubic length units.

    `reach` is at ground level from the middle of the tracks, `step` the way between stands,
    `tail_clear` what stays free beyond the tail.
    """

    reach: float
    digging_depth: float
    track_length: float
    track_width: float
    tail_swing: float
    bucket_width: float
    bucket_capacity: float
    cycle_seconds: float
    step: float
    tail_clear: float

    def reach_at(self, depth: FloatArray) -> FloatArray:
        """How far out it digs at depths below its tracks, in length units; -1 below its depth.

        An arc from the reach at ground level to `AT_FULL_DEPTH` of it at the digging depth.
        """
        share = np.clip(depth / self.digging_depth, 0.0, 1.0)
        reach = self.reach * np.sqrt(1.0 - (1.0 - AT_FULL_DEPTH**2) * share**2)
        return np.where(depth <= self.digging_depth, reach, -1.0)

    @property
    def casts_to(self) -> float:
        """How far out it empties the bucket on a pile."""
        return CASTS_WITHIN * self.reach

    @property
    def loads_within(self) -> float:
        """How far out it empties the bucket into a truck."""
        return LOADS_WITHIN * self.reach

    @property
    def swings_in(self) -> float:
        """How far round the middle of its tracks nothing may stand in the way of its tail."""
        return self.tail_swing + self.tail_clear


def typical(weight: float, unit: LengthUnit) -> dict[str, float]:
    """Typical figures of an excavator of so many tonnes, keyed as `Machine`'s.

    Between the rows of the table in proportion, beyond them its first or last row.
    """
    metres = float(unit.metres)
    found = {
        name: float(np.interp(weight, _BY_WEIGHT[:, 0], _BY_WEIGHT[:, column]))
        for column, name in enumerate(_FIGURES, start=1)
    }
    told = {name: value / metres for name, value in found.items()}
    told["bucket_capacity"] = found["bucket_capacity"] / metres**3
    told["cycle_seconds"] = found["cycle_seconds"]
    return told


def machine_of(
    given: dict[str, float | None], weight: float | None, unit: LengthUnit
) -> tuple[Machine, tuple[str, ...]]:
    """The machine of the figures given, and the names of those that are only typical.

    Args:
        given: figures in length units, keyed as `Machine`'s; None or absent where not known.
        weight: tonnes, to take the rest by; None for a usual machine.
        unit: of the lengths.
    """
    figures = typical(TYPICAL_WEIGHT if weight is None else weight, unit)
    known = {name: value for name, value in given.items() if value is not None}
    figures |= known
    figures.setdefault("step", figures["track_length"] / 2)
    names = [f.name for f in fields(Machine) if f.name in figures]
    taken = tuple(name for name in names if name not in known)
    clear = TAIL_CLEAR_M / float(unit.metres)
    return Machine(**{name: figures[name] for name in names}, tail_clear=clear), taken
