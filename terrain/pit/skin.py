"""The faces of a dug body over its welded plan: ground, dig, and upright where either jumps."""

from dataclasses import dataclass

import numpy as np

from terrain.base.arrays import FloatArray
from terrain.pit.weld import Index, Loops, clusters, twins

FLAT = 1e-6  # sine of a turn that is none


@dataclass(frozen=True, slots=True, kw_only=True)
class Columns:
    """The loops with their vertices, numbered node by node and upwards within a node.

    Args:
        loops: the parts corner by corner.
        following: (k,) the next corner of the same part.
        low: (k,) the vertex of the dig at each corner.
        high: (k,) the vertex of the ground there, the same one where nothing is dug.
        vertices: (n, 3).
    """

    loops: Loops
    following: Index
    low: Index
    high: Index
    vertices: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Faces:
    """Triangles (m, 3) of vertices and the part (m,) whose earth each bounds."""

    corners: Index
    part: Index


def columns_of(loops: Loops, tolerance: float) -> Columns:
    """Vertices for every elevation, top or bottom, that any part has at a node."""
    count = len(loops.part)
    heights = np.concatenate([loops.top, loops.bottom])
    nodes = np.concatenate([loops.node, loops.node])
    vertex = clusters(heights, tolerance, nodes)
    _, chosen = np.unique(vertex, return_index=True)  # the top's own elevation where it is one
    return Columns(
        loops=loops,
        following=loops.following(),
        low=vertex[count:],
        high=vertex[:count],
        vertices=np.column_stack([loops.plan[nodes[chosen]], heights[chosen]]),
    )


def curtains(columns: Columns) -> Faces:
    """The upright faces: on every edge, what the part on its left has and its neighbour has not."""
    following, part = columns.following, columns.loops.part
    node = columns.loops.node
    twin = twins(node, node[following])
    lone = np.flatnonzero(twin < 0)
    rim = _hang(columns.low, columns.high, np.column_stack([lone, following[lone]] * 2))
    left = np.flatnonzero((twin >= 0) & (node < node[following]))
    right = twin[left]
    across = np.column_stack([left, following[left], following[right], right])
    back = across[:, [2, 3, 0, 1]]
    below = _hang(columns.low, columns.low, across)
    above = _hang(columns.high, columns.high, back)
    rise = columns.vertices[columns.low, 2]
    own = rise[across[:, :2]].sum(axis=1) <= rise[across[:, 2:]].sum(axis=1)
    deeper = np.where(own, part[left], part[right])
    fall = columns.vertices[columns.high, 2]
    own = fall[across[:, :2]].sum(axis=1) >= fall[across[:, 2:]].sum(axis=1)
    higher = np.where(own, part[left], part[right])
    return joined(
        Faces(corners=rim[0], part=part[lone][rim[1]]),
        Faces(corners=below[0], part=deeper[below[1]]),
        Faces(corners=above[0], part=higher[above[1]]),
    )


def _hang(start: Index, stop: Index, corners: Index) -> tuple[Index, Index]:
    """Triangles between two lines over the same edges, seen from the edges' right, and their edge.

    `corners` (e, 4): the corners whose `start` is the one line, at the edge's beginning and end,
    and those whose `stop` is the other. Every vertex between the lines at either end is a corner
    of some triangle, so that all faces round a node share the upright edges there.
    """
    from_a, from_b = start[corners[:, 0]], start[corners[:, 1]]
    to_a, to_b = stop[corners[:, 2]], stop[corners[:, 3]]
    edge_a, low_a, high_a = _climb(from_a, to_a)
    edge_b, low_b, high_b = _climb(from_b, to_b)
    triangles = np.concatenate(
        [
            np.column_stack([low_a, from_b[edge_a], high_a]),
            np.column_stack([low_b, high_b, to_a[edge_b]]),
        ]
    )
    return triangles, np.concatenate([edge_a, edge_b])


def _climb(first: Index, last: Index) -> tuple[Index, Index, Index]:
    """Each single step from vertex `first` to `last` of a column: whose, from which, to which."""
    steps, way = np.abs(last - first), np.sign(last - first)
    whose = np.repeat(np.arange(len(first)), steps)
    done = np.arange(len(whose)) - np.repeat(np.cumsum(steps) - steps, steps)
    low = first[whose] + done * way[whose]
    return whose, low, low + way[whose]


def sheets(columns: Columns) -> tuple[tuple[Faces, Faces], FloatArray]:
    """Ground and dig of every part as triangles, and all vertices.

    A part with a corner that does not turn is cut from its middle, so that no triangle is flat;
    all others from their first corner.
    """
    loops, following = columns.loops, columns.following
    _, first, which, size = np.unique(
        loops.part, return_index=True, return_inverse=True, return_counts=True
    )
    count = len(first)
    solid = np.bincount(which, columns.low != columns.high, count) > 0
    central = (np.bincount(which, _is_flat(columns), count) > 0) & (size > 3)
    vertices = columns.vertices
    middle = [
        np.column_stack([np.bincount(which, v[:, k], count) / size for k in range(3)])
        for v in (vertices[columns.low], vertices[columns.high])
    ]
    base = len(vertices)
    apex_low = np.where(central, base + np.arange(count), columns.low[first])
    apex_high = np.where(central, base + count + np.arange(count), columns.high[first])
    # from the first corner the two edges at it make no triangle
    corner = np.arange(len(which))
    beside = (corner == first[which]) | (following == first[which])
    drawn = solid[which] & (central[which] | ~beside)
    corner, whose = corner[drawn], which[drawn]
    after, part = following[corner], loops.part[corner]
    top = np.column_stack([apex_high[whose], columns.high[corner], columns.high[after]])
    bottom = np.column_stack([apex_low[whose], columns.low[after], columns.low[corner]])
    both = (Faces(corners=top, part=part), Faces(corners=bottom, part=part))
    return both, np.concatenate([vertices, *middle])


def _is_flat(columns: Columns) -> FloatArray:
    """(k,) 1 where a part does not turn at a corner, else 0."""
    plan, following = columns.loops.plan[columns.loops.node], columns.following
    side = plan[following] - plan
    side /= np.hypot(side[:, 0], side[:, 1])[:, None]
    ahead = side[following]
    turn = np.empty(len(plan))
    turn[following] = side[:, 0] * ahead[:, 1] - side[:, 1] * ahead[:, 0]
    flat: FloatArray = (turn < FLAT).astype(np.float64)
    return flat


def joined(*faces: Faces) -> Faces:
    """All faces together."""
    return Faces(
        corners=np.concatenate([f.corners for f in faces]),
        part=np.concatenate([f.part for f in faces]),
    )
