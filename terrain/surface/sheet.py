"""The lowest sheet of triangles that lie above one another: the ground under eaves and overhangs.

Only where triangles share ground, or touch one another's sides, is anything changed: there all
edges are drawn in plan, with the lines along which sheets cross, and each piece between them
goes to the lowest triangle over it. All else stays as it was.
"""

from dataclasses import dataclass, replace

import numpy as np
import shapely
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from terrain.base.arrays import BoolArray, FloatArray, IntArray
from terrain.surface.overlay import overlay_faces
from terrain.surface.patches import Surface, picked
from terrain.surface.ready import facing, fineness, plan_neighbours, spots
from terrain.surface.tin import triangle_faces
from terrain.surface.tin_record import SNAP, Tin
from terrain.surface.triangulate import triangulate


@dataclass(frozen=True, slots=True, kw_only=True)
class Overhang:
    """Ground under another sheet: its plan area, a spot (2,) in it, how high the highest hangs."""

    area: float
    spot: FloatArray
    height: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """The lowest sheet: triangles (m, 3) over points (n, 3), all facing up, none above another.

    Args:
        points: those given, in place but for what had to be snapped, and new ones after them.
        corners: the triangles.
        made: how many of the points are new.
        overhangs: what lies under other sheets, the largest first.
    """

    points: FloatArray
    corners: IntArray
    made: int
    overhangs: tuple[Overhang, ...]


def lowest_sheet(points: FloatArray, corners: IntArray, pairs: IntArray) -> Sheet:
    """The lowest of what triangles that face up cover, in length units of `points`.

    Borders between sheets lie where they do, within `fineness`. Where a point stands on a
    side of other triangles these are split there, so that all sides meet whole.

    Args:
        points: (n, 3) in the local frame.
        corners: (m, 3) of each triangle.
        pairs: `overlaps` of them, wider than `fineness`.

    Raises:
        SurfaceError: edges cross so closely that they can't be told apart.
    """
    touched = _touched(points, corners, pairs)
    if not touched.any():
        return Sheet(points=points, corners=corners, made=0, overhangs=())
    own = corners[touched]
    network = _network(points, own, _crossings(triangle_faces(points, corners), np.unique(pairs)))
    snapped = _snapped(points, network, own)
    pieces = _lowest_pieces(snapped, own)
    settled = _settled(points, snapped, pieces.nodes)
    every, mended = _corners(settled, pieces)
    kept = corners[~touched]
    kept = kept[facing(every, kept) > 0]
    return Sheet(
        points=every,
        corners=np.concatenate([kept, mended]).astype(np.int32),
        made=len(every) - len(points),
        overhangs=_overhangs(every, mended, pieces.hung),
    )


def _touched(points: FloatArray, corners: IntArray, pairs: IntArray) -> BoolArray:
    """The triangles (m,) that share ground, or that have points of others on their sides."""
    touched = np.zeros(len(corners), dtype=np.bool_)
    touched[pairs] = True
    neighbours = plan_neighbours(points, corners)
    triangle, side = np.nonzero(neighbours < 0)
    begin, end = corners[triangle, side], corners[triangle, (side + 1) % 3]
    spot = spots(points)
    rim = np.unique(begin)
    lines = shapely.linestrings(np.stack([points[begin, :2], points[end, :2]], axis=1))
    at, line = shapely.STRtree(lines).query(
        shapely.points(points[rim, :2]), predicate="dwithin", distance=fineness(points)
    )
    strange = (spot[rim[at]] != spot[begin[line]]) & (spot[rim[at]] != spot[end[line]])
    touched[triangle[line[strange]]] = True
    touched |= np.isin(spot[corners], spot[rim[at[strange]]]).any(axis=1)
    beside = neighbours[touched]
    touched[beside[beside >= 0]] = True
    return touched


def _crossings(faces: Surface, overlapping: IntArray) -> FloatArray:
    """The lines (k, 2, 2) in plan along which sheets cross."""
    some = picked(faces, overlapping)
    parts = overlay_faces(some, some)
    owner = np.repeat(np.arange(len(parts)), np.diff(parts.start))
    following = np.arange(1, len(parts.ring) + 1)
    following[parts.start[1:] - 1] = parts.start[:-1]
    level = (parts.depth == 0.0) & (parts.depth[following] == 0.0)
    level &= (parts.side[owner] > 0) & (parts.a[owner] != parts.b[owner])
    lines: FloatArray = np.stack([parts.ring[level], parts.ring[following[level]]], axis=1)
    return lines


def _network(points: FloatArray, own: IntArray, crossings: FloatArray) -> Tin:
    """Triangles over all pieces between the sides and crossings; their heights are nought."""
    sides = np.concatenate([own[:, [0, 1]], own[:, [1, 2]], own[:, [2, 0]]])
    sides = np.unique(np.sort(sides, axis=1), axis=0)
    lines = np.concatenate([points[sides, :2], crossings])
    drawn = shapely.union_all(shapely.linestrings(lines), grid_size=fineness(points))
    ends, owner = shapely.get_coordinates(shapely.get_parts(drawn), return_index=True)
    nodes, node = np.unique(ends, axis=0, return_inverse=True)
    onward = owner[1:] == owner[:-1]
    edges = np.column_stack([node[:-1][onward], node[1:][onward]]).astype(np.int32)
    flat = np.column_stack([nodes, np.zeros(len(nodes))])
    return triangulate(flat, np.arange(len(nodes), dtype=np.int32), edges)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Snapped:
    """Points (n, 3) at the nodes of a network; `node` (n,) is which, -1 for points not in it."""

    points: FloatArray
    node: IntArray
    network: Tin


def _snapped(points: FloatArray, network: Tin, own: IntArray) -> _Snapped:
    """All points on the spots of the touched triangles' corners, at the nodes next to them."""
    spot = spots(points)
    held = np.flatnonzero(np.isin(spot, spot[np.unique(own)]))
    node = np.full(len(points), -1, dtype=np.int64)
    _, node[held] = cKDTree(network.points[:, :2]).query(points[held, :2])
    return _at_nodes(points, node, network)


def _at_nodes(points: FloatArray, node: IntArray, network: Tin) -> _Snapped:
    held = node >= 0
    placed = points.copy()
    placed[held, :2] = network.points[node[held], :2]
    return _Snapped(points=placed, node=node, network=network)


def _settled(points: FloatArray, snapped: _Snapped, nodes: IntArray) -> _Snapped:
    """Nodes where the points stood before snapping, unless that turns a sliver of them over."""
    held = np.flatnonzero(snapped.node >= 0)
    back = snapped.network.points.copy()
    back[snapped.node[held], :2] = points[held, :2]
    if not (facing(back, nodes) > 0).all():
        return snapped
    return _at_nodes(points, snapped.node, replace(snapped.network, points=back))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pieces:
    """Pieces of the lowest sheet.

    Args:
        nodes: (m, 3) their corners.
        source: (m, 3) the points of the triangle each is part of.
        hung: (m,) by how much the highest sheet is above each.
    """

    nodes: IntArray
    source: IntArray
    hung: FloatArray


def _lowest_pieces(snapped: _Snapped, own: IntArray) -> _Pieces:
    """Each triangle of the network given to the lowest of the triangles over its middle."""
    sound = own[facing(snapped.points, own) > 0]
    plane = triangle_faces(snapped.points, sound).plane
    network = snapped.network
    middle = network.points[network.triangles, :2].mean(axis=1)
    piece, over = shapely.STRtree(shapely.polygons(snapped.points[sound][:, :, :2])).query(
        shapely.points(middle), predicate="dwithin", distance=fineness(snapped.points)
    )
    upward = _upward(plane[over], middle[piece])
    order = np.lexsort((upward, piece))
    piece, over, upward = piece[order], over[order], upward[order]
    first = np.flatnonzero(np.concatenate([[True], piece[1:] != piece[:-1]]))
    last = np.append(first[1:], len(piece)) - 1
    return _Pieces(
        nodes=network.triangles[piece[first]],
        source=sound[over[first]],
        hung=upward[last] - upward[first],
    )


def _upward(plane: FloatArray, plan: FloatArray) -> FloatArray:
    rise: FloatArray = plane[:, 2] + (plane[:, 3:] * (plan - plane[:, :2])).sum(axis=1)
    return rise


def _corners(settled: _Snapped, pieces: _Pieces) -> tuple[FloatArray, IntArray]:
    """All points, new ones last, and the corners (m, 3) of the pieces.

    A corner is the point that its own triangle has there, or another at the same height, or new.
    """
    nodes, sources = pieces.nodes, pieces.source
    plane = triangle_faces(settled.points, sources).plane
    plan = settled.network.points[:, :2]
    heights = np.column_stack([_upward(plane, plan[nodes[:, k]]) for k in range(3)])
    same = settled.node[sources][:, None, :] == nodes[:, :, None]
    found = np.where(same.any(axis=2), np.take_along_axis(sources, same.argmax(axis=2), 1), -1)
    given = np.flatnonzero(settled.node >= 0)
    wanted = found < 0
    node = np.concatenate([settled.node[given], nodes[wanted]])
    height = np.concatenate([settled.points[given, 2], heights[wanted]])
    order = np.lexsort((height, node))
    fresh = np.ones(len(order), dtype=np.bool_)
    fresh[1:] = (np.diff(node[order]) != 0) | (np.diff(height[order]) > SNAP)
    group = np.empty(len(order), dtype=np.int64)
    group[order] = np.cumsum(fresh) - 1
    stands = np.full(int(fresh.sum()), -1, dtype=np.int64)
    stands[group[: len(given)][::-1]] = given[::-1]
    new = np.flatnonzero(stands < 0)
    stands[new] = len(settled.points) + np.arange(len(new))
    found[wanted] = stands[group[len(given) :]]
    some = order[fresh][new]
    made = np.column_stack([plan[node[some]], height[some]])
    return np.concatenate([settled.points, made]), found


def _overhangs(points: FloatArray, mended: IntArray, hung: FloatArray) -> tuple[Overhang, ...]:
    """The pieces under another sheet, by connected patch."""
    under = np.flatnonzero(hung > SNAP)
    if not len(under):
        return ()
    corners = mended[under]
    neighbours = plan_neighbours(points, corners)
    one, side = np.nonzero(neighbours >= 0)
    linked = coo_array(
        (np.ones(len(one)), (one, neighbours[one, side])), shape=(len(under), len(under))
    )
    count, patch = connected_components(linked, directed=False)
    a, b, c = (points[corners[:, k], :2] for k in range(3))
    area = 0.5 * ((b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0])
    whole = np.bincount(patch, area, count)
    height = np.zeros(count)
    np.maximum.at(height, patch, hung[under])
    largest = np.zeros(count, dtype=np.int64)
    by_area = np.argsort(area, kind="stable")
    largest[patch[by_area]] = by_area
    spot = (a + b + c)[largest] / 3
    return tuple(
        Overhang(area=float(whole[k]), spot=spot[k], height=float(height[k]))
        for k in np.argsort(-whole, kind="stable")
    )
