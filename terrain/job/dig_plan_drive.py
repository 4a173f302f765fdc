"""The drive down a ramp to a stand on the floor, and out by it after the last, as a driver asks."""

from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry
from shapely.ops import nearest_points, substring

from terrain.base.arrays import FloatArray
from terrain.job.dig_plan_record import DigPlan, Direction, Stand
from terrain.job.dig_plan_set_out import SetOut, set_out

ROUND = 60.0
"""Degrees about the house from which on a way goes round it."""

BEND = 22.5
"""Degrees up to which a way goes on as it did: half of what tells two of eight headings apart."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """So far one way: `heading` in degrees."""

    heading: float
    length: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Drive:
    """From the stand before to the top of a ramp and down it.

    Args:
        before: the number of the stand it starts from; None for the first.
        by: the number of the wall by which it leaves the cut; None where it does not.
        undug: whether up to there it is on ground that no stand before has dug.
        stretches: bends and turns shorter than the tracks are wide left out.
        direction: which way round the house; None where it hardly goes round it.
        piles: the places with a pile that it passes within a track's width, in order.
        ramp, down: the ramp, and the heading down it.
        trucks: the numbers of the trucks whose ground or way out it takes.
    """

    before: int | None
    by: int | None
    undug: bool
    stretches: tuple[Stretch, ...]
    direction: Direction | None
    piles: tuple[str, ...]
    ramp: str
    down: float
    trucks: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class WayOut:
    """Up a ramp after the last stand: the heading up it, and the trucks that are in its way."""

    ramp: str
    up: float
    trucks: tuple[int, ...]


def drive_of(plan: DigPlan, told: SetOut) -> Drive | None:
    """How the machine gets to a stand it comes down a ramp to; None for any other stand."""
    stand = told.one.stand
    if told.ramp is None:
        return None
    line, ramp = shapely.LineString(stand.way), _ramp_ground(plan, told.ramp)
    top = line.project(shapely.Point(_first_in(line, ramp)))
    way = substring(line, 0.0, top)
    outside = way.difference(plan.site.daylight)
    numbers = [one.stand.number for one in plan.passes if one.stand.number < stand.number]
    lane = shapely.union_all([way.buffer(plan.machine.track_width / 2, cap_style="flat"), ramp])
    return Drive(
        before=max(numbers, default=None),
        by=_left_by(plan, way, outside),
        undug=_is_undug(plan, stand, way),
        stretches=_stretches(way, plan.machine.track_width),
        direction=_direction(plan, outside),
        piles=_passed(plan, outside),
        ramp=told.ramp,
        down=_down(plan, told.ramp, stand),
        trucks=_in_the_way(plan, lane),
    )


def way_out(plan: DigPlan) -> WayOut | None:
    """How the machine leaves after the last stand, by the ramp it came; None where by none."""
    if not plan.passes or plan.passes[-1].stand.kind != "floor":
        return None
    told = next((one for one in reversed(set_out(plan)) if one.ramp is not None), None)
    if told is None or told.ramp is None:
        return None
    down = _down(plan, told.ramp, told.one.stand)
    return WayOut(
        ramp=told.ramp,
        up=(down + 180.0) % 360.0,
        trucks=_in_the_way(plan, _ramp_ground(plan, told.ramp).buffer(plan.machine.track_length)),
    )


def _ramp_ground(plan: DigPlan, name: str) -> BaseGeometry:
    rings = [ring for own, kind, parts in plan.site.extras if (own, kind) == (name, "ramp")
             for ring in parts]  # fmt: skip
    return shapely.union_all([shapely.Polygon(ring).buffer(0) for ring in rings])


def _first_in(line: shapely.LineString, ground: BaseGeometry) -> FloatArray:
    """Where a way first comes onto some ground."""
    met = shapely.get_coordinates(line.intersection(ground))
    far = [line.project(shapely.Point(point)) for point in met]
    return np.asarray(met[int(np.argmin(far))])


def _left_by(plan: DigPlan, way: shapely.LineString, outside: BaseGeometry) -> int | None:
    """The wall nearest to where a way goes out over the edge of the cut."""
    if outside.is_empty or not plan.site.daylight.covers(shapely.Point(way.coords[0])):
        return None
    edge = shapely.Point(_first_in(way, outside))
    corners = plan.site.corners
    walls = np.stack([corners, np.roll(corners, -1, axis=0)], axis=1)
    return int(np.argmin(shapely.distance(shapely.linestrings(walls), edge)))


def _is_undug(plan: DigPlan, stand: Stand, way: shapely.LineString) -> bool:
    dug = [one.dug for one in plan.passes if one.stand.number < stand.number]
    return float(shapely.union_all(dug).intersection(way).length) < plan.machine.track_width / 2


def _stretches(way: shapely.LineString, least: float) -> tuple[Stretch, ...]:
    points = shapely.get_coordinates(way.simplify(least))
    kept = [points[0]]
    for k in range(1, len(points) - 1):
        turn = _heading(points[k + 1] - points[k]) - _heading(points[k] - kept[-1])
        if abs((turn + 180.0) % 360.0 - 180.0) > BEND:
            kept.append(points[k])
    runs = np.diff([*kept, points[-1]], axis=0)
    return tuple(
        Stretch(heading=_heading(run), length=float(np.hypot(*run)))
        for run in runs
        if np.hypot(*run) > least
    )


def _heading(way: FloatArray) -> float:
    return float(np.degrees(np.arctan2(way[0], way[1])) % 360.0)


def _direction(plan: DigPlan, outside: BaseGeometry) -> Direction | None:
    points = shapely.get_coordinates(outside) - plan.site.corners.mean(axis=0)
    if len(points) < 2:
        return None
    bearings = np.unwrap(np.arctan2(points[:, 1], points[:, 0]))
    swept = float(np.degrees(bearings[-1] - bearings[0]))
    if abs(swept) < ROUND:
        return None
    return "counter-clockwise" if swept > 0 else "clockwise"


def _passed(plan: DigPlan, outside: BaseGeometry) -> tuple[str, ...]:
    points = shapely.get_coordinates(outside)
    if len(points) < 2:
        return ()
    line, lane = shapely.LineString(points), outside.buffer(1.5 * plan.machine.track_width)
    near = [
        (line.project(nearest_points(line, place.ground)[0]), place.name)
        for place in plan.places
        if place.height > 0 and place.ground.intersects(lane)
    ]
    return tuple(name for _, name in sorted(near))


def _down(plan: DigPlan, name: str, stand: Stand) -> float:
    """The heading down a ramp, from its end to its foot; that of the way where it is unknown."""
    told = next((each for each in plan.ground.extras if each.name == name), None)
    if told is None or len(told.spots) < 2:
        return _heading(stand.way[-1] - stand.way[-2])
    return _heading(told.spots[0] - told.spots[-1])


def _in_the_way(plan: DigPlan, lane: BaseGeometry) -> tuple[int, ...]:
    return tuple(
        truck.number
        for truck in plan.trucks
        if shapely.union_all([shapely.Polygon(truck.ring), truck.way]).intersects(lane)
    )
