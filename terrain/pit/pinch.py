"""Part a closed mesh where it only touches itself, so that every edge has exactly two faces.

A dig may touch itself at a point (two cuts whose daylight lines meet) or along an edge (two pits
corner to corner). There the earth is paired with itself round the edge, and what hangs together
only by the touch gets vertices of its own at the same place.
"""

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from terrain.base.arrays import BoolArray, FloatArray
from terrain.pit.weld import Index, twins


def unpinched(vertices: FloatArray, corners: Index) -> tuple[FloatArray, Index, Index]:
    """Vertices, faces and the face each was made of, of a closed mesh without shared touches.

    Args:
        vertices: (n, 3).
        corners: (m, 3) triangles; every edge has as many faces one way as the other.
    """
    source = np.arange(len(corners))
    while True:
        twin = _paired(vertices, corners)
        vertices, corners = _parted(vertices, corners, twin)
        crowded = np.flatnonzero(_is_crowded(*_edges(corners)))
        if len(crowded) == 0:
            return vertices, corners, source
        vertices, corners, source = _halved(vertices, corners, source, (crowded, twin))


def without_doubled(corners: Index) -> BoolArray:
    """(m,) which faces stay when those that lie face to face, corner on corner, are taken out."""
    low, high = corners.min(axis=1), corners.max(axis=1)
    middle = corners.sum(axis=1) - low - high
    order = np.lexsort((middle, high, low))
    change = np.diff(low[order]) | np.diff(middle[order]) | np.diff(high[order])
    place = np.empty(len(corners), dtype=np.int64)
    place[order] = np.append(0, np.cumsum(change != 0))[: len(corners)]
    follows = corners[np.arange(len(corners)), (corners.argmin(axis=1) + 1) % 3]
    back = follows == high
    return twins(2 * place + back, 2 * place + ~back) < 0


def _edges(corners: Index) -> tuple[Index, Index]:
    """Start and end of every face's three edges (3 m,), face by face."""
    return corners.ravel(), corners[:, [1, 2, 0]].ravel()


def _next(edge: Index) -> Index:
    """The next edge of the same face."""
    return np.where(edge % 3 == 2, edge - 2, edge + 1)


def _is_crowded(start: Index, end: Index) -> BoolArray:
    """(k,) whether an edge runs from its start to its end more than once."""
    key = start * (int(start.max(initial=0)) + 1) + end
    order = np.argsort(key)
    same = np.diff(key[order]) == 0
    crowded = np.zeros(len(key), dtype=bool)
    crowded[order[1:][same]] = True
    crowded[order[:-1][same]] = True
    return crowded


def _paired(vertices: FloatArray, corners: Index) -> Index:
    """(3 m,) the edge of the neighbouring face that each edge is one with."""
    start, end = _edges(corners)
    twin = twins(start, end)
    crowded = np.flatnonzero(_is_crowded(start, end))
    low = np.minimum(start[crowded], end[crowded])
    high = np.maximum(start[crowded], end[crowded])
    order = np.lexsort((high, low))
    breaks = np.flatnonzero(np.diff(low[order]) | np.diff(high[order])) + 1
    for group in np.split(crowded[order], breaks):
        if len(group):
            _pair_round(vertices, (start, end), group, twin)
    return twin


def _pair_round(
    vertices: FloatArray, edges: tuple[Index, Index], group: Index, twin: Index
) -> None:
    """Pair the faces round one edge across the earth between them."""
    start, end = edges
    low = min(start[group[0]], end[group[0]])
    high = max(start[group[0]], end[group[0]])
    axis = vertices[high] - vertices[low]
    axis = axis / np.linalg.norm(axis)
    out = vertices[end[_next(group)]] - vertices[low]
    out -= (out @ axis)[:, None] * axis
    zero = out[0] / np.linalg.norm(out[0])
    angle = np.arctan2(out @ np.cross(axis, zero), out @ zero)
    # Turning left round the axis, a face against it has earth ahead and one along it behind.
    opens = start[group] == high
    order = np.lexsort((~opens, angle))
    balance = np.cumsum(np.where(opens[order], 1, -1))
    order = np.roll(order, -(int(balance.argmin()) + 1))
    waiting: list[int] = []
    for k in order:
        if opens[k]:
            waiting.append(int(group[k]))
        else:
            partner = waiting.pop()
            twin[partner], twin[group[k]] = group[k], partner


def _parted(vertices: FloatArray, corners: Index, twin: Index) -> tuple[FloatArray, Index]:
    """Vertices of which each has one ring of faces, joined edge by edge, round it."""
    count = corners.size
    joins = coo_array(
        (np.ones(count, dtype=np.int8), (np.arange(count), _next(twin))), shape=(count, count)
    )
    _, ring = connected_components(joins, directed=False)
    _, chosen = np.unique(ring, return_index=True)
    return vertices[corners.ravel()[chosen]], ring.astype(np.int64).reshape(-1, 3)


def _halved(
    vertices: FloatArray, corners: Index, source: Index, pairs: tuple[Index, Index]
) -> tuple[FloatArray, Index, Index]:
    """The mesh with crowded edges cut in their middles, each pair of faces by itself.

    Of faces with several such edges one is cut; `unpinched` comes back for the others.
    """
    crowded, twin = pairs
    taken: set[int] = set()
    fresh: list[FloatArray] = []
    new_faces: list[tuple[int, ...]] = []
    new_source: list[int] = []
    corners = corners.copy()
    for edge in crowded.tolist():
        couple = (edge, int(twin[edge]))
        if taken & {couple[0] // 3, couple[1] // 3}:
            continue
        taken |= {couple[0] // 3, couple[1] // 3}
        middle = len(vertices) + len(fresh)
        a, b = corners[edge // 3, edge % 3], corners[edge // 3, (edge + 1) % 3]
        fresh.append((vertices[a] + vertices[b]) / 2)
        for half in couple:
            face, k = divmod(half, 3)
            _, b, c = (corners[face, (k + j) % 3] for j in range(3))
            new_faces.append((middle, b, c))
            new_source.append(source[face])
            corners[face, (k + 1) % 3] = middle
    return (
        np.concatenate([vertices, fresh]),
        np.concatenate([corners, np.array(new_faces, dtype=np.int64)]),
        np.concatenate([source, np.array(new_source, dtype=np.int64)]),
    )
