"""Lines of depth nought: where the dig comes out of the ground."""

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from terrain.base.arrays import FloatArray
from terrain.surface.overlay import OverlayFaces

SAME_PLACE = 1e-9  # of the extent of the lines: corners nearer than this are one
NOUGHT = 1e-12  # of the deepest depth: a corner shallower than this lies at nought


def daylight_lines(parts: OverlayFaces) -> list[FloatArray]:
    """Lines (m, 2) of depth nought around the parts above, these on their left.

    A line that closes repeats its first corner at its end. Edges of the parts above that end at
    some depth, at the rim of a surface, are no daylight; nor are edges of depth nought with a
    part above on both sides.
    """
    edges = _nought_edges(parts)
    if len(edges) == 0:
        return []
    node, place = _merge_corners(edges)
    follows = _one_sided(node)
    return [place[chain] for chain in _chains(follows)]


def _nought_edges(parts: OverlayFaces) -> FloatArray:
    """Edges (k, 2, 2) of the parts above whose two ends are at depth nought."""
    above = np.repeat(parts.side > 0, np.diff(parts.start))
    after = np.arange(1, len(parts.ring) + 1)
    after[parts.start[1:] - 1] = parts.start[:-1]
    deepest = np.abs(parts.depth).max(initial=0.0)
    nought = np.abs(parts.depth) <= NOUGHT * deepest
    chosen = above & nought & nought[after]
    return np.stack([parts.ring[chosen], parts.ring[after[chosen]]], axis=1)


def _merge_corners(edges: FloatArray) -> tuple[NDArray[np.int64], FloatArray]:
    """Nodes (k, 2) of the edges' ends, and each node's place: ends that nearly meet are one."""
    ends = edges.reshape(-1, 2)
    reach = SAME_PLACE * np.ptp(ends, axis=0).max()
    near = cKDTree(ends).query_pairs(reach, output_type="ndarray")
    link = coo_array((np.ones(len(near)), near.T), shape=(len(ends), len(ends)))
    _, node = connected_components(link, directed=False)
    _, first = np.unique(node, return_index=True)
    return node.reshape(-1, 2).astype(np.int64), ends[first]


def _one_sided(node: NDArray[np.int64]) -> dict[int, list[int]]:
    """For each node those that follow it, without edges that run both ways or nowhere."""
    ways = {(int(p), int(q)) for p, q in node if p != q}
    follows: dict[int, list[int]] = {}
    for p, q in sorted(ways):
        if (q, p) not in ways:
            follows.setdefault(p, []).append(q)
    return follows


def _chains(follows: dict[int, list[int]]) -> list[list[int]]:
    """Chains of nodes that use every edge once, open ones first."""
    entered = {q for ends in follows.values() for q in ends}
    chains = []
    for start in [p for p in follows if p not in entered] + list(follows):
        while follows.get(start):
            chain = [start]
            while follows.get(chain[-1]):
                chain.append(follows[chain[-1]].pop())
                if chain[-1] == start:
                    break
            chains.append(chain)
    return chains
