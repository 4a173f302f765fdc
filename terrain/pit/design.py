"""The dig as asked for: plain records in the local frame, valid if they exist."""

from dataclasses import dataclass
from typing import Literal

from terrain.base.arrays import FloatArray
from terrain.surface.moves import Side


@dataclass(frozen=True, slots=True, kw_only=True)
class Wall:
    """One wall of an outline: its name, its overdig and the side that climbs from it.

    `key` is the job file's key path for messages, for instance `dig.walls.back`.
    """

    name: str
    overdig: float
    side: Side
    key: str = "dig"


@dataclass(frozen=True, slots=True, kw_only=True)
class FootingTrench:
    """A trench below the floor under every wall, with vertical sides.

    `projection` is how far it stands out past the outside face, `width` its width in plan,
    `bottom` its elevation.
    """

    width: float
    projection: float
    bottom: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Extra:
    """A pit, ramp or trench: a floor over an outline of its own, with a row of its own.

    `corners` (n, 2) go counter-clockwise; `plane` is (easting, northing, upward, per easting,
    per northing) of its floor. A bent ramp is several extras' worth of `pieces`; pits and
    trenches have one piece.
    """

    kind: Literal["pit", "ramp", "trench"]
    name: str
    pieces: tuple["Piece", ...]
    overdig: float
    side: Side
    key: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """One outline with one plane floor.

    `shared` are the edges that it has in common with the next piece of a bent ramp: there it has
    neither overdig nor side.
    """

    corners: FloatArray
    plane: FloatArray
    shared: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Design:
    """The whole dig: outside faces of the foundation, its walls, floor, trench and extras.

    `corners` (n, 2) go counter-clockwise in the local frame; wall i runs from corner i to the
    next. `walls` keep the numbers of the job file in `number`, so that ties go the same way
    whichever way round the outline was drawn.
    """

    corners: FloatArray
    walls: tuple[Wall, ...]
    number: tuple[int, ...]
    floor: float
    footing: FootingTrench | None = None
    extras: tuple[Extra, ...] = ()
