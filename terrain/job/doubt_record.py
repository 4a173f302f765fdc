"""What a job tells of its total's plus-or-minus."""

from dataclasses import dataclass

DO_NOT_ADD = (
    "The plus-or-minus of parts and walls do not add up to that of the total: they share shots, "
    "marks and ground."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ShotTold:
    """A shot that carries much of what shots make each for itself.

    `name` is its point's name, empty without one; `place` its file and line, empty where lines made
    the point. `weight` is in square length units: what a unit of its elevation adds to the volume.
    `share` is of the variance that shots make each for itself.
    """

    name: str
    place: str
    easting: float
    northing: float
    elevation: float
    weight: float
    share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class NextShotTold:
    """Where one more shot helps the total most, and its plus-or-minus then, in the volume unit."""

    easting: float
    northing: float
    plus_minus_95: float


@dataclass(frozen=True, slots=True, kw_only=True)
class DoubtTold:
    """What there is to say of the total's plus-or-minus beside its parts.

    `left_out` is how many shots were left out one by one to see what the ground does between shots,
    `typical_miss` the root mean square of how far they lay off the rest; None if too few could be.
    """

    shots: tuple[ShotTold, ...]
    next_shot: NextShotTold | None
    left_out: int | None
    typical_miss: float | None
    do_not_add: str = DO_NOT_ADD
