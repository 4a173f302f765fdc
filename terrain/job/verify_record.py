"""What the question `verify` answers, ready for report and export to show.

Lengths in the job's unit, volumes in its volume unit, places on the site's grid.
"""

from dataclasses import dataclass
from typing import Literal

from terrain.asdug.judge import Verdict
from terrain.asdug.walls import Figure
from terrain.base.arrays import FloatArray
from terrain.job.answer import InputFile

Spot = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class FloorChecked:
    """The floor against the design's.

    Args:
        area: plan area judged.
        within: its share within the tolerance.
        high_volume, low_volume: bank above the design (to trim), and below it (to fill).
        sure_high, sure_low: of them what lies off by more than two standard deviations of a shot.
        high_area, low_area: plan area off by more than the tolerance.
        worst_high, worst_low: the highest and the lowest shot, high positive.
        high_at, low_at: where they are, None if none is high or low.
        thin_cut: what noise alone shows high, and as much low; None without an accuracy.
        shots: how many shots of the floor.
    """

    area: float
    within: float
    high_volume: float
    low_volume: float
    sure_high: float
    sure_low: float
    high_area: float
    low_area: float
    worst_high: float
    worst_low: float
    high_at: Spot | None
    low_at: Spot | None
    thin_cut: float | None
    shots: int


@dataclass(frozen=True, slots=True, kw_only=True)
class WallChecked:
    """One wall as dug; measures are None where too few shots were taken to judge it.

    Args:
        asked: the overdig asked for.
        overdug, underdug: bank dug beyond the design, left of it; None without a ring.
        excess_backfill: compacted, what the overdug side takes more to fill; None without a ring.
        excess_cost: of digging and filling it, where the job has prices; None without.
    """

    wall: str
    shots: int
    asked: float
    least: Figure | None
    mean: Figure | None
    most: Figure | None
    turn_degrees: Figure | None
    bow: Figure | None
    bow_at: float | None
    batter: Figure | None
    overdug: Figure | None
    underdug: Figure | None
    excess_backfill: float | None
    excess_cost: float | None
    verdict: Verdict
    narrow_at: tuple[Spot, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class CornerChecked:
    """A corner between two walls; `offset` is how far it lies from the design's."""

    between: tuple[str, str]
    angle_degrees: float
    asked_degrees: float
    offset: float
    at: Spot


@dataclass(frozen=True, slots=True, kw_only=True)
class DiagonalChecked:
    """The way between two corners, each told by its two walls, as dug and as asked."""

    corners: tuple[str, str]
    dug: float
    asked: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Todo:
    """One thing to do, in the order a machine would.

    `what` is trim wall, trim floor, fill or shoot; `at` are the spots to stake, each with the
    elevation asked for there (None along a wall).
    """

    what: Literal["trim wall", "trim floor", "fill", "shoot"]
    wall: str | None
    message: str
    volume: float | None
    at: tuple[tuple[float, float, float | None, str], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class FloorMap:
    """The floor's shots for a map: places (n, 2), how far above the design (n,), rings of plan."""

    plan: FloatArray
    off: FloatArray
    outline: FloatArray
    asked: FloatArray
    dug: FloatArray | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Verified:
    """The whole answer; `undercut` is bank dug below the floor, None without a ring."""

    title: str
    date: str
    length_unit: str
    volume_unit: str
    floor_tolerance: float
    line_tolerance: float
    floor: FloorChecked | None
    walls: tuple[WallChecked, ...]
    corners: tuple[CornerChecked, ...]
    diagonals: tuple[DiagonalChecked, ...]
    undercut: Figure | None
    verdict: Verdict
    todo: tuple[Todo, ...]
    map: FloorMap
    inputs: tuple[InputFile, ...]
    notes: tuple[str, ...]
    cautions: tuple[str, ...]
