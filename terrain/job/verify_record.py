"""What the question `verify` answers, ready for report and export to show.

Lengths in the job's unit, volumes in its volume unit, places on the site's grid.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate, pairwise
from typing import Literal

import shapely

from terrain.asdug.judge import Verdict
from terrain.asdug.walls import Figure
from terrain.base.arrays import FloatArray
from terrain.base.frame import LocalFrame
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
    high_volume: Figure
    low_volume: Figure
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
class WallAmounts:
    """What is dug of one wall beyond its design and what is left of it, in the volume unit.

    Args:
        overdug: outside the design's faces; undercut is not in it.
        underdug: earth still above the design, over the wall's share of the floor too.
        net: dug less design, the wall's share of undercut with it: noise does not bias it.
        noise_over, noise_under: what noise alone adds; None without an accuracy.
        sure_over, sure_under: what is left of both where every face is taken two standard
            deviations the other way; None without an accuracy.
        cost: of digging the excess and filling it, None without prices.
    """

    overdug: Figure
    underdug: Figure
    net: Figure
    noise_over: float | None
    noise_under: float | None
    sure_over: float | None
    sure_under: float | None
    cost: Figure | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Narrow:
    """A spot of a wall that is too narrow: `at` on the design's dig line, to dig out to, `along`
    the wall from its first corner, and by how much the face stands `short` of it.
    """

    at: Spot
    along: float
    short: float


@dataclass(frozen=True, slots=True, kw_only=True)
class WallChecked:
    """One wall as dug; measures are None where too few shots were taken to judge it.

    Args:
        asked: the overdig asked for.
        left_out: shots that stand so far off the line of the others that turn, corners and
            diagonals go without them; least, mean, most and bow are of all.
        batter_asked: run per rise of the design's face, None where it has benches.
        amounts: bank dug beyond the design, left of it, net; None without a ring.
        first_corner: the two walls of the corner that lengths along it are measured from.
        narrow_at: where it is too narrow, in order along the wall.
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
    batter_asked: float | None
    left_out: int
    amounts: WallAmounts | None
    verdict: Verdict
    first_corner: tuple[str, str]
    narrow_at: tuple[Narrow, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class CornerChecked:
    """A corner between two walls; `offset` is how far it lies from the design's."""

    between: tuple[str, str]
    angle_degrees: Figure
    asked_degrees: float
    offset: Figure
    at: Spot


@dataclass(frozen=True, slots=True, kw_only=True)
class DiagonalChecked:
    """The way between two corners, each told by its two walls, as dug and as asked."""

    corners: tuple[str, str]
    dug: Figure
    asked: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Todo:
    """One thing to do, in the order a machine would.

    `what` is trim wall, trim floor, fill, dig (what is not dug yet beside the main hole) or shoot;
    `at` are the spots to stake, each with the elevation asked for there and a few words.
    """

    what: Literal["trim wall", "trim floor", "fill", "dig", "shoot"]
    wall: str | None
    message: str
    volume: float | None
    at: tuple[tuple[float, float, float, str], ...] = ()


def stake_names(todo: Sequence[Todo]) -> list[tuple[str, ...]]:
    """What the spots of each thing to do are called in file, map and list alike: V1, V2, ..."""
    ends = list(accumulate((len(one.at) for one in todo), initial=0))
    return [tuple(f"V{k + 1}" for k in range(a, b)) for a, b in pairwise(ends)]


@dataclass(frozen=True, slots=True, kw_only=True)
class FloorMap:
    """What a map of the hole shows, in the local frame `frame`.

    Args:
        plan: (n, 2), the floor's shots, with `off` (n,) how far above the design each is.
        corners: (k, 2) of the foundation; wall i runs from corner i to the next; `walls` its names.
        asked: the design's dig line; `dug` the toe ring, None without one.
        high, low: where the floor is off by more than the tolerance.
    """

    frame: LocalFrame
    plan: FloatArray
    off: FloatArray
    corners: FloatArray
    walls: tuple[str, ...]
    asked: FloatArray
    dug: FloatArray | None
    high: shapely.MultiPolygon
    low: shapely.MultiPolygon


@dataclass(frozen=True, slots=True, kw_only=True)
class Verified:
    """The whole answer; `undercut` is bank dug below the floor, None without a ring.

    `currency` is None where the job has no prices for what was dug too wide.
    """

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
    currency: str | None
    verdict: Verdict
    todo: tuple[Todo, ...]
    map: FloorMap
    inputs: tuple[InputFile, ...]
    notes: tuple[str, ...]
    cautions: tuple[str, ...]
