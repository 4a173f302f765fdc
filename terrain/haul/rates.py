"""Machine-hours from published factors: bucket cycles, pushing by dozer, loading of trucks.

Every plan is compared at the mean of two factors; hours are told as a range from the better to the
poorer of the published ones.
"""

from dataclasses import dataclass

import numpy as np

from terrain.base.arrays import FloatArray
from terrain.base.units import LengthUnit

FULL = (0.90, 0.80)
"""Share of the heaped capacity in a bucket: common earth, hard clay. Exercises of a textbook on
construction methods, as quoted (slideplayer.com/slide/3952092)."""

AT_WORK = (50.0 / 60.0, 0.70)
"""Share of an hour at work: the 50-minute hour and 70 %; same exercises, as quoted."""

SWING_DEGREES = np.array([45.0, 60.0, 75.0, 90.0, 120.0, 180.0])
SWING_FACTOR = np.array([1.16, 1.10, 1.05, 1.00, 0.94, 0.83])
"""Output by angle of swing at 70 % of the digging depth, 90 degrees being one: a textbook's table
of swing-depth factors for hydraulic excavators, from memory."""

DOZER_COMPACTED = 100.0
"""Compacted cubic yards a dozer backfills in an hour (an estimating book, S in the project's list
of check values)."""

DOZER_PUSH_FEET = 50.0
"""The push that rate is taken to be for; hours grow with distance. Common practice, no source."""

TRUCK_SWING = 90.0
"""Degrees to a truck where none is planned for, as from a pile. Common practice, no source."""

TRUCK_WAIT_SECONDS = 5.0
"""Lost to trucks changing places, a bucket: common practice, no source."""

HOE_BANK = 55.0
HOE_TO_MOBILISE = 2.0
"""Bank cubic yards in an hour, and hours to mobilise (the same estimating book)."""

YARD3 = 0.9144**3
FOOT = 0.3048


@dataclass(frozen=True, slots=True, kw_only=True)
class Rates:
    """What moving a cubic length unit, loose, takes in machine-hours, at the mean of the factors.

    `a_second` is of one second of a bucket's cycle, `push` of one length unit of push,
    `push_usual` of the push the dozer's rate is taken for. `low` and `high` turn hours of the
    mean into the range.
    """

    cycle_seconds: float
    a_second: float
    push: float
    push_usual: float
    low: float
    high: float

    def swing(self, degrees: FloatArray) -> FloatArray:
        """Hours a cubic unit when the bucket swings so far to where it is emptied."""
        return self.cycle_seconds * swing_time(degrees) * self.a_second

    def truck(self, degrees: FloatArray) -> FloatArray:
        """Hours a cubic unit into a truck, when the bucket swings so far to it."""
        return (self.cycle_seconds * swing_time(degrees) + TRUCK_WAIT_SECONDS) * self.a_second

    @property
    def to_truck(self) -> float:
        """Hours a cubic unit from a pile into a truck."""
        return float(self.truck(np.array(TRUCK_SWING)))


def swing_time(degrees: FloatArray) -> FloatArray:
    """The cycle's length as a share of that with a swing of 90 degrees."""
    return np.interp(degrees, SWING_DEGREES, 1.0 / SWING_FACTOR)


def rates_of(
    bucket_capacity: float, cycle_seconds: float, swell_and_shrink: tuple[float, float],
    unit: LengthUnit,
) -> Rates:  # fmt: skip
    """The rates of a machine in a soil; capacity in loose cubic length units."""
    swell, shrink = swell_and_shrink
    each = [1.0 / (3600.0 * full * at_work) for full, at_work in zip(FULL, AT_WORK, strict=True)]
    mean = sum(each) / 2
    metres = float(unit.metres)
    loose_yards = DOZER_COMPACTED * (1.0 + swell) / (1.0 - shrink)
    loose_an_hour = loose_yards * YARD3 / metres**3
    return Rates(
        cycle_seconds=cycle_seconds,
        a_second=mean / bucket_capacity,
        push=1.0 / (loose_an_hour * DOZER_PUSH_FEET * FOOT / metres),
        push_usual=1.0 / loose_an_hour,
        low=min(each) / mean,
        high=max(each) / mean,
    )


def hoe_hours(bank: float, unit: LengthUnit) -> float:
    """Hours by an estimating book's rate for a hoe, of so many bank cubic length units."""
    return bank * float(unit.metres) ** 3 / YARD3 / HOE_BANK + HOE_TO_MOBILISE
