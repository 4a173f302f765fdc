"""The wall over whose side a machine may come onto the floor without the ramp, the cut so low."""

from dataclasses import dataclass

import numpy as np
import shapely

from terrain.job.dig_plan_record import DigPlan

SHALLOW = 0.35
"""Metres of cut up to which a side is low enough to ask of; common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ShallowSide:
    """A wall's number, the least and most depth of the cut along it, and whether piles or trucks
    before it leave no gap as wide as the tracks.
    """

    wall: int
    depth: tuple[float, float]
    blocked: bool


def shallow_side(plan: DigPlan) -> ShallowSide | None:
    """The wall wider than the tracks, its cut low all along, that has most room before it.

    None where there is none. A wall whose cut is low along a part of it alone is not taken.
    """
    found = []
    for wall, name in enumerate(plan.site.walls):
        cut = next((each for each in plan.ground.cuts if each.wall == name), None)
        if cut is None or cut.depth[1] * plan.unit.metres > SHALLOW:
            continue
        length, gap = _room(plan, wall, cut.out[1] + plan.machine.track_length)
        if length >= plan.machine.track_width:
            is_blocked = gap < plan.machine.track_width
            found.append((is_blocked, -gap, -length, wall, cut.depth))
    if not found:
        return None
    blocked, _, _, wall, depth = min(found)
    return ShallowSide(wall=wall, depth=depth, blocked=blocked)


def _room(plan: DigPlan, wall: int, far: float) -> tuple[float, float]:
    """A wall's length, and its longest part with nothing before it as far out as that."""
    corners = plan.site.corners
    start, end = corners[wall], corners[(wall + 1) % len(corners)]
    length = float(np.hypot(*(end - start)))
    along = (end - start) / length
    is_left = shapely.LinearRing(corners).is_ccw
    out = np.array([along[1], -along[0]]) if is_left else np.array([-along[1], along[0]])
    strip = shapely.Polygon([start, end, end + far * out, start + far * out])
    lying = [place.ground for place in plan.places if place.height > 0]
    lying += [shapely.Polygon(truck.ring) for truck in plan.trucks]
    spans = [(0.0, 0.0), (length, length)]
    for part in shapely.get_parts(shapely.union_all(lying).intersection(strip)):
        if part.is_empty:
            continue
        stations = (shapely.get_coordinates(part) - start) @ along
        spans.append((float(stations.min()), float(stations.max())))
    reached, gap = 0.0, 0.0
    for low, high in sorted(spans):
        gap, reached = max(gap, low - reached), max(reached, high)
    return length, gap
