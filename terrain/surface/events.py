"""When the moving outline changes next: a front's length reaches nought, or fronts collide."""

import math
from collections.abc import Sequence

import numpy as np

from terrain.base.arrays import FloatArray, IntArray
from terrain.surface.outline import Ring

STILL = 1e-12
"""Closing speeds below this share of the fastest are noise, not motion."""


def time_to_next_event(
    rings: Sequence[Ring], velocities: Sequence[FloatArray], tolerance: float
) -> float:
    """The time until the first front shrinks to nought or the first corner meets a front.

    Args:
        rings: the outline now.
        velocities: of the corners of each ring.
        tolerance: plan distance below which two things are in one place.

    Returns:
        A time >= 0; infinite when nothing more happens.
    """
    fronts = [f for r in rings for f in r.fronts]
    start = np.concatenate([r.corners for r in rings])
    end = np.concatenate([r.ends for r in rings])
    start_rate = np.concatenate(velocities)
    end_rate = np.concatenate([np.roll(v, -1, axis=0) for v in velocities])
    normal = np.array([f.normal for f in fronts])
    along = np.stack([-normal[:, 1], normal[:, 0]], axis=1)
    speed = np.array([f.speed for f in fronts])
    offset = np.array([f.offset for f in fronts])
    still = STILL * max(float(np.abs(start_rate).max()), 1e-300)

    length = np.einsum("ij,ij->i", along, end - start)
    growth = np.einsum("ij,ij->i", along, end_rate - start_rate)
    shrinking = growth < -still
    first = math.inf
    if shrinking.any():
        first = float(np.maximum(length[shrinking] / -growth[shrinking], 0.0).min())

    before = _previous(rings)
    turn = along[before, 0] * along[:, 1] - along[before, 1] * along[:, 0]
    outside = np.flatnonzero(turn > 1e-9)
    if not len(outside):
        return first
    gap = start[outside] @ normal.T - offset
    closing = speed - start_rate[outside] @ normal.T
    index = np.arange(len(fronts))
    own = (index == outside[:, None]) | (index == before[outside][:, None])
    able = (closing > still) & (gap > -tolerance) & ~own
    at, other = np.nonzero(able)
    if not len(at):
        return first
    time = np.maximum(gap[at, other], 0.0) / closing[at, other]
    corner = outside[at]
    place = start[corner] + start_rate[corner] * time[:, None]
    from_start = place - start[other] - start_rate[other] * time[:, None]
    station = np.einsum("ij,ij->i", along[other], from_start)
    reach = length[other] + growth[other] * time
    hits = (station > -tolerance) & (station < reach + tolerance)
    if hits.any():
        first = min(first, float(time[hits].min()))
    return first


def _previous(rings: Sequence[Ring]) -> IntArray:
    """For every front of the concatenated rings, the index of the one before it."""
    parts, base = [], 0
    for ring in rings:
        n = len(ring.fronts)
        parts.append(base + np.roll(np.arange(n, dtype=np.int32), 1))
        base += n
    return np.concatenate(parts)
