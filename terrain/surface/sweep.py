"""The moving outline: what each front sweeps as the outline goes out height by height.

A weighted straight skeleton in the plane, taken one move at a time. Between two events every
corner moves in a straight line, so a front sweeps a trapezoid with one plane.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from terrain.base.arrays import FloatArray
from terrain.base.errors import SurfaceError
from terrain.surface.events import time_to_next_event
from terrain.surface.outline import (
    STEP,
    Front,
    Ring,
    are_near_parallel,
    copied,
    outline_area,
    ring_area,
    ring_velocities,
    step_between,
)
from terrain.surface.patches import Surface, from_polygons
from terrain.surface.relink import relink

PLACE_TOLERANCE = 1e-10
"""Two corners within this share of the outline's extent are in one place."""

SHORTEST_EDGE = 1e-12
"""A trapezoid's edge below this share of its extent is rounding: its direction means nothing."""

WIDEST = 5
"""Powers of ten by which the place tolerance may grow where fronts crowd in one spot."""

AREA_TOLERANCE = 1e-9


@dataclass(slots=True)
class Swept:
    """The trapezoids swept so far: convex counter-clockwise polygons, planes, owners."""

    polygons: list[FloatArray] = field(default_factory=list)
    planes: list[tuple[float, float, float, float, float]] = field(default_factory=list)
    owners: list[int] = field(default_factory=list)

    def surface(self) -> Surface:
        """The trapezoids as a surface labelled by owner."""
        return from_polygons(
            self.polygons,
            np.array(self.planes, dtype=np.float64),
            np.array(self.owners, dtype=np.int32),
        )

    def area(self) -> float:
        """The plan area swept."""
        return float(sum(ring_area(p) for p in self.polygons))


@dataclass(frozen=True, slots=True)
class _Birth:
    """When and where a front took up the neighbours it has now."""

    time: float
    start: FloatArray
    end: FloatArray
    before: Front
    after: Front


def advance(
    rings: Sequence[Ring], runs: Sequence[float], low: float, rise: float, swept: Swept
) -> list[Ring]:
    """Move the outline once: each owner's fronts go out by its run while the height goes up.

    Args:
        rings: the outline at height `low`; it is left as it is.
        runs: the run of each owner in this move, >= 0; steps stay.
        low: the height at the start.
        rise: how much the height grows, >= 0; nought for a tread.
        swept: takes the trapezoids.

    Returns:
        The outline at `low + rise`; empty when all of it has vanished.

    Raises:
        SurfaceError: the outline could not be followed; what it swept is checked against what
            it grew by.
    """
    moving = copied(rings)
    for front in (f for r in moving for f in r.fronts):
        front.speed = float(runs[front.owner]) if front.owner != STEP else 0.0
    area_before, swept_before = outline_area(moving), swept.area()
    tolerance = PLACE_TOLERANCE * max(_extent(moving), max(runs, default=0.0))
    moving = _with_steps(relink(moving, tolerance))
    births = _births(moving, 0.0, {})
    now = 0.0
    events_allowed = 50 * sum(len(r.fronts) for r in moving) + 200
    stuck = 0
    for _ in range(events_allowed):
        if not moving or now >= 1.0:
            break
        velocities = [ring_velocities(r) for r in moving]
        ahead = min(time_to_next_event(moving, velocities, tolerance), 1.0 - now)
        for ring, velocity in zip(moving, velocities, strict=True):
            ring.corners = ring.corners + velocity * ahead
            for front in ring.fronts:
                front.offset += front.speed * ahead
        now = 1.0 if ahead == 1.0 - now else now + ahead
        # where many fronts meet in one spot, rounding can leave corners just too far apart to be
        # one: an event that changed nothing is looked at again with a wider eye
        stuck = stuck + 1 if ahead == 0.0 else 0
        reach = tolerance * 10.0 ** min(max(stuck - 1, 0), WIDEST)
        after = moving if now >= 1.0 else _with_steps(relink(moving, reach))
        kept = {} if now >= 1.0 else _kept(after, births)
        for ring in moving:
            for front, start, end in zip(ring.fronts, ring.corners, ring.ends, strict=True):
                if id(front) not in kept:
                    _sweep(front, births[id(front)], (start, end), (low, rise), swept)
        births = _births(after, now, kept)
        moving = after
    else:
        raise SurfaceError("the moving outline did not come to rest; please report this job")
    grown = outline_area(moving) - area_before
    if abs(swept.area() - swept_before - grown) > AREA_TOLERANCE * (abs(area_before) + abs(grown)):
        raise SurfaceError("the moving outline lost its way; please report this job")
    return moving


def _extent(rings: Sequence[Ring]) -> float:
    corners = np.concatenate([r.corners for r in rings]) if rings else np.zeros((1, 2))
    return float(np.ptp(corners, axis=0).max())


def _with_steps(rings: list[Ring]) -> list[Ring]:
    """The rings with a step between near-parallel neighbours that are about to part."""
    settled = []
    for ring in rings:
        fronts: list[Front] = []
        corners: list[FloatArray] = []
        befores = [ring.fronts[-1], *ring.fronts[:-1]]
        for before, front, corner in zip(befores, ring.fronts, ring.corners, strict=True):
            if before.speed != front.speed and are_near_parallel(before, front):
                fronts.append(step_between(before, front, corner))
                corners.append(corner)
            fronts.append(front)
            corners.append(corner)
        settled.append(Ring(fronts=fronts, corners=np.array(corners)))
    return settled


def _neighbours(rings: Sequence[Ring]) -> dict[int, tuple[Front, Front]]:
    return {
        id(f): (ring.fronts[i - 1], ring.fronts[(i + 1) % len(ring.fronts)])
        for ring in rings
        for i, f in enumerate(ring.fronts)
    }


def _kept(after: Sequence[Ring], births: dict[int, _Birth]) -> dict[int, _Birth]:
    """The births of the fronts that keep both their neighbours."""
    return {
        key: births[key]
        for key, (one, other) in _neighbours(after).items()
        if key in births and births[key].before is one and births[key].after is other
    }


def _births(rings: Sequence[Ring], now: float, kept: dict[int, _Birth]) -> dict[int, _Birth]:
    """Every front's birth: the one it keeps, or now."""
    births = {}
    neighbours = _neighbours(rings)
    for ring in rings:
        for front, start, end in zip(ring.fronts, ring.corners, ring.ends, strict=True):
            births[id(front)] = kept.get(id(front)) or _Birth(
                now, start, end, *neighbours[id(front)]
            )
    return births


def _sweep(
    front: Front,
    birth: _Birth,
    now: tuple[FloatArray, FloatArray],
    height: tuple[float, float],
    swept: Swept,
) -> None:
    """Add the trapezoid between a front's birth and where it stands now."""
    if front.speed == 0.0:
        return
    polygon = [now[0], now[1], birth.end, birth.start]
    shortest = SHORTEST_EDGE * max(float(np.abs(p - birth.start).max()) for p in polygon)
    corners = [
        p for i, p in enumerate(polygon) if float(np.abs(p - polygon[i - 1]).max()) > shortest
    ]
    if len(corners) < 3:
        return
    low, rise = height
    slope = rise / front.speed
    plane = (
        float(birth.start[0]),
        float(birth.start[1]),
        low + rise * birth.time,
        float(front.normal[0]) * slope,
        float(front.normal[1]) * slope,
    )
    for convex in _convex(np.array(corners)):
        swept.polygons.append(convex)
        swept.planes.append(plane)
        swept.owners.append(front.owner)


def _convex(corners: FloatArray) -> list[FloatArray]:
    """A trapezoid as it is, or cut in two where rounding has bent it in at a corner.

    Long fronts that close on a ridge at next to no angle can leave such a one, and an overlay cuts
    by each edge's line: it would lose what lies beyond a corner that bends in.
    """
    one = np.roll(corners, -1, axis=0) - corners
    two = np.roll(one, -1, axis=0)
    turn = np.roll(one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0], 1)
    bent = int(np.argmin(turn))
    if len(corners) < 4 or turn[bent] >= 0:
        return [corners]
    a, b, c, d = np.roll(corners, -bent, axis=0)
    return [np.array([a, b, c]), np.array([a, c, d])]
