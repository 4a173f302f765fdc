"""Whether the finished ground falls away from the house as far and as much as the rule asks.

IRC R401.3 as quoted (SOURCES: secondary): the ground falls 6 in within the first 10 ft; where that
is blocked, 5 % to a drain or swale; a swale within 10 ft falls 2 % along its line; a hard surface
within 10 ft falls 2 % away from the house.
"""

from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np
import shapely

from terrain.base.arrays import FloatArray
from terrain.base.units import FOOT, LengthUnit
from terrain.lot.design import LotDesign
from terrain.lot.finish import Finished
from terrain.lot.rays import Ray, RayGround, Settling, ground_along, house_rays, own_shares
from terrain.surface.patches import Surface
from terrain.surface.strips import strip_outline

EVEN = 1e-6
"""Length units by which a fall may miss what is asked and still be it: rounding."""

Why: TypeAlias = Literal["fall", "rises", "hard surface", "swale", "settlement"]
"""What fails: the fall at the end, ground above that at the wall, a stretch of hard surface, a
swale along its line, or the fall once the backfill has settled."""

End: TypeAlias = Literal["distance", "lot line", "other wall", "swale", "survey"]
"""What a ray ends at: the distance that the rule asks for, what blocks it before, ground to which
another wall is nearer and that falls away from that one, or the end of the surveyed ground."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FallRule:
    """The rule in the job's unit: within `distance`, so much drop per run.

    Rays start every `station_every` of wall; of hard surface less than `least_hard` is no stretch.
    """

    distance: float
    per_run: float
    hard_per_run: float
    swale_per_run: float
    station_every: float
    least_hard: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FallFailure:
    """A spot at a house wall from which water does not run away, lengths in length units.

    Args:
        wall: index of the house wall; `station` from its first corner.
        line: (2, 2) local plan, from the wall to where the fall was measured.
        away: how far its end is from the wall's own line.
        end: what the line ends at.
        fall: what there is; `needed` what is asked for.
        why: what fails.
    """

    wall: int
    station: float
    line: FloatArray
    away: float
    end: End
    fall: float
    needed: float
    why: Why


def fall_rule(unit: LengthUnit) -> FallRule:
    """IRC R401.3 in the job's unit: 0.50 ft in 10 ft, or in round metres 0.15 m in 3 m.

    Rays start every 5 ft or 1.5 m of wall at most, and hard surface counts by itself from 1 ft or
    0.3 m on (our choices).
    """
    foot = 0.3 if unit.is_metric else float(FOOT.metres / unit.metres)
    return FallRule(
        distance=10.0 * foot, per_run=0.05, hard_per_run=0.02, swale_per_run=0.02,
        station_every=5.0 * foot, least_hard=foot,
    )  # fmt: skip


def fall_failures(
    ground: Surface, lot: Finished, rule: FallRule, settling: Settling | None = None
) -> tuple[FallFailure, ...]:
    """Every station of every wall where the ground fails the rule, wall by wall along it.

    Stations are at both ends of a wall and between; at a corner that stands out, one more along
    its mitre. Fall along a mitre is measured against the distance from the walls' lines.
    """
    design = lot.design
    asked = house_rays(design.house, rule.distance, rule.station_every)
    own = own_shares(lot, asked)
    ended = [_ended(ray, share, design) for ray, share in zip(asked, own, strict=True)]
    rays = [ray for ray, _ in ended]
    house = shapely.Polygon(design.house)
    pads = shapely.union_all([shapely.Polygon(pad.corners) for pad in design.pads])
    found = []
    for (ray, end), along in zip(ended, ground_along(ground, lot, settling, rays), strict=True):
        if len(along.share) and along.share[-1] < 1.0 - EVEN:
            ray, along, end = *_shortened(ray, along), "survey"
        failure = _failure(ray, end, along, (rule, pads, house))
        if failure is not None:
            found.append(failure)
    return (*found, *_level_swales(design, rule))


def _ended(ray: Ray, own: float, design: LotDesign) -> tuple[Ray, End]:
    """The ray as far as nothing blocks it, and what ends it; `own` is its own wall's share."""
    line = shapely.LineString(ray.line)
    start, length = shapely.Point(ray.line[0]), line.length
    share = own
    end: End = "distance" if own == 1.0 else "other wall"
    blocks: list[tuple[End, shapely.Geometry]] = [
        ("lot line", line.difference(shapely.Polygon(design.boundary)))
    ]
    for swale in design.swales:
        bottom = shapely.Polygon(strip_outline(swale.line, swale.width))
        blocks.append(("swale", line.intersection(bottom)))
    for name, blocked in blocks:
        if blocked.length > EVEN:
            at = float(shapely.distance(start, blocked)) / length
            if at < share:
                share, end = at, name
    line_end = ray.line[0] + share * (ray.line[1] - ray.line[0])
    ended = np.stack([ray.line[0], line_end])
    return Ray(wall=ray.wall, station=ray.station, line=ended, away=share * ray.away), end


def _shortened(ray: Ray, along: RayGround) -> tuple[Ray, RayGround]:
    """The ray as far as there is ground."""
    reached = float(along.share[-1])
    line = np.stack([ray.line[0], ray.line[0] + reached * (ray.line[1] - ray.line[0])])
    return (
        Ray(wall=ray.wall, station=ray.station, line=line, away=reached * ray.away),
        RayGround(share=along.share / reached, height=along.height, settled=along.settled),
    )


def _failure(
    ray: Ray, end: End, along: RayGround, asked: tuple[FallRule, shapely.Geometry, shapely.Geometry]
) -> FallFailure | None:
    """What is wrong along a ray, the first thing of: fall, rise, hard surface, settlement."""
    rule, pads, house = asked
    if end == "lot line" and ray.away <= EVEN:  # no ground at all to fall on
        return FallFailure(
            wall=ray.wall, station=ray.station, line=ray.line, away=0.0, end=end,
            fall=0.0, needed=rule.distance * rule.per_run, why="fall",
        )  # fmt: skip
    if ray.away <= EVEN or len(along.share) == 0:
        return None
    line = shapely.LineString(ray.line)
    hard = line.intersection(pads)
    on_hard = hard.length / line.length
    needed = ray.away * (on_hard * rule.hard_per_run + (1.0 - on_hard) * rule.per_run)

    def failed(why: Why, fall: float, wanted: float) -> FallFailure:
        return FallFailure(
            wall=ray.wall, station=ray.station, line=ray.line, away=ray.away, end=end,
            fall=fall, needed=wanted, why=why,
        )  # fmt: skip

    fall = float(along.height[0] - along.height[-1])
    if fall < needed - EVEN:
        return failed("fall", fall, needed)
    rise = float(along.height.max() - along.height[0])
    if rise > EVEN:
        return failed("rises", -rise, 0.0)
    for low, high in _hard_stretches(line, hard, rule.least_hard):
        own = _height_after(along, low) - _height_before(along, high)
        wanted = rule.hard_per_run * min((high - low) * ray.away, _gained(line, (low, high), house))
        if own < wanted - EVEN:
            return failed("hard surface", own, wanted)
    settled = float(along.settled[0] - along.settled[-1])
    if settled < needed - EVEN:
        return failed("settlement", settled, needed)
    return None


def _hard_stretches(
    line: shapely.LineString, hard: shapely.Geometry, least: float
) -> list[tuple[float, float]]:
    """Where along a line (shares from, to) hard surface lies, without what it barely clips."""
    stretches = []
    for part in shapely.get_parts(hard):
        if part.length >= least:
            ends = shapely.points(np.array(part.coords)[[0, -1]])
            low, high = sorted(shapely.line_locate_point(line, ends, normalized=True).tolist())
            stretches.append((low, high))
    return stretches


def _gained(
    line: shapely.LineString, stretch: tuple[float, float], house: shapely.Geometry
) -> float:
    """How much further from the house the end of a stretch is than its beginning.

    Along a wall askew to its neighbours that is less than the stretch is long.
    """
    ends = [line.interpolate(share, normalized=True) for share in stretch]
    return float(shapely.distance(house, ends[1]) - shapely.distance(house, ends[0]))


def _height_after(along: RayGround, share: float) -> float:
    """The height just beyond a share of a ray."""
    k = int(np.searchsorted(along.share, share + EVEN / 10)) - 1
    return float(np.interp(share, along.share[k : k + 2], along.height[k : k + 2]))


def _height_before(along: RayGround, share: float) -> float:
    """The height just before a share of a ray."""
    k = int(np.searchsorted(along.share, share - EVEN / 10))
    return float(np.interp(share, along.share[k - 1 : k + 1], along.height[k - 1 : k + 1]))


def _level_swales(design: LotDesign, rule: FallRule) -> list[FallFailure]:
    """Segments of swales near the house that do not fall as asked along their line."""
    found = []
    house = shapely.LinearRing(design.house)
    walls = [
        shapely.LineString([design.house[i], design.house[(i + 1) % len(design.house)]])
        for i in range(len(design.house))
    ]
    near = house.buffer(rule.distance)
    for swale in design.swales:
        for k in range(len(swale.line) - 1):
            segment = shapely.LineString(swale.line[k : k + 2])
            within = segment.intersection(near)
            fall = abs(float(swale.inverts[k + 1] - swale.inverts[k]))
            needed = rule.swale_per_run * segment.length
            if within.length <= EVEN or fall >= needed - EVEN:
                continue
            wall = int(np.argmin(shapely.distance(walls, within)))
            nearest = shapely.shortest_line(walls[wall], within)
            spot = np.array(nearest.coords)
            found.append(
                FallFailure(
                    wall=wall,
                    station=float(walls[wall].project(shapely.Point(spot[0]))),
                    line=spot,
                    away=float(nearest.length),
                    end="swale",
                    fall=fall,
                    needed=needed,
                    why="swale",
                )
            )
    return found
