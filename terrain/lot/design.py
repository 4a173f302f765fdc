"""The finished lot as asked for: plain records in the local frame, valid if they exist."""

from dataclasses import dataclass

from terrain.base.arrays import FloatArray
from terrain.surface.moves import Side


@dataclass(frozen=True, slots=True, kw_only=True)
class Apron:
    """How the ground leaves the house.

    Args:
        grades: (n, 2), finished ground at each house wall, at its first and its last corner.
        fall: drop per run away from the house.
        fall_distance: how far from the wall the fall holds.
        cut_slope: run per rise beyond, where the ground is higher.
        fill_slope: run per rise beyond, where the ground is lower.
    """

    grades: FloatArray
    fall: float
    fall_distance: float
    cut_slope: float
    fill_slope: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Pad:
    """A drive, patio or walk-out: `corners` (n, 2) counter-clockwise on one `plane` (5,)."""

    name: str
    corners: FloatArray
    plane: FloatArray
    key: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Swale:
    """A ditch along `line` (n, 2) with its bottom at `inverts` (n,), `width` wide, and a side."""

    name: str
    line: FloatArray
    inverts: FloatArray
    width: float
    side: Side
    key: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Keep:
    """Ground that must not change: `corners` (n, 2)."""

    name: str
    corners: FloatArray
    key: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LotDesign:
    """The whole finished lot.

    Args:
        house: (n, 2) counter-clockwise, all that the ground falls away from; wall i runs from
            corner i to the next.
        walls: the name of each house wall.
        boundary: (m, 2), the lot line.
    """

    house: FloatArray
    walls: tuple[str, ...]
    apron: Apron
    boundary: FloatArray
    pads: tuple[Pad, ...] = ()
    swales: tuple[Swale, ...] = ()
    keeps: tuple[Keep, ...] = ()
