"""Ramps, pits and trenches as one sets them out, and where they break a wall's painted edge."""

from dataclasses import dataclass

import numpy as np
import shapely

from terrain.base.arrays import FloatArray
from terrain.job.dig_plan_ground_record import ExtraTold
from terrain.job.dig_plan_record import DigPlan
from terrain.job.dig_plan_set_out import Tape, two_tapes

LEAST = 0.01
"""Length units along an edge below which a break of its paint is none."""

BESIDE = 0.25
"""Share of its width by which a ramp's foot may lie off the wall it leads in through."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StakeOut:
    """One spot: by two corners, the way off their line, its floor and how deep that is."""

    tapes: tuple[Tape, Tape]
    side: float
    floor: float
    depth: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Mouth:
    """Where a ramp's middle leaves a wall's line: so far from a corner, `heading` that way."""

    wall: int
    corner: int
    along: float
    heading: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ExtraOut:
    """A ramp, pit or trench as set out; `length` is along its middle."""

    told: ExtraTold
    stakes: tuple[StakeOut, ...]
    mouth: Mouth | None
    length: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Break:
    """Where a wall's painted edge stops for `name`: from and to, from the wall's first corner."""

    name: str
    low: float
    high: float


def extras_out(plan: DigPlan) -> tuple[ExtraOut, ...]:
    """All of them, in the order of the record."""
    found = []
    for told in plan.ground.extras:
        placed = [two_tapes(plan, spot) for spot in told.spots]
        found.append(
            ExtraOut(
                told=told,
                stakes=tuple(
                    StakeOut(tapes=tapes, side=side, floor=float(low), depth=float(high - low))
                    for (tapes, side), low, high in zip(
                        placed, told.floor, told.ground, strict=True
                    )
                ),
                mouth=_mouth(plan, told) if told.kind == "ramp" else None,
                length=float(np.hypot(*np.diff(told.spots, axis=0).T).sum()),
            )
        )
    return tuple(found)


def _mouth(plan: DigPlan, told: ExtraTold) -> Mouth | None:
    """Where a ramp's middle crosses a wall's line, or begins on it; None if it does neither.

    Of walls it crosses the last one, else the nearest one beside its foot.
    """
    if len(told.spots) < 2:
        return None
    corners, line = plan.site.corners, shapely.LineString(told.spots)
    sides = [
        shapely.LineString([start, end])
        for start, end in zip(corners, np.roll(corners, -1, axis=0), strict=True)
    ]
    spots = [_last_met(line, side) for side in sides]

    def off(wall: int) -> tuple[float, float]:
        away = float(line.distance(sides[wall]))
        return (away if away > LEAST else 0.0), -float(line.project(shapely.Point(spots[wall])))

    wall = min(range(len(corners)), key=off)
    if off(wall)[0] > BESIDE * (told.width or 0.0):
        return None
    start, end = corners[wall], corners[(wall + 1) % len(corners)]
    length = float(np.hypot(*(end - start)))
    station = float((spots[wall] - start) @ (end - start)) / length
    first = station <= length / 2
    way = (end - start) if first else (start - end)
    return Mouth(
        wall=wall,
        corner=wall if first else (wall + 1) % len(corners),
        along=station if first else length - station,
        heading=float(np.degrees(np.arctan2(way[0], way[1])) % 360.0),
    )


def _last_met(line: shapely.LineString, side: shapely.LineString) -> FloatArray:
    """(2,) the last spot of a line on a wall's line; its first spot where it meets none."""
    met: FloatArray = shapely.get_coordinates(line.intersection(side))
    if not len(met):
        met = shapely.get_coordinates(line)[:1]
    last: FloatArray = met[int(np.argmax([line.project(shapely.Point(spot)) for spot in met]))]
    return last


def breaks_of(plan: DigPlan, wall: int) -> tuple[Break, ...]:
    """Where pits, ramps and trenches break the painted edge along a wall, in its direction."""
    edge = _edge(plan, wall)
    if edge is None:
        return ()
    corners = plan.site.corners
    start, end = corners[wall], corners[(wall + 1) % len(corners)]
    length = float(np.hypot(*(end - start)))
    along, line = (end - start) / length, shapely.LineString(edge)
    found = []
    for extra in plan.ground.extras:
        for part in shapely.get_parts(line.intersection(extra.dug)):
            low, high = _span(part, start, along)
            if high - low > LEAST:
                found.append(Break(name=extra.name, low=max(low, 0.0), high=min(high, length)))
    return tuple(sorted(found, key=lambda each: each.low))


def _edge(plan: DigPlan, wall: int) -> FloatArray | None:
    """(2, 2) the painted edge along a wall, in its direction; None where nothing is cut there."""
    corners, name = plan.site.corners, plan.site.walls[wall]
    cut = next((each for each in plan.ground.cuts if each.wall == name), None)
    if cut is None:
        return None
    start, end = corners[wall], corners[(wall + 1) % len(corners)]
    along = (end - start) / np.hypot(*(end - start))
    is_left = shapely.LinearRing(corners).is_ccw
    outward = np.array([along[1], -along[0]]) if is_left else np.array([-along[1], along[0]])
    return np.array([start + cut.ends[0] * outward, end + cut.ends[1] * outward])


def inside_paint(plan: DigPlan, told: ExtraTold) -> bool:
    """Whether it reaches out of the house and all of it yet lies within the painted edges."""
    corners = plan.site.corners
    house = shapely.Polygon(corners)
    if house.buffer(LEAST).covers(told.dug):
        return False
    ground = [house]
    for wall in range(len(corners)):
        edge = _edge(plan, wall)
        if edge is not None:
            line = [corners[wall], corners[(wall + 1) % len(corners)]]
            ground.append(shapely.Polygon([*line, *edge[::-1]]).buffer(0.0))
    return bool(shapely.union_all(ground).buffer(LEAST).covers(told.dug))


def _span(part: shapely.Geometry, start: FloatArray, along: FloatArray) -> tuple[float, float]:
    stations = (shapely.get_coordinates(part) - start) @ along
    return (float(stations.min()), float(stations.max())) if len(stations) else (0.0, 0.0)
