"""Which edges of a face may be trusted to cut another face.

A corner that nearly repeats the one before it makes an edge whose direction is mostly rounding.
Prolonged to a line, it could cut off half of a face that lies on both sides of it. Leaving such
an edge out adds next to nothing at a blunt corner, but at the thin end of a sliver it is needed.
"""

import numpy as np

from terrain.base.arrays import BoolArray, FloatArray
from terrain.surface.compiled import Starts, compiled

MUCH_LONGER = 100.0  # an edge so many times longer than another has a direction beside it


@compiled
def sound_edges(start: Starts, ring: FloatArray) -> BoolArray:
    """Whether to cut by each corner's edge, to the next corner, (k,) bool; see `mark_sound`."""
    sound = np.empty(len(ring), np.bool_)
    for face in range(len(start) - 1):
        first, last = start[face], start[face + 1]
        mark_sound(ring[first:last], sound[first:last])
    return sound


@compiled
def mark_sound(corners: FloatArray, sound: BoolArray) -> None:
    """Tell which edges of a face to cut by.

    An edge is left out if a corner of its own face lies outside it by more than its length, and
    leaving it out adds less area to the face than its line would take off. An edge without length
    is left out unless the face is a mere point.
    """
    for k in range(len(corners)):
        along_e, along_n, square = edge_between(corners, k)
        outside, low, high = 0.0, 0.0, 0.0
        for i in range(len(corners)):
            off_e, off_n = corners[i, 0] - corners[k, 0], corners[i, 1] - corners[k, 1]
            outside = max(outside, along_n * off_e - along_e * off_n)
            forward = along_e * off_e + along_n * off_n
            low, high = min(low, forward), max(high, forward)
        sound[k] = True
        if square == 0.0:
            sound[k] = is_point(corners)
        elif outside > square:
            taken = min(outside * (high - low) / square, area_of(corners))
            sound[k] = taken <= area_beyond(corners, k)


@compiled
def is_point(corners: FloatArray) -> bool:
    """Whether all corners are the first."""
    reach = 0.0
    for i in range(len(corners)):
        reach = max(reach, abs(corners[i, 0] - corners[0, 0]), abs(corners[i, 1] - corners[0, 1]))
    return reach == 0.0


@compiled
def edge_between(corners: FloatArray, k: int) -> tuple[float, float, float]:
    """Direction of the edge from corner k to the next, and its length squared."""
    after = k + 1 if k + 1 < len(corners) else 0
    along_e, along_n = corners[after, 0] - corners[k, 0], corners[after, 1] - corners[k, 1]
    return along_e, along_n, along_e * along_e + along_n * along_n


@compiled
def area_of(corners: FloatArray) -> float:
    """Area of a face, positive if it turns left."""
    double = 0.0
    for i in range(1, len(corners) - 1):
        side, after = corners[i] - corners[0], corners[i + 1] - corners[0]
        double += side[0] * after[1] - side[1] * after[0]
    return 0.5 * double


@compiled
def area_beyond(corners: FloatArray, k: int) -> float:
    """At most how much area leaving out an edge adds: its neighbours then meet beyond it.

    Neighbours are the nearest edges that are much longer. By the law of sines the triangle is at
    most the edge's square over twice the sine of the neighbours' whole turn.
    """
    _, _, square = edge_between(corners, k)
    count = len(corners)
    before, after = 0, 0
    for step in range(1, count):
        if edge_between(corners, (k - step) % count)[2] > MUCH_LONGER**2 * square:
            before = step
            break
    for step in range(1, count):
        if edge_between(corners, (k + step) % count)[2] > MUCH_LONGER**2 * square:
            after = step
            break
    if before == 0 or before + after >= count:
        return np.inf
    in_e, in_n, in_square = edge_between(corners, (k - before) % count)
    out_e, out_n, out_square = edge_between(corners, (k + after) % count)
    longest = np.sqrt(in_square * out_square)
    sine = (in_e * out_n - in_n * out_e) / longest
    if in_e * out_e + in_n * out_n > 0.0:
        return 0.5 * square
    return 0.5 * square / sine if sine > 0.0 else np.inf
