"""Figures that can be, but rarely are meant: a floor above ground, a house of a doll or a mall."""

from terrain.base.units import LengthUnit
from terrain.ledger.entries import Caution
from terrain.ledger.facts import WallFacts, told

SMALLEST_HOUSE_M2, LARGEST_HOUSE_M2 = 20.0, 2000.0
"""Plan areas in square metres between which a house's foundation lies. Common practice, no
source."""

DOUBTFUL = 0.25
"""A volume whose plus-or-minus is over this share of it is no basis for a price; common practice,
no source."""


def doubt_cautions(
    bank: float, plus_minus_95: float | None, unit: LengthUnit
) -> tuple[Caution, ...]:
    """A caution where the survey is too rough to carry the volume, both in cubic length units."""
    if plus_minus_95 is None or not plus_minus_95 > DOUBTFUL * bank > 0.0:
        return ()
    volume, doubt = unit.volume(bank), unit.volume(plus_minus_95)
    return (
        Caution(
            code="doubtful-survey",
            message=f"The survey does not carry this volume: {volume:,.0f} {unit.volume_sign} with "
            f"a plus-or-minus of {doubt:,.0f}. Survey the lot better before you price it.",
        ),
    )


def sanity_cautions(
    walls: tuple[WallFacts, ...], floor: float, area: float, unit: LengthUnit
) -> tuple[Caution, ...]:
    """A caution for each wall along which nothing is dug, and for a foundation of an odd size.

    Args:
        walls: facts of every wall.
        floor: elevation of the main floor.
        area: plan area inside the outside faces, in square length units.
        unit: the job's unit of length.
    """
    found = []
    bare = [w.wall for w in walls if w.depth == 0.0 and w.dig_line == "kept"]
    if bare and len(bare) == len(walls):
        found.append(
            Caution(
                code="nothing-dug",
                message=f"The floor, {told(floor, unit)}, is nowhere below the ground: nothing is "
                "dug. Check dig.floor against the shots' elevations.",
            )
        )
    elif bare:
        found += [
            Caution(
                code="floor-above-ground",
                wall=name,
                message=f"Wall {name} has no cut: the floor, {told(floor, unit)}, lies above "
                "the ground along it. Check dig.floor.",
            )
            for name in bare
        ]
    square_metres = area * float(unit.metres) ** 2
    if not SMALLEST_HOUSE_M2 <= square_metres <= LARGEST_HOUSE_M2:
        size = "small" if square_metres < SMALLEST_HOUSE_M2 else "large"
        found.append(
            Caution(
                code="foundation-size",
                message=f"The foundation is {area:,.0f} {unit.area_sign} in plan, which is {size} "
                f"for a house. Check that site.length_unit is {unit.name}.",
            )
        )
    return tuple(found)
