"""What became of the points of a cloud, and what it is cropped to."""

from collections.abc import Callable
from dataclasses import dataclass

Bounds = tuple[float, float, float, float]
"""Low easting, low northing, high easting, high northing."""
BoundsAt = Callable[[float], Bounds]
"""The bounds that are needed where ground rises to an elevation."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CloudFacts:
    """What became of the points of a cloud; they sum: read = left out + thinned + merged + used.

    Args:
        read: points in the file.
        withheld, noise: flagged so by the file (classes 7 and 18 are noise).
        other_classes: of classes other than ground, where the file has ground.
        outside: beyond what the job needs.
        merged: into another at the same spot.
        stray: set apart before the ground filter, as far below all round them.
        not_ground: set apart by the ground filter.
        thinned: not the median of their cell.
        far: how many of those lay over 0.3 m below it, and above it.
        used: what is left.
        classed: whether the file says which points are ground.
        way: which ground filter was used, empty for none.
    """

    read: int
    withheld: int = 0
    noise: int = 0
    other_classes: int = 0
    outside: int = 0
    merged: int = 0
    stray: int = 0
    not_ground: int = 0
    thinned: int = 0
    far: tuple[int, int] = (0, 0)
    used: int = 0
    classed: bool = False
    way: str = ""
