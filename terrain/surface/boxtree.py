"""A packed tree of boxes over the faces of a surface, for finding faces by place.

The faces are put in the order of a Hilbert curve through the middles of their boxes; every
FAN boxes that follow one another get a common box, and so on up to one. Unlike a uniform grid
it stays as quick where a dense scan and a few far shots make one surface.
"""

import numpy as np

from terrain.base.arrays import FloatArray, IntArray
from terrain.surface.compiled import Starts, Tree, compiled
from terrain.surface.hilbert import hilbert_order
from terrain.surface.kernel import FAN
from terrain.surface.patches import Surface


@compiled
def face_boxes(start: Starts, ring: FloatArray) -> FloatArray:
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
def stack_levels(lowest: FloatArray, order: IntArray, level: Starts) -> FloatArray:
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
    """The tree (boxes, level, order) of a surface that has at least one face.

    `boxes` (m, 4) are west, south, east, north, lowest level first; `level` says where each level
    begins, and the end; `order` is the face of each box of the lowest level.
    """
    lowest = face_boxes(surface.start, surface.ring)
    order = hilbert_order(0.5 * (lowest[:, :2] + lowest[:, 2:])).astype(np.int32)
    counts = [len(order)]
    while counts[-1] > 1 or len(counts) == 1:
        counts.append(-(-counts[-1] // FAN))
    level = np.concatenate([[0], np.cumsum(counts)])
    return stack_levels(lowest, order, level), level, order
