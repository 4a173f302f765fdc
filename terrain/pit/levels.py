"""The chain of levels from the top of the foundation wall down to the floor of the dig."""

from dataclasses import dataclass

from terrain.base.errors import DesignError, Fault

AGREE_WITHIN = 1e-3
"""Levels that differ by no more than this many length units agree: jobs give three decimals."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelsGiven:
    """What a job says of its levels; heights are measured down, elevations are up."""

    floor: float | None = None
    top: float | None = None
    wall_height: float | None = None
    footing_depth: float | None = None
    footing_bottom: float | None = None
    under_slab: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """One level of the chain: its name, its elevation, and how it came about."""

    name: str
    elevation: float
    how: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Levels:
    """The levels from the top down. `footing_bottom` is None unless it lies below the floor."""

    floor: float
    footing_bottom: float | None
    footing_top: float | None
    chain: tuple[Level, ...]


def resolve_levels(given: LevelsGiven) -> Levels:
    """The floor of the dig and every level above or below it that the job fixes.

    The wall stands on the footing, the footing on the floor or, with a bottom of its own, in a
    trench below it. A slab is taken to lie level with the top of the footing on its stone, where
    nothing else fixes the floor (common practice, no source).

    Raises:
        DesignError: two ways to a level disagree, or the floor is not fixed; names both numbers.
    """
    faults: list[Fault] = []
    top_of_footing = _footing_top(given)
    below = top_of_footing
    if below is not None and given.footing_depth is not None:
        below = below - given.footing_depth
    faults += _bottom_faults(given, below)
    if faults:
        raise DesignError(*faults)
    floor = _floor(given, top_of_footing, below, faults)
    if faults or floor is None:
        raise DesignError(*faults)
    bottom = given.footing_bottom
    if bottom is not None and bottom >= floor - AGREE_WITHIN:
        bottom = None
    return Levels(
        floor=floor,
        footing_bottom=bottom,
        footing_top=_own_footing_top(given, floor, bottom),
        chain=_chain(given, floor, bottom),
    )


def _footing_top(given: LevelsGiven) -> float | None:
    if given.top is None or given.wall_height is None:
        return None
    return given.top - given.wall_height


def _bottom_faults(given: LevelsGiven, below: float | None) -> list[Fault]:
    """A footing bottom that the chain from the top does not reach."""
    bottom = given.footing_bottom
    if bottom is None or below is None or abs(bottom - below) <= AGREE_WITHIN:
        return []
    message = (
        f"the footing's bottom is given as {bottom:g}, but top {given.top:g} less the wall "
        f"{given.wall_height:g} and the footing {given.footing_depth:g} is {below:g}"
    )
    return [Fault(key="foundation.footing.bottom", message=message)]


def _floor(
    given: LevelsGiven, top_of_footing: float | None, below: float | None, faults: list[Fault]
) -> float | None:
    """The floor as given, or from the chain; adds what is wrong to `faults`."""
    floor, bottom = given.floor, given.footing_bottom
    in_trench = bottom is not None and (floor is None or bottom < floor - AGREE_WITHIN)
    if floor is None and below is not None and not in_trench:
        return below
    if floor is None and in_trench:
        if top_of_footing is not None and given.under_slab:
            floor = top_of_footing - given.under_slab
        else:
            message = (
                "give the floor, or foundation.stone.under_slab: with a footing bottom of "
                "its own the levels do not tell how deep the dig is within"
            )
            faults.append(Fault(key="dig.floor", message=message))
            return None
    if floor is None:
        message = "give the floor, or foundation.top and foundation.wall_height"
        faults.append(Fault(key="dig.floor", message=message))
        return None
    if bottom is not None and bottom > floor + AGREE_WITHIN:
        message = f"the footing's bottom {bottom:g} is above the floor {floor:g} of the dig"
        faults.append(Fault(key="foundation.footing.bottom", message=message))
    elif below is not None and not in_trench and abs(below - floor) > AGREE_WITHIN:
        parts = f"top {given.top:g} less the wall {given.wall_height:g}"
        if given.footing_depth is not None:
            parts += f" and the footing {given.footing_depth:g}"
        message = f"the floor is given as {floor:g}, but {parts} is {below:g}"
        faults.append(Fault(key="dig.floor", message=message))
    return floor


def _own_footing_top(given: LevelsGiven, floor: float, bottom: float | None) -> float | None:
    if given.footing_depth is None:
        return None
    return (floor if bottom is None else bottom) + given.footing_depth


def _chain(given: LevelsGiven, floor: float, bottom: float | None) -> tuple[Level, ...]:
    """Every level that is known, the highest first."""
    footing_top = _own_footing_top(given, floor, bottom)
    base = floor if footing_top is None else footing_top
    levels = []
    if given.top is not None:
        levels.append(Level(name="top of wall", elevation=given.top, how="given"))
    elif given.wall_height is not None:
        how = f"wall height {given.wall_height:g} above what it stands on"
        levels.append(Level(name="top of wall", elevation=base + given.wall_height, how=how))
    if footing_top is not None:
        how = (
            f"top of wall less wall height {given.wall_height:g}"
            if given.top is not None and given.wall_height is not None
            else f"footing depth {given.footing_depth:g} above its underside"
        )
        levels.append(Level(name="top of footing", elevation=footing_top, how=how))
    if given.under_slab:
        how = f"{given.under_slab:g} of stone on the floor of the dig"
        levels.append(Level(name="underside of slab", elevation=floor + given.under_slab, how=how))
    levels.append(Level(name="floor of the dig", elevation=floor, how=_floor_words(given, bottom)))
    if bottom is not None:
        how = "given: a trench under each wall"
        levels.append(Level(name="underside of footing", elevation=bottom, how=how))
    return tuple(sorted(levels, key=lambda level: -level.elevation))


def _floor_words(given: LevelsGiven, bottom: float | None) -> str:
    if given.floor is not None:
        return "given"
    if bottom is not None:
        return f"top of footing less {given.under_slab:g} of stone under the slab"
    if given.footing_depth is not None:
        return f"top of footing less footing depth {given.footing_depth:g}"
    return f"top of wall less wall height {given.wall_height:g}"
