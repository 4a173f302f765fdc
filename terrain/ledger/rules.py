"""Excavation safety rules as figures, each with its source: in feet, as their sources print them.

They are figures to be careful by. Local code and a competent person decide.
"""

from dataclasses import dataclass
from typing import Literal, TypeAlias

from terrain.base.units import FOOT, LengthUnit
from terrain.ledger.sources import Source

SoilClass: TypeAlias = Literal["stable rock", "A", "B", "C"]

_TABLE_B1 = Source(title="29 CFR 1926 Subpart P, Appendix B, Table B-1", mark="S2")
_BENCHES = Source(title="29 CFR 1926 Subpart P, Appendix B, benching figures", mark="S2")
_MEMO = Source(
    title="OSHA memorandum on house foundation and basement excavations, 30 June 1995", mark="S"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """A length that a rule sets, in feet."""

    feet: float
    source: Source

    def in_unit(self, unit: LengthUnit) -> float:
        """The limit in the job's unit of length.

        A rule that says feet does not say which, so a job in US survey feet takes it as its own:
        a dig of 5 of either foot is 5 ft deep.
        """
        return float(self.feet * unit.per(FOOT)) if unit.is_metric else self.feet

    def told(self, unit: LengthUnit) -> str:
        """The limit in words: `5 ft`, or `1.52 m (5 ft)` in a metric job."""
        feet = f"{self.feet:g} ft"
        return f"{self.in_unit(unit):.2f} m ({feet})" if unit.is_metric else feet


@dataclass(frozen=True, slots=True, kw_only=True)
class Slope:
    """The steepest side a rule allows, as run per rise; 0 is vertical."""

    run_per_rise: float
    source: Source


@dataclass(frozen=True, slots=True, kw_only=True)
class Benches:
    """The highest upright part a soil class allows: the first from the floor, and later ones.

    None where the class allows no benches.
    """

    first: Limit | None
    later: Limit | None
    source: Source = _BENCHES


PROTECTION_DEPTH = Limit(feet=5.0, source=Source(title="29 CFR 1926.652(a)(1)", mark="S2"))
"""From this depth on: protection from cave-in unless the dig is all in stable rock. Less deep,
only if a competent person sees no sign of a cave-in."""

ENGINEER_DEPTH = Limit(feet=20.0, source=_TABLE_B1)
"""Deeper than this a registered engineer designs the protection."""

DEFAULT_SLOPE = Slope(run_per_rise=1.5, source=Source(title="29 CFR 1926.652(b)(1)", mark="S2"))
"""The slope for soil that no one has classified."""

STEEPEST: dict[SoilClass, Slope] = {
    "stable rock": Slope(run_per_rise=0.0, source=_TABLE_B1),
    "A": Slope(run_per_rise=0.75, source=_TABLE_B1),
    "B": Slope(run_per_rise=1.0, source=_TABLE_B1),
    "C": Slope(run_per_rise=1.5, source=_TABLE_B1),
}

SHORT_TERM_SLOPE = Slope(run_per_rise=0.5, source=_TABLE_B1)
"""Class A, open no more than SHORT_TERM_HOURS and no deeper than SHORT_TERM_DEPTH."""

SHORT_TERM_DEPTH = Limit(feet=12.0, source=_TABLE_B1)
SHORT_TERM_HOURS = 24

BENCHES: dict[SoilClass, Benches] = {
    "A": Benches(first=Limit(feet=4.0, source=_BENCHES), later=Limit(feet=5.0, source=_BENCHES)),
    "B": Benches(first=Limit(feet=4.0, source=_BENCHES), later=Limit(feet=4.0, source=_BENCHES)),
    "C": Benches(first=None, later=None),
}
"""Class B in cohesive soil only. Stable rock may stand upright, so it is not listed."""

SHIELD_ABOVE = Limit(
    feet=1.5, source=Source(title="29 CFR 1926 Subpart P, Appendix B, sloping figures", mark="S2")
)
"""A shield or shoring of an upright foot under a slope reaches 18 in above the foot's top."""

SPOIL_SETBACK = Limit(feet=2.0, source=Source(title="29 CFR 1926.651(j)(2)", mark="S2"))
"""Spoil and equipment stay this far from the edge."""

EGRESS_DEPTH = Limit(feet=4.0, source=Source(title="29 CFR 1926.651(c)(2)", mark="S2"))
"""A trench of this depth has a way out ..."""

EGRESS_TRAVEL = Limit(feet=25.0, source=Source(title="29 CFR 1926.651(c)(2)", mark="S2"))
"""... within this distance of everyone in it."""

FORMED_TRENCH_WIDTH = Limit(
    feet=15.0, source=Source(title="29 CFR 1926.650(b), definition of a trench", mark="M")
)
"""Formwork that leaves no more than this between itself and the face makes a trench of it."""

MEMO_DEPTH = Limit(feet=7.5, source=_MEMO)
"""House foundations: the dig is less deep than this, or benched by the two figures below."""

MEMO_BENCH_RUN = Limit(feet=2.0, source=_MEMO)
MEMO_BENCH_RISE = Limit(feet=5.0, source=_MEMO)

MEMO_ROOM = Limit(feet=2.0, source=_MEMO)
"""House foundations: least width at the bottom from the face to the formwork."""

OTHER_CODES_METRES = (
    ("Canada", 1.4, Source(title="Canada SOR/86-304 s. 3.12", mark="S")),
    ("Norway", 2.0, Source(title="Norway 21-4", mark="S")),
)
"""Depths in metres from which other codes ask for shoring: Canada's federal rule with sides at 45
degrees or steeper, Norway's with vertical sides."""
