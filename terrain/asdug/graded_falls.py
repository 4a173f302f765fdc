"""Whether the lot as graded sheds water: the falls from every wall with their doubt."""

from dataclasses import dataclass, replace
from typing import Literal, TypeAlias

import numpy as np
import shapely

from terrain.asdug.graded import heights_above
from terrain.asdug.graded_flow import bare_lot
from terrain.base.arrays import FloatArray, IntArray
from terrain.ledger.doubt import NSSDA_95
from terrain.ledger.ground import Ground
from terrain.ledger.hats import shares_and_slope
from terrain.lot.fall_rays import EVEN, End, FallRule, SeenRay, needed_along, rays_over
from terrain.lot.falls import FallFailure, failure_along, level_swales
from terrain.lot.finish import Finished
from terrain.lot.rays import Settling
from terrain.surface.segments import segments_over

Verdict: TypeAlias = Literal["falls away", "fails", "within doubt", "not enough shots"]

ENOUGH = 0.5
"""A wall is judged if so large a share of its stations has ground, and a station whose ground
ends for want of shots if it reaches so far of what the rule asks for. Our choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Station:
    """The fall along one ray from a house wall, in length units.

    Args:
        wall: index of the house wall; `station` from its first corner.
        line: (2, 2), from where the ground begins at the wall to where the fall is measured.
        away: how far that is.
        end: what it ends at.
        fall: what there is; `needed` what the rule asks over that distance.
        plus_minus_95: of the fall, from the shots' own scatter; None without an accuracy.
        failure: what fails here, None if nothing does.
        high_away: how far from where the ground begins it is highest.
    """

    wall: int
    station: float
    line: FloatArray
    away: float
    end: End
    fall: float
    needed: float
    plus_minus_95: float | None
    failure: FallFailure | None
    high_away: float

    @property
    def told_fall(self) -> float:
        """The fall, or where something fails what there is of that."""
        return self.fall if self.failure is None else self.failure.fall

    @property
    def told_needed(self) -> float:
        """What is asked, or where something fails what is asked of that."""
        return self.needed if self.failure is None else self.failure.needed

    @property
    def margin(self) -> float:
        """How much more there is than is asked; below nought where anything fails."""
        return self.told_fall - self.told_needed

    @property
    def verdict(self) -> Verdict:
        """Whether it falls as asked, or is nearer to that than its doubt."""
        doubt = EVEN if self.plus_minus_95 is None else self.plus_minus_95
        if self.failure is not None and self.margin < -doubt:
            return "fails"
        if self.plus_minus_95 is not None and abs(self.margin) <= doubt:
            return "within doubt"
        return "falls away"


@dataclass(frozen=True, slots=True, kw_only=True)
class WallFall:
    """How one wall of the house sheds water.

    Args:
        stations: those that are measured, along the wall.
        asked: how many there are with ground to fall on.
        swales: failing swales that are nearest to this wall.
    """

    stations: tuple[Station, ...]
    asked: int
    swales: tuple[FallFailure, ...]

    @property
    def worst(self) -> Station | None:
        """The station with the least margin, None where none is measured."""
        return min(self.stations, key=lambda station: station.margin, default=None)

    @property
    def mean_per_run(self) -> float | None:
        """The mean fall per run of the measured stations."""
        if not self.stations:
            return None
        return sum(s.fall / s.away for s in self.stations) / len(self.stations)

    @property
    def verdict(self) -> Verdict:
        """That of the worst station, if enough of them are measured."""
        told = {station.verdict for station in self.stations}
        if "fails" in told or self.swales:
            return "fails"
        if len(self.stations) < max(1.0, ENOUGH * self.asked):
            return "not enough shots"
        return "within doubt" if "within doubt" in told else "falls away"


def wall_falls(
    graded: Ground, lot: Finished, rule: FallRule, settling: Settling | None, gap: float
) -> tuple[WallFall, ...]:
    """The falls from each wall of the house ring on the ground as graded.

    Args:
        graded: the ground as graded.
        lot: the finished lot; its walls, pads, swales and lot line matter, its heights do not.
        rule: how much fall is asked, and how far.
        settling: how the backfill will settle, None if it won't.
        gap: how far from the wall the ground may begin; the fall is then measured from there.
    """
    bare = bare_lot(lot)
    pads = shapely.union_all([shapely.Polygon(pad.corners) for pad in lot.design.pads])
    house = shapely.Polygon(lot.design.house)
    stations: list[list[Station]] = [[] for _ in lot.design.walls]
    asked = [0] * len(stations)
    for seen in rays_over(graded.surface, bare, rule, settling):
        if seen.ray.away <= EVEN and seen.end != "survey":
            continue  # the lot line or a swale is at the wall
        asked[seen.ray.wall] += 1
        if _is_measured(graded, seen, lot.design.house, (rule, gap)):
            failure = failure_along(seen, (rule, pads, house))
            needed = needed_along(seen.ray, rule, pads)
            stations[seen.ray.wall].append(_station(graded, seen, needed, failure))
    swales = _failing_swales(graded, lot, rule)
    return tuple(
        WallFall(
            stations=tuple(sorted(own, key=lambda s: s.station)),
            asked=asked[wall],
            swales=tuple(s for s in swales if s.wall == wall),
        )
        for wall, own in enumerate(stations)
    )


def _is_measured(
    graded: Ground, seen: SeenRay, house: FloatArray, asked: tuple[FallRule, float]
) -> bool:
    """Whether the ground begins at the wall, on a shot that stands at it, and goes on far enough.

    Where triangles only cut across a corner of the house they come near a wall without one there.
    """
    rule, gap = asked
    if len(seen.along.share) < 2 or seen.ray.away <= EVEN:
        return False
    shots = _shots_under_ends(graded, seen.ray.line)
    if shots is None:
        return False
    outline = shapely.Polygon(house)
    begins = shapely.distance(outline, shapely.Point(seen.ray.line[0]))
    nearest = shapely.distance(outline, shapely.points(graded.points[shots[0], :2])).min()
    if max(float(begins), float(nearest)) > gap:
        return False
    return seen.end != "survey" or seen.ray.away >= ENOUGH * rule.distance


def _station(graded: Ground, seen: SeenRay, needed: float, failure: FallFailure | None) -> Station:
    ray, along, end = seen
    return Station(
        wall=ray.wall,
        station=ray.station,
        line=ray.line,
        away=ray.away,
        end=end,
        fall=float(along.height[0] - along.height[-1]),
        needed=needed,
        plus_minus_95=_fall_doubt(graded, ray.line),
        failure=failure,
        high_away=float(ray.away * along.share[np.argmax(along.height)]),
    )


def _fall_doubt(graded: Ground, line: FloatArray) -> float | None:
    """The doubt of the difference in height of two spots, from the shots round each.

    What all elevations share drops out of a difference.
    """
    accuracy = graded.errors.accuracy
    shots = _shots_under_ends(graded, line)
    if accuracy is None or shots is None:
        return None
    shares, _ = shares_and_slope(graded.points, shots, line)
    weight = np.zeros(len(graded.points))
    np.add.at(weight, shots, shares * np.array([[1.0], [-1.0]]))
    return NSSDA_95 * accuracy * float(np.linalg.norm(weight))


def _shots_under_ends(graded: Ground, line: FloatArray) -> IntArray | None:
    """The shots (2, 3) of the triangles under both ends of a line, None where there is no ground.

    They are found along the line: rounding may put an end just off the ground.
    """
    pieces = segments_over(graded.surface, np.column_stack([line, np.zeros(2)])[None])
    if not len(pieces):
        return None
    return graded.triangles[graded.surface.label[pieces.face[[0, -1]]]]


def _failing_swales(graded: Ground, lot: Finished, rule: FallRule) -> list[FallFailure]:
    """Swales near the house that do not fall along their line as graded, where they are shot."""
    swales = []
    for swale in lot.design.swales:
        ends = np.column_stack([swale.line, np.zeros(len(swale.line))])
        swales.append(replace(swale, inverts=-heights_above(ends, graded.surface)))
    seen = level_swales(replace(lot.design, swales=tuple(swales)), rule)
    return [failure for failure in seen if not np.isnan(failure.fall)]
