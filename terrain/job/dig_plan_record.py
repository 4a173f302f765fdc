"""What the question `plan` answers: orders, passes, stands, places for earth, rim corners, stakes.

All positions are in the local frame `frame`, headings in degrees clockwise from north, lengths in
the job's length unit, volumes in its volume unit: bank where a name says so, loose otherwise.
"""

from dataclasses import dataclass
from typing import Literal, TypeAlias

import shapely

from terrain.base.arrays import FloatArray
from terrain.base.frame import LocalFrame
from terrain.base.units import LENGTH_UNITS, LengthUnit
from terrain.job.dig_plan_ground_record import GroundTold
from terrain.ledger.entries import BankVolume, Caution, LooseVolume

Direction: TypeAlias = Literal["clockwise", "counter-clockwise"]
StandKind: TypeAlias = Literal["wall", "rim", "floor", "extra"]
PlaceKind: TypeAlias = Literal["side", "topsoil", "truck"]
StakeKind: TypeAlias = Literal["stand", "facing", "pile", "truck"]
Spot: TypeAlias = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Hours:
    """Machine-hours from the faster and from the slower of the published factors."""

    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineUsed:
    """The excavator the plan is for. `typical` names the figures the job does not give;
    `tail_clear` is kept free beyond the tail on the floor of the dig.
    """

    weight_tonnes: float | None
    reach: float
    digging_depth: float
    track_length: float
    track_width: float
    tail_swing: float
    tail_clear: float
    bucket_width: float
    bucket_capacity: float
    cycle_seconds: float
    step: float
    typical: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SpoilUsed:
    """Where piles may lie: `as_deep` as far off as the cut is deep, the setback at least.

    `typical` names the figures the job does not give.
    """

    setback: float
    repose: float
    height: float
    keep_open: str | None
    as_deep: bool
    typical: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stand:
    """Where the machine stands, numbered from 1 in the order it does.

    Args:
        kind: "wall" in line with a wall on ground not dug, "rim" outside the edge (or on its way
            out over the last corner), "floor" on the floor of the dig, come in by the ramp,
            "extra" over the line of a ramp or trench.
        wall: the wall it works along, or the ramp, pit or trench.
        station: along that wall's outside face, from its first corner as the job draws it.
        spot: the middle of the tracks.
        heading: the way the machine faces, degrees.
        tracks: (4, 2), the footprint of the tracks.
        way: (m, 2), how it comes here from the stand before; the first point is that stand.
    """

    number: int
    kind: StandKind
    wall: str
    station: float
    spot: Spot
    heading: float
    tracks: FloatArray
    way: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Cast:
    """What goes from one stand to one place; `spot` is where the bucket is emptied, `swing` in
    degrees on average (None for topsoil, which is pushed off before). `truck` is the number of the
    truck's place; a truck's cast without one is heaped in reach and loaded from there.
    """

    place: str
    loose: LooseVolume
    buckets: int
    spot: Spot | None
    swing: float | None
    truck: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Face:
    """The face in front of a stand on ground not dug yet.

    Args:
        deep: the deepest below the tracks, `ahead` how near to them it comes about there.
        high: how far above the tracks the ground that is dug there rises, nought where it does not.
        steep: how near it comes, how deep it is and how far off it should be where no stand of the
            plan digs it from far enough; None where all of it is far enough off.
    """

    deep: float
    ahead: float
    high: float
    steep: tuple[float, float, float] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Pass:
    """All that is dug from one stand.

    `station_from` and `station_to` are along the wall's outside face from its first corner as the
    job draws it, where the dug ground begins and ends; `dug` is that ground in plan, `face` that
    towards which it is dug, None on the floor; `sides` are the walls whose sides are cut there.
    """

    stand: Stand
    wall: str
    station_from: float
    station_to: float
    bank: BankVolume
    loose: LooseVolume
    to: tuple[Cast, ...]
    dug: shapely.MultiPolygon
    face: Face | None
    sides: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A place for earth: the strip beside a wall, the topsoil stack, or the truck.

    Args:
        needed: loose, what backfill and grade of that side take (truck: what is to leave).
        cast: loose, what the plan puts there.
        capacity: loose, what it holds within repose and height (truck: all there is).
        already: loose, what lay there before, where the plan starts from a survey of piles.
        ground: in plan, empty for the truck and for a side without room.
        height: of the pile as cast, 0 where nothing lies.
        buckets: how many of the machine's that is.
        kept_open: the side the job keeps free for trucks and forms.
        why: in words, where it holds less than it needs or nothing.
    """

    name: str
    kind: PlaceKind
    wall: str | None
    needed: LooseVolume
    cast: LooseVolume
    capacity: LooseVolume
    already: LooseVolume
    ground: shapely.MultiPolygon
    height: float
    buckets: int
    kept_open: bool
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TruckSpot:
    """Where a truck is loaded, numbered from 1 in the order of digging.

    Args:
        body: the middle of its body, over which buckets are emptied.
        heading: the way it faces and drives out, degrees; it backs in the other way.
        ring: (4, 2), the ground it takes: front left, front right, tail right, tail left.
        way: the ground ahead of it, as far as cut and piles reach.
        stands: the numbers of those that load it there.
        loose: all that is loaded there.
        between: the names of the places for earth in which a gap is left for it.
    """

    number: int
    body: Spot
    heading: float
    ring: FloatArray
    way: shapely.MultiPolygon
    stands: tuple[int, ...]
    loose: LooseVolume
    between: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RimCorner:
    """A corner without standing ground left; `stand` is the number of the one that finishes it,
    None where there is none. `spot` is the corner of the dig line.
    """

    between: tuple[str, str]
    spot: Spot
    inside: bool
    stand: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """Earth pushed by dozer from one place to another when it is needed; `distance` one way."""

    source: str
    target: str
    loose: LooseVolume
    distance: float


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderTold:
    """One order of digging: where it starts, which way round, and what it costs.

    `left_bank` is what can't be dug that way; `nearest_hours` is the same order with every cell
    cast to its nearest side; `why` says in words what sets it apart from the best.
    """

    start_wall: str
    direction: Direction
    rim_corners: int
    rehandled_loose: LooseVolume
    volume_distance: float
    haul_loose: LooseVolume
    hours: Hours
    nearest_hours: Hours
    left_bank: BankVolume
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StakePoint:
    """A point to set out, on the site's grid: a stand, where its machine faces, a pile's corner,
    the tail or the front of a truck.
    """

    point: str
    kind: StakeKind
    of: str
    easting: float
    northing: float
    elevation: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class CardCast:
    """What one wall's stands put to one place: loose volume and bucket loads."""

    place: str
    loose: LooseVolume
    buckets: int


@dataclass(frozen=True, slots=True, kw_only=True)
class CardWall:
    """One wall as the operator sees it, in the order of digging.

    Args:
        face: (2, 2), the outside face of the foundation, first to last corner in digging order.
        line: (2, 2), the dig line at the floor, the same way.
        overdig: from face to dig line.
        floor: elevation to dig to.
        side: run per rise in words, from the floor up.
        top: elevation of existing ground at the middle of the dig line.
        stands: their numbers, in order.
        casts: where this wall's earth goes.
        needed, cast: loose, what the wall's own side takes and gets.
        rim: the names of walls at whose corner with this one it ends at a rim corner.
    """

    wall: str
    face: FloatArray
    line: FloatArray
    length: float
    overdig: float
    floor: float
    side: str
    top: float
    bank: BankVolume
    loose: LooseVolume
    stands: tuple[int, ...]
    casts: tuple[CardCast, ...]
    needed: LooseVolume
    cast: LooseVolume
    rim: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CardTerms:
    """What the operator checks by: how far a floor and a dig line may be off, in the length unit.

    `marks` are known points by name with their elevations, to set the instrument up from; `floor`
    is the elevation that the dig goes down to, pits, ramps and trenches left out.
    """

    floor: float
    floor_tolerance: float
    line_tolerance: float
    marks: tuple[tuple[str, float], ...]

    @property
    def drops(self) -> tuple[float, ...]:
        """How far below each mark the floor is, in their order; negative above it."""
        return tuple(height - self.floor for _, height in self.marks)


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteDrawn:
    """What a plan drawing shows beside the plan. Rings (m, 2); `daylight` is the edge of the cut,
    `extras` are pits, ramps and trenches by name and kind, as far as they are dug.
    """

    corners: FloatArray
    walls: tuple[str, ...]
    dig_line: FloatArray
    daylight: shapely.MultiPolygon
    boundary: FloatArray | None
    house: FloatArray | None
    keeps: tuple[tuple[str, FloatArray], ...]
    buildings: tuple[tuple[str, FloatArray], ...]
    extras: tuple[tuple[str, str, tuple[FloatArray, ...]], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class DigPlan:
    """The whole plan.

    Args:
        orders: best first; `passes` and all below are of the first.
        bank: all that is dug or left, as the ledger has it; `topsoil_bank` of it.
        left_bank: what can't be dug from any stand, with `left_why`, and where it lies: `left`.
        loads: truck loads of `haul_loose`, `loads_dug` of them while digging and the others later
            from piles; None without a truck.
        short_loose: what the sides need beyond all that the dig gives: to be brought in.
        hours: of the best order.
        hoe_hours: what an estimating book's daily rate makes of the same bank volume.
        assumed: sentences on figures taken where the job is silent, and their sources.
        notes: sentences on what the plan does not do.
        start: what the plan starts from, "the design" or "the survey of DATE".
    """

    title: str
    job_file: str
    version: str
    date: str
    start: str
    length_unit: str
    volume_unit: str
    crs: str | None
    frame: LocalFrame
    machine: MachineUsed
    spoil: SpoilUsed
    site: SiteDrawn
    orders: tuple[OrderTold, ...]
    passes: tuple[Pass, ...]
    places: tuple[Place, ...]
    trucks: tuple[TruckSpot, ...]
    rim_corners: tuple[RimCorner, ...]
    moves: tuple[Move, ...]
    bank: BankVolume
    loose: LooseVolume
    topsoil_bank: BankVolume
    left_bank: BankVolume
    left_why: str
    left: shapely.MultiPolygon
    haul_loose: LooseVolume
    loads: int | None
    loads_dug: int | None
    short_loose: LooseVolume
    rehandled_loose: LooseVolume
    volume_distance: float
    hours: Hours
    hoe_hours: float
    stakes: tuple[StakePoint, ...]
    card: tuple[CardWall, ...]
    card_terms: CardTerms
    ground: GroundTold
    cautions: tuple[Caution, ...]
    assumed: tuple[str, ...]
    notes: tuple[str, ...]

    @property
    def unit(self) -> LengthUnit:
        """The job's length unit."""
        return LENGTH_UNITS[self.length_unit]
