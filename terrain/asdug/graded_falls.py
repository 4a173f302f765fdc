"""Whether the lot as graded sheds water: falls from every wall with their doubt, and the flow."""

from dataclasses import dataclass, replace
from typing import Literal, TypeAlias

import numpy as np
import shapely
from scipy import ndimage

from terrain.asdug.graded import heights_above
from terrain.base.arrays import FloatArray
from terrain.ledger.doubt import NSSDA_95
from terrain.ledger.ground import Ground
from terrain.ledger.hats import shares_and_slope
from terrain.lot.fall_rays import EVEN, End, FallRule, SeenRay, needed_along, rays_over
from terrain.lot.falls import FallFailure, failure_along, level_swales
from terrain.lot.finish import Finished
from terrain.lot.flow import flow_on
from terrain.lot.flow_record import Flow, FlowLimits
from terrain.lot.grids import heights_at, held_heights, inside_of
from terrain.lot.rays import Settling
from terrain.surface.gridding import Grid
from terrain.surface.patches import Surface, from_polygons
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
        if _is_measured(seen, lot.design.house, rule, gap):
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


def bare_lot(lot: Finished) -> Finished:
    """The lot without the finished surface: any ground laid on it stays as it is."""
    none = from_polygons([], np.zeros((0, 5)), np.zeros(0, dtype=np.int32))
    return replace(lot, lower=none, upper=none)


def _is_measured(seen: SeenRay, house: FloatArray, rule: FallRule, gap: float) -> bool:
    if len(seen.along.share) < 2 or seen.ray.away <= EVEN:
        return False
    start, end = house[seen.ray.wall], house[(seen.ray.wall + 1) % len(house)]
    along = (end - start) / np.hypot(*(end - start))
    from_wall = seen.ray.line[0] - start
    if from_wall[0] * along[1] - from_wall[1] * along[0] > gap:
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
    )


def _fall_doubt(graded: Ground, line: FloatArray) -> float | None:
    """The doubt of the difference in height of two spots, from the shots round each.

    What all elevations share drops out of a difference.
    """
    accuracy = graded.errors.accuracy
    if accuracy is None:
        return None
    pieces = segments_over(graded.surface, np.column_stack([line, np.zeros(2)])[None])
    if not len(pieces):
        return None
    parent = graded.surface.label[pieces.face[[0, -1]]]
    shots = graded.triangles[parent]
    shares, _ = shares_and_slope(graded.points, shots, line)
    weight = np.zeros(len(graded.points))
    np.add.at(weight, shots, shares * np.array([[1.0], [-1.0]]))
    return NSSDA_95 * accuracy * float(np.linalg.norm(weight))


def _failing_swales(graded: Ground, lot: Finished, rule: FallRule) -> list[FallFailure]:
    """Swales near the house that do not fall along their line as graded, where they are shot."""
    swales = []
    for swale in lot.design.swales:
        ends = np.column_stack([swale.line, np.zeros(len(swale.line))])
        swales.append(replace(swale, inverts=-heights_above(ends, graded.surface)))
    seen = level_swales(replace(lot.design, swales=tuple(swales)), rule)
    return [failure for failure in seen if not np.isnan(failure.fall)]


@dataclass(frozen=True, slots=True, kw_only=True)
class FlowAsked:
    """On which cells water is led, what of it is told, how far from the wall ground may begin."""

    grid: Grid
    limits: FlowLimits
    gap: float


def graded_flow(graded: Ground, ground: Surface, lot: Finished, asked: FlowAsked) -> Flow:
    """Ponds, ways out and water that comes back, on the ground as graded.

    Between the wall and the nearest ground, as far as the gap, the ground is taken level. How deep
    water stands `before` is told of the finished ground asked for. `ground` is the existing one.
    """
    grid = asked.grid
    height = heights_at(graded.surface, grid)
    house = inside_of(shapely.Polygon(lot.design.house), grid)
    known = ~np.isnan(height) & ~house
    if known.any() and house.any():
        away, nearest = ndimage.distance_transform_edt(~known, return_indices=True)
        from_house = ndimage.distance_transform_edt(~house)
        filled = ~known & ~house & (np.maximum(away, from_house) * grid.cell <= asked.gap)
        height[filled] = height[nearest[0][filled], nearest[1][filled]]
    height[house] = np.nan
    finished = held_heights(heights_at(ground, grid), lot, grid)
    return flow_on(height, finished, bare_lot(lot), grid, asked.limits)
