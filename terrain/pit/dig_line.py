"""The dig line: each wall's outside face shifted out by its overdig, made one sound ring."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from terrain.base.arrays import FloatArray
from terrain.base.errors import DesignError, Fault
from terrain.surface.outline import (
    NEAR_PARALLEL,
    STEP,
    Front,
    Ring,
    are_near_parallel,
    corner_velocity,
    front_through,
    meeting,
    step_between,
)

PLACE_TOLERANCE = 1e-9
"""Lengths below this share of the outline's extent are nought."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DigLine:
    """The ring of a floor; `vanished` walls have left it, `merged` if it was made a union."""

    ring: Ring
    vanished: tuple[int, ...]
    merged: bool


def dig_line(corners: FloatArray, overdigs: Sequence[float], key: str) -> DigLine:
    """The dig line of an outline.

    Args:
        corners: (n, 2) counter-clockwise, outside faces; wall i runs from corner i to the next.
        overdigs: of each wall, >= 0.
        key: the job's key path, for messages.

    Raises:
        DesignError: the shifted lines no longer cover the outline.
    """
    corners = np.asarray(corners, dtype=np.float64)
    tolerance = PLACE_TOLERANCE * float(np.ptp(corners, axis=0).max())
    fronts = _shifted(corners, overdigs)
    vanished: list[int] = []
    lengths = np.hypot(*(np.roll(corners, -1, axis=0) - corners).T)
    while True:
        ring = Ring(fronts=fronts, corners=_meetings(fronts, corners, overdigs))
        gone = _first_to_vanish(ring, lengths, tolerance)
        if gone is None:
            break
        vanished.append(fronts[gone].owner)
        fronts = _without(fronts, gone)
    ring = _facing_forward(ring)
    merged = not LineString([*ring.corners, ring.corners[0]]).is_simple
    if merged:
        ring = _union(ring, tolerance)
    if not Polygon(ring.corners).buffer(10 * tolerance).covers(Polygon(corners)):
        raise DesignError(
            Fault(
                key=key,
                message="with these overdigs the floor no longer covers the foundation: walls "
                f"{', '.join(str(w + 1) for w in sorted(vanished))} vanish from the dig line; "
                "lower the overdig of their neighbours or of the walls themselves",
            )
        )
    return DigLine(ring=ring, vanished=tuple(sorted(vanished)), merged=merged)


def _shifted(corners: FloatArray, overdigs: Sequence[float]) -> list[Front]:
    """The walls' lines shifted out, with a square step where collinear neighbours differ."""
    ends = np.roll(corners, -1, axis=0)
    fronts = []
    for i, (start, end) in enumerate(zip(corners, ends, strict=True)):
        front = front_through(start, end, i)
        front.offset += overdigs[i]
        front.speed = overdigs[i]  # the shift as a move of one unit of time, for corner_velocity
        fronts.append(front)
    stepped = []
    for i, front in enumerate(fronts):
        before = fronts[i - 1]
        if overdigs[i - 1] != overdigs[i] and are_near_parallel(before, front):
            stepped.append(step_between(before, front, corners[i]))
        stepped.append(front)
    return stepped


def _meetings(fronts: list[Front], corners: FloatArray, overdigs: Sequence[float]) -> FloatArray:
    """The corners of the shifted lines, front i's start at i."""
    placed = []
    for before, front in zip([fronts[-1], *fronts[:-1]], fronts, strict=True):
        own = front.owner if front.owner != STEP else before.owner + 1
        near = corners[own % len(corners)]
        if before.speed == front.speed and are_near_parallel(before, front):
            near = near + corner_velocity(before, front)
        placed.append(meeting(before, front, near))
    return np.array(placed)


def _first_to_vanish(ring: Ring, lengths: FloatArray, tolerance: float) -> int | None:
    """The index of the front that would shrink to nought first as the lines move out."""
    soonest, first = None, np.inf
    for i, (front, start, end) in enumerate(zip(ring.fronts, ring.corners, ring.ends, strict=True)):
        if front.owner == STEP:
            continue
        left = float(front.direction @ (end - start))
        was = float(lengths[front.owner])
        if left <= tolerance and was / (was - left) < first:
            soonest, first = i, was / (was - left)
    return soonest


def _without(fronts: list[Front], gone: int) -> list[Front]:
    """The fronts less one; between parallel neighbours its line stays as a square step."""
    before, after = fronts[gone - 1], fronts[(gone + 1) % len(fronts)]
    kept = fronts[:gone] + fronts[gone + 1 :]
    if abs(float(before.normal @ after.normal)) > NEAR_PARALLEL:
        line = fronts[gone]
        kept.insert(gone, Front(owner=STEP, normal=line.normal, offset=line.offset))
    return kept


def _facing_forward(ring: Ring) -> Ring:
    """The ring with every step facing the way its corners run."""
    fronts = []
    for front, start, end in zip(ring.fronts, ring.corners, ring.ends, strict=True):
        if front.owner == STEP and float(front.direction @ (end - start)) < 0:
            front = Front(owner=STEP, normal=-front.normal, offset=-front.offset)
        fronts.append(front)
    return Ring(fronts=fronts, corners=ring.corners)


def _union(ring: Ring, tolerance: float) -> Ring:
    """The outer ring of all ground the crossing ring goes round at least once."""
    line = LineString([*ring.corners, ring.corners[0]])
    cells = shapely.polygonize([shapely.unary_union(line)]).geoms
    inside = [c for c in cells if _winding(ring.corners, c.representative_point()) > 0]
    outer = shapely.unary_union(inside)
    if outer.geom_type != "Polygon":
        raise DesignError("the dig line falls apart into several rings; check the overdigs")
    around = np.array(shapely.remove_repeated_points(outer.exterior, tolerance).coords)[:-1]
    if not outer.exterior.is_ccw:
        around = around[::-1]
    fronts: list[Front] = []
    near: list[FloatArray] = []
    for start, end in zip(around, np.roll(around, -1, axis=0), strict=True):
        front = _front_at(ring, (start + end) / 2, end - start)
        if not fronts or fronts[-1] is not front:
            fronts.append(front)
            near.append(start)
    if len(fronts) > 1 and fronts[0] is fronts[-1]:
        fronts.pop()
        near[0] = near.pop()
    own = [f.copy() if f in fronts[:i] else f for i, f in enumerate(fronts)]
    befores = [own[-1], *own[:-1]]
    corners = [meeting(b, f, p) for b, f, p in zip(befores, own, near, strict=True)]
    return Ring(fronts=own, corners=np.array(corners))


def _winding(corners: FloatArray, point: shapely.Point) -> int:
    """How often a closed line goes round a point, counter-clockwise positive."""
    rel = corners - np.array([point.x, point.y])
    nxt = np.roll(rel, -1, axis=0)
    cross = rel[:, 0] * nxt[:, 1] - rel[:, 1] * nxt[:, 0]
    up = (rel[:, 1] <= 0) & (nxt[:, 1] > 0) & (cross > 0)
    down = (rel[:, 1] > 0) & (nxt[:, 1] <= 0) & (cross < 0)
    return int(up.sum() - down.sum())


def _front_at(ring: Ring, middle: FloatArray, along: FloatArray) -> Front:
    """The front of a ring on which a piece of its union lies."""
    best, least = ring.fronts[0], np.inf
    for front, start, end in zip(ring.fronts, ring.corners, ring.ends, strict=True):
        if float(front.direction @ along) <= 0:
            continue
        span = end - start
        if not span.any():
            continue
        share = float(np.clip((middle - start) @ span / (span @ span), 0.0, 1.0))
        away = float(np.hypot(*(middle - start - share * span)))
        if away < least:
            best, least = front, away
    return best
