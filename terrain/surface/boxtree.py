"""A packed tree of boxes over the faces of a surface, for finding faces by place.

Every FAN boxes that follow one another get a common box, and so on up to one. The faces stay in
their order if that makes compact boxes, as a TIN's does, or else are put in that of a Hilbert curve
through the middles of their boxes. Unlike a uniform grid the tree stays as quick where a dense scan
and a few far shots make one surface.
"""

import numpy as np

from terrain.base.arrays import FloatArray, IntArray
from terrain.surface.compiled import Four, Starts, Tree, compiled
from terrain.surface.hilbert import hilbert_order
from terrain.surface.patches import Surface

FAN = 8  # boxes under one box of the tree
LOOSE = 24.0  # squares about the boxes of a level may have so many times the area of the whole


@compiled
def touching(box: Four, tree: Tree, found: IntArray, spare: IntArray) -> int:
    """How many of the tree's faces have a box that touches `box`; their indices go to `found`.

    Level by level from the top. Every box is written down and the count moved on only where it
    touches: the machine guesses such tests wrong too often to branch on them.
    """
    west, south, east, north = box
    boxes, level, order = tree
    count = 1
    found[0] = level[-2]
    for height in range(len(level) - 2, 0, -1):
        base, here, nodes = level[height - 1], level[height], count
        for k in range(nodes):
            spare[k] = found[k]
        count = 0
        for k in range(nodes):
            first = base + FAN * (spare[k] - here)
            for child in range(first, min(first + FAN, here)):
                found[count] = child
                count += (
                    (boxes[child, 0] <= east)
                    & (boxes[child, 2] >= west)
                    & (boxes[child, 1] <= north)
                    & (boxes[child, 3] >= south)
                )
    for k in range(count):
        found[k] = order[found[k]]
    return count


@compiled
def faces_touching(box: FloatArray, start: Starts, ring: FloatArray) -> IntArray:
    """The faces, in their order, whose own box touches `box` (west, south, east, north)."""
    found = np.empty(len(start) - 1, np.int32)
    count = 0
    for face in range(len(start) - 1):
        west = east = ring[start[face], 0]
        south = north = ring[start[face], 1]
        for i in range(start[face] + 1, start[face + 1]):
            west, east = min(west, ring[i, 0]), max(east, ring[i, 0])
            south, north = min(south, ring[i, 1]), max(north, ring[i, 1])
        found[count] = face
        count += (west <= box[2]) & (east >= box[0]) & (south <= box[3]) & (north >= box[1])
    return found[:count].copy()


@compiled
def _fill_boxes(start: Starts, ring: FloatArray, boxes: FloatArray) -> None:
    """Write the box of each face, (n, 4) as west, south, east, north."""
    for face in range(len(start) - 1):
        west = east = ring[start[face], 0]
        south = north = ring[start[face], 1]
        for i in range(start[face] + 1, start[face + 1]):
            west, east = min(west, ring[i, 0]), max(east, ring[i, 0])
            south, north = min(south, ring[i, 1]), max(north, ring[i, 1])
        boxes[face, 0], boxes[face, 1], boxes[face, 2], boxes[face, 3] = west, south, east, north


@compiled
def _stack_levels(level: Starts, boxes: FloatArray) -> float:
    """Write the boxes of all levels above the lowest, each from the one below.

    Returns the most that the squares about the boxes of a level have in area, all together.
    """
    most = 0.0
    for height in range(1, len(level) - 1):
        below, area = level[height - 1], 0.0
        for i in range(level[height + 1] - level[height]):
            first = below + FAN * i
            last = min(first + FAN, level[height])
            west, south, east, north = np.inf, np.inf, -np.inf, -np.inf
            for k in range(first, last):
                west, south = min(west, boxes[k, 0]), min(south, boxes[k, 1])
                east, north = max(east, boxes[k, 2]), max(north, boxes[k, 3])
            at = level[height] + i
            boxes[at, 0], boxes[at, 1], boxes[at, 2], boxes[at, 3] = west, south, east, north
            area += max(east - west, north - south) ** 2
        most = max(most, area)
    return most


def tree_of(surface: Surface) -> Tree:
    """The tree (boxes, level, order) of a surface that has at least one face.

    `boxes` (m, 4) are west, south, east, north, lowest level first; `level` says where each level
    begins, and the end; `order` is the face of each box of the lowest level.
    """
    count = len(surface)
    counts = [count]
    while counts[-1] > 1 or len(counts) == 1:
        counts.append(-(-counts[-1] // FAN))
    level = np.concatenate([[0], np.cumsum(counts)])
    boxes = np.empty((level[-1], 4))
    _fill_boxes(surface.start, surface.ring, boxes[:count])
    order = np.arange(count, dtype=np.int32)
    area = _stack_levels(level, boxes)
    if area > LOOSE * float((boxes[-1, 2:] - boxes[-1, :2]).max()) ** 2:
        lowest = boxes[:count].copy()
        order = hilbert_order(0.5 * (lowest[:, :2] + lowest[:, 2:])).astype(np.int32)
        boxes[:count] = lowest[order]
        _stack_levels(level, boxes)
    return boxes, level, order
