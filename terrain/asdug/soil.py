"""The swell of a lot's own soil: loose piles over the hole they came from."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from terrain.asdug.measured import Measured, SurveyTerms, doubt_from
from terrain.ledger.doubt import Doubt
from terrain.ledger.soil import MOST_SWELL, SOILS, SoilFactors, find_soil


@dataclass(frozen=True, slots=True, kw_only=True)
class SwellRange:
    """What is published of a material's swell: its own figure and its range together, and of whom.

    For a material that is in no table it is that of all soils.
    """

    least: float
    most: float
    name: str
    source: str

    @property
    def width(self) -> float:
        """From the least to the most."""
        return self.most - self.least


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredSwell:
    """Loose over bank less one, of what was dug between two days.

    Args:
        swell: as a fraction of the bank volume.
        doubt: of it, by what makes it; `plus_minus_95` is all of it.
        published: what is printed of such a soil.
        reason: why it is no better than what is printed; None if it is, and may be used.
    """

    swell: float
    doubt: Doubt
    published: SwellRange
    reason: str | None

    @property
    def plus_minus_95(self) -> float | None:
        """Half the width of its 95 % interval."""
        return self.doubt.together


def swell_range(material: str) -> SwellRange:
    """The swell that is published for a material.

    >>> clay = swell_range("clay")
    >>> clay.least, clay.most, clay.name
    (0.2, 0.43, 'dense clay')
    """
    soil = find_soil(material)
    rows = SOILS if soil is None else (soil,)
    printed = [value for row in rows for value in (row.swell, *row.swell_range)]
    sources = dict.fromkeys(str(s) for row in rows for s in (row.source, row.range_source))
    return SwellRange(
        least=min(printed),
        most=max(printed),
        name="all soils in the tables" if soil is None else soil.range_name,
        source="; ".join(sources),
    )


def measured_swell(
    loose: Measured, bank: Measured, surveys: Mapping[str, SurveyTerms], factors: SoilFactors
) -> MeasuredSwell:
    """The swell of what was dug, from the piles it makes and the hole it left; bank > 0.

    It is better than the tables if its interval at 95 % is narrower than what they print.
    """
    ratio = loose.by(bank)
    doubt = doubt_from(ratio, surveys)
    published = swell_range(factors.material)
    swell = ratio.amount - 1.0
    return MeasuredSwell(
        swell=swell,
        doubt=doubt,
        published=published,
        reason=_why_not(swell, doubt.together, published, factors),
    )


def _why_not(
    swell: float, doubt: float | None, published: SwellRange, factors: SoilFactors
) -> str | None:
    if swell < 0.0:
        return (
            "the piles hold less than the hole did: some was hauled away, or some was not shot; "
            "give piles.hauled, or shoot all of it"
        )
    if swell > MOST_SWELL:
        return "the piles hold more than any soil swells to: some earth in them is not of this hole"
    if -factors.shrink > swell:
        return f"it is less than the {-factors.shrink:g} that the soil keeps when it is compacted"
    if doubt is None:
        return "no accuracy is given, so its doubt is not known"
    if 2.0 * doubt >= published.width:
        return (
            f"19 times in 20 it lies within a span of {2.0 * doubt:.3f}, which is no narrower than "
            f"the {published.width:.2f} that is published for {published.name}"
        )
    return None


def with_measured(factors: SoilFactors, measured: MeasuredSwell, when: str) -> SoilFactors:
    """The soil factors with the swell of this lot; `when` says in words of which days."""
    return replace(
        factors,
        swell=measured.swell,
        swell_plus_minus_95=measured.plus_minus_95,
        source=f"swell measured on this lot {when}, in place of {factors.swell:g}; the rest: "
        f"{factors.source}",
    )
