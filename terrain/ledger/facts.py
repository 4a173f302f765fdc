"""What the cautions are drawn from: plain facts of the dig, all lengths in the job's unit."""

import math
from dataclasses import dataclass
from typing import Literal

from terrain.base.arrays import FloatArray
from terrain.base.units import LengthUnit
from terrain.ledger.rules import SoilClass
from terrain.surface.moves import Side


@dataclass(frozen=True, slots=True, kw_only=True)
class WallFacts:
    """One wall of the dig.

    Args:
        wall: its name.
        depth: the deepest cut at its face and side, below ground; 0 where nothing is cut.
        side: `(run, rise)` steps from the floor up.
        overdig: from the wall's outside face to the dig line.
        working_room: overdig less the footing's projection.
        dig_line: whether the wall still has a length on the dig line.
    """

    wall: str
    depth: float
    side: Side
    overdig: float
    working_room: float
    dig_line: Literal["kept", "vanished"] = "kept"


@dataclass(frozen=True, slots=True, kw_only=True)
class ExtraFacts:
    """A pit, ramp or trench.

    `depth` is how high its own faces stand: up to the ground, or to the floor of the dig around
    it where that is met first. `end_face` is the face left at the far end of a ramp that has not
    come up to the ground there, 0 without.
    """

    kind: Literal["pit", "ramp", "trench"]
    name: str
    depth: float
    side: Side
    end_face: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteFacts:
    """The dig as a whole and what stands round it, in the local frame.

    Args:
        unit: the job's unit of length.
        deepest_cut: below ground, pits included.
        soil_class: only if the job gives one.
        extras: pits, ramps and trenches.
        daylight: polylines (m, 2) where the cut meets the ground; a ring repeats its first point.
        lot: corners (m, 2) of the lot line, if the job has one.
        buildings: name and corners (m, 2) of each.
    """

    unit: LengthUnit
    deepest_cut: float
    soil_class: SoilClass | None = None
    extras: tuple[ExtraFacts, ...] = ()
    daylight: tuple[FloatArray, ...] = ()
    lot: FloatArray | None = None
    buildings: tuple[tuple[str, FloatArray], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Face:
    """What a wall and an extra have in common: words to call it by, a depth and a side."""

    called: str
    wall: str | None
    depth: float
    side: Side

    @property
    def of(self) -> str:
        """What a row about it begins with: the wall's name, or kind and name of an extra."""
        return self.called[:1].lower() + self.called[1:] if self.wall is None else self.wall


def faces(site: SiteFacts, walls: tuple[WallFacts, ...]) -> tuple[Face, ...]:
    """Every face of the dig that the safety rules look at: the walls, then the extras."""
    of_walls = (
        Face(called=f"Wall {w.wall}", wall=w.wall, depth=w.depth, side=w.side)
        for w in walls
        if w.dig_line == "kept"
    )
    of_extras = (
        Face(called=f"{e.kind.capitalize()} {e.name}", wall=None, depth=e.depth, side=e.side)
        for e in site.extras
    )
    return (*of_walls, *of_extras)


def told(length: float, unit: LengthUnit, beside: float | None = None) -> str:
    """A length in words, to two places, or to as many as tell it apart from the one `beside` it."""
    places = 2
    while beside is not None and length != beside and places < 9:
        if round(length, places) != round(beside, places):
            break
        places += 1
    return f"{length:.{places}f} {'m' if unit.is_metric else 'ft'}"


def told_at_least(length: float, unit: LengthUnit) -> str:
    """A length that is needed, in words, to two places and never below it but for noise."""
    up = math.ceil(length * 100.0 * (1.0 - 1e-9)) / 100.0
    return told(up, unit)
