"""How far and over what ground the fall from a house is measured, and how much is asked."""

from dataclasses import dataclass
from typing import Literal, NamedTuple, TypeAlias

import numpy as np
import shapely

from terrain.base.units import FOOT, LengthUnit
from terrain.lot.design import LotDesign
from terrain.lot.finish import Finished
from terrain.lot.rays import Ray, RayGround, Settling, ground_along, house_rays, own_shares
from terrain.surface.patches import Surface
from terrain.surface.strips import strip_outline

EVEN = 1e-6
"""Length units by which a fall may miss what is asked and still be it: rounding."""

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


class SeenRay(NamedTuple):
    """A ray, the ground along it and what it ends at."""

    ray: Ray
    along: RayGround
    end: End


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


def rays_over(
    ground: Surface, lot: Finished, rule: FallRule, settling: Settling | None = None
) -> list[SeenRay]:
    """Every ray from every wall, as far as nothing blocks it and there is ground under it.

    One that starts off the surveyed ground starts where the ground does.
    """
    design = lot.design
    asked = house_rays(design.house, rule.distance, rule.station_every)
    own = own_shares(lot, asked)
    ended = [_ended(ray, share, design) for ray, share in zip(asked, own, strict=True)]
    rays = [ray for ray, _ in ended]
    seen = []
    for (ray, end), along in zip(ended, ground_along(ground, lot, settling, rays), strict=True):
        last = 1.0 if not len(along.share) else float(along.share[-1])
        seen.append(SeenRay(*_reached(ray, along), end if last >= 1.0 - EVEN else "survey"))
    return seen


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


def _reached(ray: Ray, along: RayGround) -> tuple[Ray, RayGround]:
    """The ray from where there is ground to where there is none any more."""
    if not len(along.share) or (along.share[0] <= EVEN and along.share[-1] >= 1.0 - EVEN):
        return ray, along
    first, last = float(along.share[0]), float(along.share[-1])
    if first <= EVEN:
        first = 0.0
    line = ray.line[0] + np.array([[first], [last]]) * (ray.line[1] - ray.line[0])
    return (
        Ray(wall=ray.wall, station=ray.station, line=line, away=(last - first) * ray.away),
        RayGround(
            share=(along.share - first) / (last - first),
            height=along.height,
            settled=along.settled,
        ),
    )


def needed_along(ray: Ray, rule: FallRule, pads: shapely.Geometry) -> float:
    """The fall that the rule asks along a ray, less over hard surface."""
    line = shapely.LineString(ray.line)
    on_hard = line.intersection(pads).length / line.length
    return float(ray.away * (on_hard * rule.hard_per_run + (1.0 - on_hard) * rule.per_run))
