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
from terrain.lot.design import LotDesign
from terrain.lot.fall_rays import EVEN as EVEN
from terrain.lot.fall_rays import End as End
from terrain.lot.fall_rays import FallRule as FallRule
from terrain.lot.fall_rays import SeenRay, needed_along, rays_over
from terrain.lot.fall_rays import fall_rule as fall_rule
from terrain.lot.finish import Finished
from terrain.lot.rays import RayGround, Settling
from terrain.surface.patches import Surface

Why: TypeAlias = Literal["fall", "rises", "hard surface", "swale", "settlement"]
"""What fails: the fall at the end, ground above that at the wall, a stretch of hard surface, a
swale along its line, or the fall once the backfill has settled."""


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


def fall_failures(
    ground: Surface, lot: Finished, rule: FallRule, settling: Settling | None = None
) -> tuple[FallFailure, ...]:
    """Every station of every wall where the ground fails the rule, wall by wall along it.

    Stations are at both ends of a wall and between; at a corner that stands out, one more along
    its mitre. Fall along a mitre is measured against the distance from the walls' lines.
    """
    return failures_of(rays_over(ground, lot, rule, settling), lot.design, rule)


def failures_of(rays: list[SeenRay], design: LotDesign, rule: FallRule) -> tuple[FallFailure, ...]:
    """Every one of the rays along which the ground fails, and every swale near the house."""
    pads = shapely.union_all([shapely.Polygon(pad.corners) for pad in design.pads])
    house = shapely.Polygon(design.house)
    found = []
    for seen in rays:
        failure = failure_along(seen, (rule, pads, house))
        if failure is not None:
            found.append(failure)
    return (*found, *level_swales(design, rule))


def failure_along(
    seen: SeenRay, asked: tuple[FallRule, shapely.Geometry, shapely.Geometry]
) -> FallFailure | None:
    """What is wrong along a ray, the first thing of: fall, rise, hard surface, settlement.

    `asked` are the rule, the pads' ground and the house.
    """
    ray, along, end = seen
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
    needed = needed_along(ray, rule, pads)

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


def level_swales(design: LotDesign, rule: FallRule) -> list[FallFailure]:
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
