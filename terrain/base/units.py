"""Length units as exact fractions of a metre, and the volume unit that goes with each.

1 ft = 0.3048 m exactly; the US survey foot is 1200/3937 m, retired on 31 December 2022
(85 FR 62698). Earth is sold by the cubic yard of 27 cubic feet, or by the cubic metre.
"""

from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class LengthUnit:
    """A unit of length, exact in metres, with the unit in which volumes are told."""

    name: str
    long_name: str
    metres: Fraction
    area_name: str
    volume_name: str
    cubic_units_per_volume_unit: int

    def volume(self, cubic_units: float) -> float:
        """The volume in the job's volume unit of so many cubic length units."""
        return cubic_units / self.cubic_units_per_volume_unit

    def per(self, other: "LengthUnit") -> Fraction:
        """How many of this unit one of `other` is, exactly."""
        return other.metres / self.metres

    @property
    def area_sign(self) -> str:
        """The unit of area as people read it, `ft²`; `area_name` is for files and programs."""
        return self.area_name.replace("2", "²")

    @property
    def volume_sign(self) -> str:
        """The unit of volume as people read it, `yd³`; `volume_name` is for files and programs."""
        return self.volume_name.replace("3", "³")

    @property
    def is_metric(self) -> bool:
        """Whether rules are worded in metres for this job."""
        return self.metres == 1


FOOT = LengthUnit(
    name="ft", long_name="international foot", metres=Fraction(3048, 10000),
    area_name="ft2", volume_name="yd3", cubic_units_per_volume_unit=27,
)  # fmt: skip
US_SURVEY_FOOT = LengthUnit(
    name="ftUS", long_name="US survey foot", metres=Fraction(1200, 3937),
    area_name="ft2", volume_name="yd3", cubic_units_per_volume_unit=27,
)  # fmt: skip
METRE = LengthUnit(
    name="m", long_name="metre", metres=Fraction(1),
    area_name="m2", volume_name="m3", cubic_units_per_volume_unit=1,
)  # fmt: skip

LENGTH_UNITS = {unit.name: unit for unit in (FOOT, US_SURVEY_FOOT, METRE)}
