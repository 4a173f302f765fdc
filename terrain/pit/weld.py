"""The plan of a dug body as loops over shared nodes: what touches in plan has the same nodes.

The parts of an overlay are polygons of their own: corners that should be one differ in their last
digits, and a long edge may face several short ones. Here corners become nodes, and every edge
that has no twin is cut at the nodes on it, until the parts on either side share whole edges.
"""

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from terrain.base.arrays import BoolArray, FloatArray

Index = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Loops:
    """Parts of the body seen from above, corner by corner, each part counter-clockwise.

    Corner i also stands for the edge from it to the next corner of its part.

    Args:
        part: (k,) which part the corner is of, never falling.
        node: (k,) where it stands, an index into `plan`.
        top: (k,) elevation of the ground there.
        depth: (k,) how far the dig is below it.
        plan: (n, 2) the nodes in the local frame.
    """

    part: Index
    node: Index
    top: FloatArray
    depth: FloatArray
    plan: FloatArray

    @property
    def bottom(self) -> FloatArray:
        """(k,) elevation of the dig."""
        return self.top - self.depth

    def following(self) -> Index:
        """(k,) the next corner of the same part, round to its first."""
        following = np.arange(1, len(self.part) + 1)
        first = np.flatnonzero(np.diff(self.part, prepend=-1))
        following[np.append(first[1:], len(self.part))[: len(first)] - 1] = first
        return following

    def kept(self, keep: BoolArray | Index) -> "Loops":
        """Only some of the corners."""
        return Loops(
            part=self.part[keep], node=self.node[keep], top=self.top[keep],
            depth=self.depth[keep], plan=self.plan,
        )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Inserted:
    """New corners on edges: `edge` (j,) where, `along` (j,) in 0 to 1 how far, at which `node`."""

    edge: Index
    along: FloatArray
    node: Index


def clusters(values: FloatArray, tolerance: float, group: Index | None = None) -> Index:
    """(k,) the rank of each value's cluster: within one, neighbours in order are that close.

    With `group`, values of different groups never share a cluster, and ranks go by group first.
    """
    order = np.argsort(values, kind="stable") if group is None else np.lexsort((values, group))
    apart = np.diff(values[order]) > tolerance
    if group is not None:
        apart |= np.diff(group[order]) != 0
    rank = np.empty(len(values), dtype=np.int64)
    rank[order] = np.concatenate([[0], np.cumsum(apart)])[: len(values)]
    return rank


def weld(corners: FloatArray, tolerance: float) -> tuple[Index, FloatArray]:
    """The node of each corner (k, 2), and the nodes (n, 2), each one of the corners it stands for.

    Eastings and northings are clustered each by itself: corners in one cluster of both are one
    node.
    """
    column, row = clusters(corners[:, 0], tolerance), clusters(corners[:, 1], tolerance)
    key = column * (row.max(initial=0) + 1) + row
    _, chosen, node = np.unique(key, return_index=True, return_inverse=True)
    return node.astype(np.int64), corners[chosen]


def without_spikes(loops: Loops) -> Loops:
    """The loops without corners that repeat, edges that go out and back, and parts of no area."""
    while True:
        following = loops.following()
        before = np.empty_like(following)
        before[following] = np.arange(len(following))
        node = loops.node
        repeats = node == node[following]
        if not repeats.any():
            # the tip of a spike, one of a part at a time: its neighbours may be tips as well
            tips = np.flatnonzero(node[before] == node[following])
            if len(tips) == 0:
                return loops
            _, first = np.unique(loops.part[tips], return_index=True)
            repeats[tips[first]] = True
        loops = loops.kept(~repeats)


def twins(start: Index, end: Index) -> Index:
    """(k,) for each directed edge another from its end to its start, -1 where there is none.

    Edges that lie over one another are paired in the order in which they come.
    """
    count = len(start)
    size = int(max(start.max(initial=0), end.max(initial=0))) + 1
    key = np.minimum(start, end) * size + np.maximum(start, end)
    back = start > end
    order = np.lexsort((back, key))
    fresh = np.flatnonzero(
        np.append(True, (np.diff(key[order]) != 0) | np.diff(back[order]))[:count]
    )
    place = np.empty(count, dtype=np.int64)
    place[order] = np.arange(count) - np.repeat(fresh, np.diff(np.append(fresh, count)))
    if place.max(initial=0) > 0:
        order = np.lexsort((back, place, key))
    a, b = order[:-1], order[1:]
    paired = (key[a] == key[b]) & (place[a] == place[b])
    twin = np.full(count, -1, dtype=np.int64)
    twin[a[paired]], twin[b[paired]] = b[paired], a[paired]
    return twin


def cut_lone_edges(loops: Loops, tolerance: float) -> Loops:
    """The loops with every edge that has no twin cut at the nodes of such edges that lie on it.

    So are the edges of parts no wider than the tolerance, and their twins: such a part folds up
    into a line and is gone.
    """
    start, end = loops.node, loops.node[loops.following()]
    twin, thin = twins(start, end), is_thin(loops, tolerance)
    edge = np.flatnonzero((twin < 0) | thin | thin[twin])
    nodes = np.unique(np.concatenate([start[edge], end[edge]]))
    tree = shapely.STRtree(shapely.points(loops.plan[nodes]))
    lines = shapely.linestrings(np.stack([loops.plan[start[edge]], loops.plan[end[edge]]], axis=1))
    which, found = tree.query(lines, predicate="dwithin", distance=tolerance)
    edge, node = edge[which], nodes[found]
    inner = (node != start[edge]) & (node != end[edge])
    edge, node = edge[inner], node[inner]
    origin = loops.plan[start[edge]]
    span, reach = loops.plan[end[edge]] - origin, loops.plan[node] - origin
    along = (span * reach).sum(axis=1) / (span * span).sum(axis=1)
    return without_spikes(insert(loops, Inserted(edge=edge, along=along, node=node)))


def is_thin(loops: Loops, tolerance: float) -> BoolArray:
    """(k,) whether the part of each corner is no wider than the tolerance."""
    plan, following = loops.plan[loops.node], loops.following()
    reach = plan - plan[np.searchsorted(loops.part, loops.part)]
    ahead = reach[following]
    double = np.bincount(loops.part, reach[:, 0] * ahead[:, 1] - reach[:, 1] * ahead[:, 0])
    longest = np.zeros(len(double))
    np.maximum.at(longest, loops.part, np.hypot(*(ahead - reach).T))
    thin: BoolArray = (double <= tolerance * longest)[loops.part]
    return thin


def cut_at_crossings(loops: Loops, tolerance: float) -> Loops:
    """The loops with a new node wherever the bottoms of two neighbours cross along their edge."""
    following, bottom = loops.following(), loops.bottom
    twin = twins(loops.node, loops.node[following])
    left = np.flatnonzero((twin >= 0) & (loops.node < loops.node[following]))
    right = twin[left]
    gap = bottom[left] - bottom[following[right]]
    gap_after = bottom[following[left]] - bottom[right]
    crossed = (np.minimum(gap, gap_after) < -tolerance) & (np.maximum(gap, gap_after) > tolerance)
    left, right, gap, gap_after = left[crossed], right[crossed], gap[crossed], gap_after[crossed]
    along = gap / (gap - gap_after)
    origin = loops.plan[loops.node[left]]
    new = origin + along[:, None] * (loops.plan[loops.node[following[left]]] - origin)
    node = len(loops.plan) + np.arange(len(left))
    wider = Loops(
        part=loops.part, node=loops.node, top=loops.top, depth=loops.depth,
        plan=np.concatenate([loops.plan, new]),
    )  # fmt: skip
    return insert(
        wider,
        Inserted(
            edge=np.concatenate([left, right]),
            along=np.concatenate([along, 1 - along]),
            node=np.concatenate([node, node]),
        ),
    )


def insert(loops: Loops, new: Inserted) -> Loops:
    """The loops with new corners on their edges, top and depth between those of the edge's ends."""
    following = loops.following()[new.edge]
    rise = loops.top[following] - loops.top[new.edge]
    fall = loops.depth[following] - loops.depth[new.edge]
    count = len(loops.part)
    order = np.lexsort(
        (
            np.concatenate([np.full(count, -1.0), new.along]),
            np.concatenate([np.arange(count), new.edge]),
        )
    )
    return Loops(
        part=np.concatenate([loops.part, loops.part[new.edge]])[order],
        node=np.concatenate([loops.node, new.node])[order],
        top=np.concatenate([loops.top, loops.top[new.edge] + new.along * rise])[order],
        depth=np.concatenate([loops.depth, loops.depth[new.edge] + new.along * fall])[order],
        plan=loops.plan,
    )
