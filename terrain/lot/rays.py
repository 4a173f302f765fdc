"""Ground along lines away from the house: finished, and finished after the backfill has settled."""

from dataclasses import dataclass

import numpy as np

from terrain.base.arrays import BoolArray, FloatArray
from terrain.lot.finish import Finished
from terrain.surface.patches import Surface
from terrain.surface.segments import SegmentPieces, segments_over

SAME_SHARE = 1e-12
"""Spots nearer than this share of a ray are one."""


NUDGE = 1e-6
"""Length units by which rays stand beside their stations, off the edges of faces that people draw
at corners and at whole numbers: along an edge there may be no face at all, for rounding."""

SHARPEST_MITRE = 2.0
"""A corner whose mitre is longer than this many times its offset gets no ray of its own."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ray:
    """A line in plan away from a house wall.

    Args:
        wall: index of the house wall.
        station: from the wall's first corner to where the ray begins.
        line: (2, 2) from the wall outward.
        away: how far its end is from the line of the wall; along the mitre of a corner that is
            less than the ray is long.
    """

    wall: int
    station: float
    line: FloatArray
    away: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Settling:
    """Earth put into the dig settles by `share` of its depth down to the `dig`."""

    dig: Surface
    share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RayGround:
    """Finished ground along a ray, `share` (n,) of it from 0 at the wall, rising.

    `height` (n,) is finished ground, `settled` (n,) the same after the backfill has settled.
    Where the ground jumps a share stands there twice.
    """

    share: FloatArray
    height: FloatArray
    settled: FloatArray


def house_rays(house: FloatArray, distance: float, station_every: float) -> list[Ray]:
    """Rays square to every wall of a ring (n, 2), and along mitres of corners that stand out.

    They reach `distance` from the walls and stand `station_every` apart at most, two spaces a
    wall at least. At a corner that stands in there is none: there the walls' own rays meet.
    """
    count, rays = len(house), []
    steps = np.roll(house, -1, axis=0) - house
    lengths = np.hypot(steps[:, 0], steps[:, 1])
    along = steps / lengths[:, None]
    outward = np.column_stack([along[:, 1], -along[:, 0]])
    before = np.roll(along, 1, axis=0)
    turns = before[:, 0] * along[:, 1] - before[:, 1] * along[:, 0]
    for wall in range(count):
        stands_out = turns[wall] > 0, turns[(wall + 1) % count] > 0
        spaces = max(2, int(np.ceil(lengths[wall] / station_every)))
        first, last = int(not stands_out[0]), spaces + int(stands_out[1])
        for k in range(first, last):
            share = k / spaces
            start = house[wall] + (share * (lengths[wall] - 3 * NUDGE) + NUDGE) * along[wall]
            line = np.stack([start, start + distance * outward[wall]])
            station = float(share * lengths[wall])
            rays.append(Ray(wall=wall, station=station, line=line, away=distance))
        both = outward[wall - 1] + outward[wall]
        mitre = 2.0 * both / float(both @ both) if both @ both > 0 else both
        if stands_out[0] and 1.0 + NUDGE < np.hypot(*mitre) <= SHARPEST_MITRE:
            start = house[wall] + NUDGE * along[wall]
            line = np.stack([start, start + distance * mitre])
            rays.append(Ray(wall=wall, station=0.0, line=line, away=distance))
    return rays


def own_shares(lot: Finished, rays: list[Ray]) -> list[float]:
    """How much of each ray, from its wall, lies on ground to which no other wall is nearer."""
    lines = np.array([ray.line for ray in rays]).reshape(-1, 2, 2)
    ends = np.concatenate([lines, np.zeros((len(lines), 2, 1))], axis=2)
    pieces = segments_over(lot.owners, ends)
    wall = np.array([ray.wall for ray in rays])
    length = np.hypot(*(lines[:, 1] - lines[:, 0]).T)
    shares = np.ones(len(rays))
    other = lot.owners.label[pieces.face] != wall[pieces.segment]
    other &= (pieces.end - pieces.start) * length[pieces.segment] > NUDGE
    np.minimum.at(shares, pieces.segment[other], pieces.start[other])
    return [float(share) for share in shares]


def ground_along(
    ground: Surface, lot: Finished, settling: Settling | None, rays: list[Ray]
) -> list[RayGround]:
    """The finished ground along every ray, as far as the survey reaches, corner by corner."""
    lines = np.array([ray.line for ray in rays]).reshape(-1, 2, 2)
    ends = np.concatenate([lines, np.zeros((len(lines), 2, 1))], axis=2)
    surfaces = [ground, lot.lower, lot.upper]
    if settling is not None:
        surfaces.append(settling.dig)
    pieces = [segments_over(surface, ends) for surface in surfaces]
    share = 0.0 if settling is None else settling.share
    return [_along([_of_ray(p, k) for p in pieces], share) for k in range(len(rays))]


def _of_ray(pieces: SegmentPieces, ray: int) -> FloatArray:
    """A ray's pieces as rows (n, 4): start, end and the heights there."""
    first, last = np.searchsorted(pieces.segment, [ray, ray + 1])
    own = slice(first, last)
    return np.column_stack(
        [
            pieces.start[own],
            pieces.end[own],
            -pieces.depth_start[own],
            -pieces.depth_end[own],
        ]
    )


def _along(surfaces: list[FloatArray], settles: float) -> RayGround:
    """Existing ground held by the limits, stretch by stretch between all ends of pieces."""
    breaks = np.unique(np.concatenate([s[:, :2].ravel() for s in surfaces]))
    if len(breaks):
        breaks = breaks[np.concatenate([[True], np.diff(breaks) > SAME_SHARE])]
    ends = np.column_stack([breaks[:-1], breaks[1:]])
    existing, lower, upper, *dug = (_heights(s, ends) for s in surfaces)
    shares, heights, after = [], [], []
    for k in range(len(ends)):
        if np.isnan(existing[k]).any():
            continue
        at = _bends(existing[k], lower[k], upper[k])
        here = _between(existing[k], at)
        held = here
        if not np.isnan(lower[k]).any():
            held = np.minimum(np.maximum(here, _between(lower[k], at)), _between(upper[k], at))
        sunk = np.zeros(len(at))
        if dug and not np.isnan(dug[0][k]).any():
            bottom = _between(dug[0][k], at)
            sunk = np.where(here > bottom, np.maximum(held - bottom, 0.0), 0.0) * settles
        shares.append(_between(ends[k], at))
        heights.append(held)
        after.append(held - sunk)
    if not shares:
        return RayGround(share=np.zeros(0), height=np.zeros(0), settled=np.zeros(0))
    return RayGround(
        share=np.concatenate(shares),
        height=np.concatenate(heights),
        settled=np.concatenate(after),
    )


def _heights(pieces: FloatArray, ends: FloatArray) -> FloatArray:
    """Heights (n, 2) of a surface at both ends of stretches (n, 2), NaN where it is not.

    Of pieces that lie over one another along a common edge the lower holds.
    """
    heights = np.full(ends.shape, np.nan)
    middle = ends.mean(axis=1)
    for start, end, first, last in pieces:
        over = slice(*np.searchsorted(middle, [start, end]))
        rate = (last - first) / (end - start)
        own = first + (ends[over] - start) * rate
        lower: BoolArray = ~(heights[over].sum(axis=1) <= own.sum(axis=1))
        heights[over] = np.where(lower[:, None], own, heights[over])
    return heights


def _bends(existing: FloatArray, lower: FloatArray, upper: FloatArray) -> FloatArray:
    """Shares of a stretch at which finished ground may bend: its ends and where limits cut in."""
    at = [0.0, 1.0]
    for limit in (lower, upper):
        here, there = existing - limit
        if here * there < 0:  # not so where there is no limit
            at.append(float(here / (here - there)))
    return np.sort(at)


def _between(ends: FloatArray, share: FloatArray) -> FloatArray:
    """The values at shares of a stretch from those at its two ends."""
    between: FloatArray = (1 - share) * ends[0] + share * ends[1]
    return between
