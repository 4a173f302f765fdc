"""Lines made fit for triangles: split where they pass through points or cross, heights compared.

After `settle` no edge passes within `SNAP` of a point that isn't its end and no two edges cross.
Points come first: once no end of an edge lies that near another edge, whether two edges cross is
decided by numbers far larger than their rounding.
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from terrain.base.arrays import FloatArray, IntArray
from terrain.base.errors import Fault, SurfaceError
from terrain.base.frame import LocalFrame
from terrain.surface.crossing import Hits, crossings, points_on_edges
from terrain.surface.tin_record import SNAP, GroundNote

MOST_ROUNDS = 20
GROUND = -1
"""Owner of an edge of no line: a triangle side kept under a line laid on the ground."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Network:
    """Points and the edges lines ask for.

    Args:
        points: (n, 3); input points first, then those that were made.
        edges: (k, 2) int32 indices of points.
        owner: (k,) int32, the line each edge belongs to, `GROUND` for none.
        notes: what was settled in a way the reader should know.
    """

    points: FloatArray
    edges: IntArray
    owner: IntArray
    notes: tuple[GroundNote, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Rules:
    """How much heights may differ where lines meet, and what messages need."""

    labels: tuple[str, ...]
    height_tolerance: float
    frame: LocalFrame

    def spot(self, plan: FloatArray) -> str:
        """A plan point as messages give it, on the site."""
        easting, northing = self.frame.to_site(plan[:2])
        return f"easting {easting:.2f}, northing {northing:.2f}"


@dataclass(slots=True)
class _Findings:
    """Faults and notes of one round."""

    faults: list[Fault] = field(default_factory=list)
    notes: list[GroundNote] = field(default_factory=list)


def chain_edges(shots: IntArray, closed: bool) -> IntArray:
    """The edges (k, 2) from index to index, repeats dropped, back to the first if closed."""
    run = np.asarray(shots, dtype=np.int32)
    if closed and len(run):
        run = np.append(run, run[0])
    edges: IntArray = np.stack([run[:-1], run[1:]], axis=1)
    return np.ascontiguousarray(edges[edges[:, 0] != edges[:, 1]])


def settle(network: Network, rules: Rules) -> Network:
    """The same lines with every meeting of theirs a point.

    An edge that passes through a point is split there; where edges cross a point is made at the
    mean of their heights.

    Raises:
        SurfaceError: lines meet at heights that differ by more than the tolerance; every such
            place of the first round that has one is named.
    """
    network = _without_repeats(network)
    for _ in range(MOST_ROUNDS):
        before = len(network.edges), len(network.points)
        findings = _Findings()
        network = _split_at_points(network, rules, findings)
        network = _split_at_crossings(network, rules, findings)
        if findings.faults:
            raise SurfaceError(*findings.faults)
        network = _with(network, notes=network.notes + tuple(findings.notes))
        if (len(network.edges), len(network.points)) == before:
            return network
    raise SurfaceError(
        "Lines lie so near one another that they can't be told apart; "
        f"leave out all but one of lines less than {SNAP:g} apart."
    )


def _with(
    network: Network,
    *,
    points: FloatArray | None = None,
    edges: tuple[IntArray, IntArray] | None = None,
    notes: tuple[GroundNote, ...] | None = None,
) -> Network:
    pairs, owner = (network.edges, network.owner) if edges is None else edges
    return Network(
        points=network.points if points is None else points,
        edges=pairs,
        owner=owner,
        notes=network.notes if notes is None else notes,
    )


def _without_repeats(network: Network) -> Network:
    """The same with each pair of points joined once, by the lowest line that joins it."""
    pairs = np.sort(network.edges.reshape(-1, 2), axis=1).astype(np.int64)
    rank = np.where(network.owner == GROUND, np.iinfo(np.int32).max, network.owner)
    order = np.lexsort((rank, pairs[:, 1], pairs[:, 0]))
    pairs, owner = pairs[order], network.owner[order]
    first = np.ones(len(pairs), dtype=np.bool_)
    first[1:] = (pairs[1:] != pairs[:-1]).any(axis=1)
    first &= pairs[:, 0] != pairs[:, 1]
    return _with(network, edges=(pairs[first].astype(np.int32), owner[first]))


def _height_on(network: Network, edge: IntArray, along: FloatArray) -> FloatArray:
    ends = network.points[network.edges[edge], 2]
    height: FloatArray = ends[:, 0] + along * (ends[:, 1] - ends[:, 0])
    return height


def _split(network: Network, hits: Hits) -> Network:
    """The same with each edge run through the points found on it, in their order along it."""
    count = len(network.edges)
    every = np.arange(count, dtype=np.int32)
    edge = np.concatenate([every, hits.edge, every])
    along = np.concatenate([np.full(count, -np.inf), hits.along, np.full(count, np.inf)])
    point = np.concatenate([network.edges[:, 0], hits.point, network.edges[:, 1]])
    order = np.lexsort((along, edge))
    edge, point = edge[order], point[order]
    same = edge[1:] == edge[:-1]
    pairs = np.stack([point[:-1], point[1:]], axis=1)[same]
    return _without_repeats(_with(network, edges=(pairs, network.owner[edge[1:][same]])))


def _split_at_points(network: Network, rules: Rules, findings: _Findings) -> Network:
    hits = points_on_edges(network.points, network.edges)
    if not len(hits.edge):
        return network
    difference = network.points[hits.point, 2] - _height_on(network, hits.edge, hits.along)
    owner = network.owner[hits.edge]
    apart = (np.abs(difference) > rules.height_tolerance) & (owner != GROUND)
    for at in np.flatnonzero(apart):
        point, line = int(hits.point[at]), int(owner[at])
        others = network.owner[(network.edges == point).any(axis=1)]
        others = others[others != GROUND]
        spot, height = rules.spot(network.points[point]), network.points[point, 2]
        where = f"at {spot}: {height - difference[at]:.3f} against {height:.3f}"
        if len(others):
            other = next((o for o in others.tolist() if o != line), line)
            findings.faults.append(_disagreement(rules, line, other, where))
        else:
            message = (
                f"The {rules.labels[line]} passes through a shot of its own height {where}; "
                "the line was led through the shot."
            )
            findings.notes.append(GroundNote(code="line_through_shot", message=message))
    return _split(network, hits)


def _disagreement(rules: Rules, one: int, other: int, where: str) -> Fault:
    pair = (
        f"The {rules.labels[one]} meets itself"
        if one == other
        else f"The {rules.labels[one]} and the {rules.labels[other]} meet"
    )
    return Fault(
        message=f"{pair} at different heights {where}. Put right the elevations or the codes "
        "there, or end one line before the other."
    )


def _split_at_crossings(network: Network, rules: Rules, findings: _Findings) -> Network:
    found = crossings(network.points, network.edges)
    if not len(found.first):
        return network
    lower = _height_on(network, found.first, found.along_first)
    upper = _height_on(network, found.second, found.along_second)
    ends = network.points[network.edges[found.first], :2]
    plan = ends[:, 0] + found.along_first[:, None] * (ends[:, 1] - ends[:, 0])
    one, other = network.owner[found.first], network.owner[found.second]
    apart = np.abs(upper - lower) > rules.height_tolerance
    for at in np.flatnonzero(apart & (one != GROUND) & (other != GROUND)):
        where = f"at {rules.spot(plan[at])}: {lower[at]:.3f} against {upper[at]:.3f}"
        findings.faults.append(_disagreement(rules, int(one[at]), int(other[at]), where))
    # a line knows its height better than the ground it was laid on
    height = np.where(one == GROUND, upper, np.where(other == GROUND, lower, (lower + upper) / 2))
    made, which = merged(np.column_stack([plan, height]))
    point = (which + len(network.points)).astype(np.int32)
    hits = Hits(
        edge=np.concatenate([found.first, found.second]),
        point=np.concatenate([point, point]),
        along=np.concatenate([found.along_first, found.along_second]),
    )
    return _split(_with(network, points=np.concatenate([network.points, made])), hits)


def merged(points: FloatArray) -> tuple[FloatArray, NDArray[np.int64]]:
    """Points (j, 3) with those within `SNAP` in plan made one, and which of them each became."""
    pairs = cKDTree(points[:, :2]).query_pairs(SNAP, output_type="ndarray")
    links = coo_array(
        (np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(len(points), len(points))
    )
    _, group = connected_components(links, directed=False)
    _, first = np.unique(group, return_index=True)
    kept = np.sort(first)
    number = np.empty(len(points), dtype=np.int64)
    number[kept] = np.arange(len(kept))
    return points[kept], number[first[group]]
