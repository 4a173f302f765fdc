"""What a dig plan says of the ground beside its passes: the cut's top, topsoil, ramps, marks."""

from dataclasses import dataclass
from typing import Literal, TypeAlias

import shapely

from terrain.base.arrays import FloatArray
from terrain.ledger.entries import BankVolume, LooseVolume

Range: TypeAlias = tuple[float, float]
Place: TypeAlias = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class WallCut:
    """Where the side along one wall comes up to the existing ground, pits and ramps left out.

    Args:
        out: least and most distance of that top edge outside the wall's face.
        ends: that distance at the wall's first and last corner as the job draws it, or where the
            cut along it begins and ends.
        ground: lowest and highest ground along it, elevations.
        depth: the same above the floor.
        steps: (run, rise) of the side from the floor up.
        ground_line, dig_line: (m, 2) distance outside the face and elevation, through the middle
            or as near to it as the wall's own side is met alone.
    """

    wall: str
    out: Range
    ends: Range
    ground: Range
    depth: Range
    steps: tuple[tuple[float, float], ...]
    ground_line: FloatArray
    dig_line: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class TopsoilTold:
    """The topsoil that comes off the cut: `depth` over `area`; `holds` is what the stack drawn
    holds, loose, and None where no ground for it is known, `over` what it does not, in truck
    loads `over_loads` (None without a truck); `middle` is where that stack lies.
    """

    depth: float
    area: float
    bank: BankVolume
    loose: LooseVolume
    holds: LooseVolume | None
    over: LooseVolume
    over_loads: int | None
    middle: Place | None
    height: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RampTold:
    """A ramp of the job: `run` level for one down."""

    name: str
    width: float
    run: float
    leads_out: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ExtraTold:
    """A ramp, pit or trench as it is dug.

    Args:
        spots: (m, 2) the corners of a pit; the middle line of a trench; that of a ramp from its
            foot to where it comes up to the ground, or to its end.
        floor, ground: (m,) elevations there, dug and as they were.
        width: of a ramp or trench, None for a pit.
        dug: in plan, all of it with its own sides, as far as the cut reaches.
        steps: (run, rise) of its sides from its floor up.
        highest, upright: of its sides from its floor to the ground as it was, and of what stands
            straight up in them; 0 where nothing is dug.
        stands: the numbers of those that dig it.
    """

    name: str
    kind: Literal["ramp", "pit", "trench"]
    spots: FloatArray
    floor: FloatArray
    ground: FloatArray
    width: float | None
    dug: shapely.MultiPolygon
    steps: tuple[tuple[float, float], ...]
    highest: float
    upright: float
    stands: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkTold:
    """A known height; `spot` is where it was shot, None where no shot has its name."""

    name: str
    elevation: float
    spot: Place | None


@dataclass(frozen=True, slots=True, kw_only=True)
class GroundTold:
    """All of it. `truck_load` is what a truck takes, loose, None where the job names no truck;
    `highest` how high the highest side stands, from the floor to its top edge.
    """

    cuts: tuple[WallCut, ...]
    topsoil: TopsoilTold | None
    ramps: tuple[RampTold, ...]
    extras: tuple[ExtraTold, ...]
    marks: tuple[MarkTold, ...]
    truck_load: LooseVolume | None
    highest: float
