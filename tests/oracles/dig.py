"""The dig as faces, from DESIGN's geometry rules: core, overdig, side and footing by wall."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from shapely.geometry import LineString, Polygon

from tests.oracles.faces import Face, level
from tests.oracles.moving import NEAR, Front, advance

SMALL = 1e-12


@dataclass
class Pit:
    """What the oracle needs to know: corners counter-clockwise, overdig and side by wall."""

    corners: np.ndarray
    overdig: list[float]
    side: list[list[tuple[float, float]]]
    floor: float


def steps_to(side: list[tuple[float, float]], height: float) -> list[tuple[float, float]]:
    """The list spelled out until its rise reaches `height`."""
    out: list[tuple[float, float]] = []
    risen = 0.0
    goes_on = side[-1][0] > 0 and side[-1][1] > 0
    while risen <= height:
        for run, rise in side:
            out.append((run, rise))
            risen += rise
        if goes_on:
            run, rise = side[-1]
            factor = (height + 1) / rise
            out.append((run * factor, rise * factor))
            risen += height + 1
    return out


def run_at(side: list[tuple[float, float]], height: float, *, treads: bool) -> float:
    """How far beyond the dig line a wall stands at a height, before or after treads there."""
    run = risen = 0.0
    for step_run, step_rise in steps_to(side, height):
        if step_rise == 0:
            if risen < height - SMALL or (treads and risen <= height + SMALL):
                run += step_run
            continue
        part = min(max((height - risen) / step_rise, 0.0), 1.0)
        run += step_run * part
        risen += step_rise
    return run


def breaks(pit: Pit, height: float) -> list[float]:
    """All heights at which some wall's list has a corner."""
    found = {0.0, height}
    for side in pit.side:
        risen = 0.0
        for _, rise in steps_to(side, height):
            risen += rise
            if risen < height - SMALL:
                found.add(risen)
    merged: list[float] = []
    for value in sorted(found):
        if not merged or value - merged[-1] > SMALL:
            merged.append(value)
    return merged


def dig_corners(pit: Pit) -> np.ndarray:
    """The corners of the dig line, where no wall has left it."""
    front = Front.of(pit.corners)
    return front.points(front.rings[0], front.reach + np.array(pit.overdig))


def side_faces(pit: Pit, height: float) -> list[Face]:
    """What each wall sweeps from the dig line up to `height` above the floor."""
    front = Front.of(dig_corners(pit))
    out: list[Face] = []
    heights = breaks(pit, height)
    for low, high in zip(heights, [*heights[1:], heights[-1]], strict=True):
        tread = np.array(
            [run_at(s, low, treads=True) - run_at(s, low, treads=False) for s in pit.side]
        )
        if tread.any():
            out += _swept(front, tread, 1.0, pit.floor + low, np.zeros(len(tread)))
        if high > low:
            speed = np.array(
                [run_at(s, high, treads=False) - run_at(s, low, treads=True) for s in pit.side]
            ) / (high - low)
            rise = np.divide(1.0, speed, out=np.zeros_like(speed), where=speed > 0)
            out += _swept(front, speed, high - low, pit.floor + low, rise)
    return out


def _swept(front: Front, speed: np.ndarray, duration: float, base: float, rise: Any) -> list[Face]:
    start = front.reach.copy()
    front.swept.clear()
    advance(front, speed, duration)
    out = []
    for wall, quad, _, _ in front.swept:
        polygon = _sound(quad)
        if speed[wall] > 0 and polygon.area > SMALL:
            slope = rise[wall] * front.normal[wall]
            plane = np.array([base - rise[wall] * start[wall], *slope])
            out.append(Face(polygon, plane, (wall, "side")))
    return out


def _sound(quad: np.ndarray) -> Polygon:
    """The polygon of a trapezoid, without corners that are one but for rounding."""
    apart = np.linalg.norm(quad - np.roll(quad, 1, axis=0), axis=1) > NEAR
    corners = quad[apart]
    return Polygon(corners) if len(corners) > 2 else Polygon()


def core_faces(pit: Pit) -> list[Face]:
    """The straight skeleton of the outline: walls move in at unit speed until nothing is left."""
    front = Front.of(pit.corners)
    advance(front, -np.ones(len(pit.corners)), 1e6)
    return [
        Face(_sound(quad), level(pit.floor), (wall, "core"))
        for wall, quad, _, _ in front.swept
        if _sound(quad).area > SMALL
    ]


def overdig_faces(pit: Pit) -> list[Face]:
    """Each wall's strip, from its face to the dig line, corner to corner."""
    inner, outer = pit.corners, dig_corners(pit)
    out = []
    for wall in range(len(inner)):
        after = (wall + 1) % len(inner)
        strip = Polygon([outer[wall], outer[after], inner[after], inner[wall]])
        if pit.overdig[wall] > 0:
            out.append(Face(strip, level(pit.floor), (wall, "overdig")))
    return out


def faces(pit: Pit, height: float) -> list[Face]:
    """The main dig as far up as `height` above its floor."""
    return core_faces(pit) + overdig_faces(pit) + side_faces(pit, height)


def trench(line: list[list[float]], width: float, floor: float) -> list[Face]:
    """A trench with square ends, mitred bends and vertical sides."""
    body = LineString(line).buffer(width / 2, cap_style="flat", join_style="mitre", mitre_limit=1e6)
    return [Face(body, level(floor))]


def ramp(line: list[list[float]], width: float, run_per_rise: float, floor: float) -> list[Face]:
    """A straight ramp that leaves the floor at the first point of its line."""
    body = trench(line, width, floor)[0].polygon
    start, end = np.array(line[0]), np.array(line[1])
    slope = (end - start) / np.linalg.norm(end - start) / run_per_rise
    return [Face(body, np.array([floor - slope @ start, *slope]))]
