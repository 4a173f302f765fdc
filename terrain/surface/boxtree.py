"""A packed tree of boxes over the faces of a surface, for finding faces by place.

The faces are put in the order of a Hilbert curve through the middles of their boxes; every
FAN boxes that follow one another get a common box, and so on up to one. Unlike a uniform grid
it stays as quick where a dense scan and a few far shots make one surface.
"""

from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from terrain.base.arrays import FloatArray, IntArray
from terrain.surface.kernel import FAN, compiled
from terrain.surface.patches import Surface

# boxes (m, 4) as west, south, east, north, lowest level first; where each level begins, and the
# end; the face of each box of the lowest level
Tree: TypeAlias = tuple[FloatArray, NDArray[np.int64], IntArray]

CURVE_BITS = 16


@compiled
def face_boxes(start, ring):
    """The box of each face, (n, 4) as west, south, east, north."""
    boxes = np.empty((len(start) - 1, 4))
    for face in range(len(start) - 1):
        west = east = ring[start[face], 0]
        south = north = ring[start[face], 1]
        for i in range(start[face] + 1, start[face + 1]):
            west, east = min(west, ring[i, 0]), max(east, ring[i, 0])
            south, north = min(south, ring[i, 1]), max(north, ring[i, 1])
        boxes[face, 0], boxes[face, 1], boxes[face, 2], boxes[face, 3] = west, south, east, north
    return boxes


@compiled
def curve_places(boxes, west, south, per_step):
    """Place of each box's middle along the Hilbert curve of 2**16 by 2**16 steps, as uint32."""
    places = np.empty(len(boxes), np.uint32)
    for i in range(len(boxes)):
        e = int((0.5 * (boxes[i, 0] + boxes[i, 2]) - west) * per_step)
        n = int((0.5 * (boxes[i, 1] + boxes[i, 3]) - south) * per_step)
        place = 0
        for bit in range(CURVE_BITS - 1, -1, -1):
            right, up = (e >> bit) & 1, (n >> bit) & 1
            place = (place << 2) | ((3 * right) ^ up)
            if up == 0:
                if right == 1:
                    e, n = ~e, ~n
                e, n = n, e
        places[i] = place
    return places


@compiled
def ranking(places):
    """The stable order of uint32 numbers, by two counting sorts of 16 bits."""
    order = np.arange(len(places)).astype(np.int32)
    for shift in (0, 16):
        begin = np.zeros(65537, np.int64)
        for place in places:
            begin[((place >> shift) & 0xFFFF) + 1] += 1
        begin = np.cumsum(begin)
        source = order.copy()
        for face in source:
            key = (places[face] >> shift) & 0xFFFF
            order[begin[key]] = face
            begin[key] += 1
    return order


@compiled
def stack_levels(lowest, order, level):
    """The boxes of all levels, each level's made from the one below."""
    boxes = np.empty((level[-1], 4))
    for i in range(len(order)):
        boxes[i] = lowest[order[i]]
    for height in range(1, len(level) - 1):
        below = level[height - 1]
        for i in range(level[height + 1] - level[height]):
            first = below + FAN * i
            last = min(first + FAN, level[height])
            box = boxes[level[height] + i]
            box[:] = boxes[first]
            for k in range(first + 1, last):
                box[0], box[1] = min(box[0], boxes[k, 0]), min(box[1], boxes[k, 1])
                box[2], box[3] = max(box[2], boxes[k, 2]), max(box[3], boxes[k, 3])
    return boxes


def tree_of(surface: Surface) -> Tree:
    """The tree of a surface that has at least one face."""
    lowest = face_boxes(surface.start, surface.ring)
    west, south = lowest[:, 0].min(), lowest[:, 1].min()
    reach = max(lowest[:, 2].max() - west, lowest[:, 3].max() - south)
    per_step = (2**CURVE_BITS - 1) / reach if reach > 0 else 0.0
    order = ranking(curve_places(lowest, west, south, per_step))
    counts = [len(order)]
    while counts[-1] > 1 or len(counts) == 1:
        counts.append(-(-counts[-1] // FAN))
    level = np.concatenate([[0], np.cumsum(counts)])
    return stack_levels(lowest, order, level), level, order
