"""Lines without elevations laid on the ground: a point at every triangle side they cross."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from terrain.base.arrays import BoolArray, FloatArray, IntArray
from terrain.surface.breaklines import GROUND, Network, merged
from terrain.surface.kernel import compiled
from terrain.surface.locate import Buckets, TriangleGrid, heights_at, triangle_grid, triangles_at
from terrain.surface.tin_record import SNAP, GroundNote, LineKind, PlanLine, Tin

NONE = np.array([-1], dtype=np.int32)


@dataclass(frozen=True, slots=True, kw_only=True)
class Draped:
    """A line as it lies on a TIN.

    Args:
        points: (j, 3), along the line: its own corners on the ground and every side it crosses.
        vertex: (j,) int32, the TIN's point where the line passes through one, else -1.
        edges: (k, 2) int32, pairs of `points` with ground between them.
        triangles: (t,) int32, the triangles under those edges.
        length_outside: how much of the line, in plan, has no ground under it.
    """

    points: FloatArray
    vertex: IntArray
    edges: IntArray
    triangles: IntArray
    length_outside: float


@compiled
def _near_segment(ends: FloatArray, grid: Buckets, seen: BoolArray) -> None:
    """Mark in `seen` the triangles in every bucket the segment runs through."""
    low, cell, columns, rows, start, item = grid
    e0, n0, e1, n1 = ends[0, 0], ends[0, 1], ends[1, 0], ends[1, 1]
    if n0 > n1:
        e0, n0, e1, n1 = e1, n1, e0, n0
    margin = 1e-6 * cell
    first = max(int((n0 - margin - low[1]) / cell), 0)
    last = min(int((n1 + margin - low[1]) / cell), rows - 1)
    for row in range(first, last + 1):
        t0, t1 = 0.0, 1.0
        if n1 - n0 > margin:
            t0 = max((low[1] + row * cell - margin - n0) / (n1 - n0), 0.0)
            t1 = min((low[1] + (row + 1) * cell + margin - n0) / (n1 - n0), 1.0)
        a, b = e0 + t0 * (e1 - e0), e0 + t1 * (e1 - e0)
        begin = max(int((min(a, b) - margin - low[0]) / cell), 0)
        end = min(int((max(a, b) + margin - low[0]) / cell), columns - 1)
        for bucket in range(row * columns + begin, row * columns + end + 1):
            for at in range(start[bucket], start[bucket + 1]):
                seen[item[at]] = True


def _stations(
    tin: Tin, ends: FloatArray, near: NDArray[np.int64]
) -> tuple[FloatArray, FloatArray, IntArray]:
    """Where a segment meets the sides and corners of the triangles `near` it, in order along it.

    Returns how far along (s,), 0 to 1, the points (s, 3) and the TIN's points they are or -1.
    """
    sides = tin.triangles[near][:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2)
    sides = np.unique(np.sort(sides, axis=1), axis=0)
    direction = ends[1] - ends[0]
    length = float(np.hypot(*direction))
    corners = np.unique(sides)
    offset = tin.points[corners, :2] - ends[0]
    along = offset @ direction / length
    off = (direction[0] * offset[:, 1] - direction[1] * offset[:, 0]) / length
    touched = (np.abs(off) <= SNAP) & (along >= -SNAP) & (along <= length + SNAP)
    at_corner, on_line = np.clip(along[touched] / length, 0, 1), corners[touched]
    place = np.searchsorted(corners, sides)
    crossed = (off[place[:, 0]] > 0) != (off[place[:, 1]] > 0)
    crossed &= ~touched[place].any(axis=1)
    sides, place = sides[crossed], place[crossed]
    share = off[place[:, 0]] / (off[place[:, 0]] - off[place[:, 1]])
    first, second = tin.points[sides[:, 0]], tin.points[sides[:, 1]]
    point = first + share[:, None] * (second - first)
    at_side = (point[:, :2] - ends[0]) @ direction / length**2
    inside = (at_side > SNAP / length) & (at_side < 1 - SNAP / length)
    at = np.concatenate([at_corner, at_side[inside]])
    points = np.concatenate([tin.points[on_line], point[inside]])
    vertex = np.concatenate([on_line, np.full(np.count_nonzero(inside), -1)]).astype(np.int32)
    order = np.argsort(at, kind="stable")
    return at[order], points[order], vertex[order]


def _lay_segment(
    tin: Tin, grid: TriangleGrid, ends: FloatArray
) -> tuple[FloatArray, IntArray, IntArray, float]:
    """One segment's points, which of them the TIN has, the triangle after each, length outside.

    The triangle after a point is that under the way to the next point, -1 for none.
    """
    seen = np.zeros(len(tin), dtype=np.bool_)
    _near_segment(ends, grid.arrays, seen)
    _, points, vertex = _stations(tin, ends, np.flatnonzero(seen))
    own = np.column_stack([ends, heights_at(tin, ends, grid)])
    if not len(points) or np.hypot(*(points[0, :2] - ends[0])) > SNAP:
        points, vertex = np.concatenate([own[:1], points]), np.append(NONE, vertex)
    if len(points) < 2 or np.hypot(*(points[-1, :2] - ends[1])) > SNAP:
        points, vertex = np.concatenate([points, own[1:]]), np.append(vertex, NONE)
    middle = (points[1:, :2] + points[:-1, :2]) / 2
    under = triangles_at(tin, middle, grid)
    steps = np.hypot(*np.diff(points[:, :2], axis=0).T)
    return points, vertex, np.append(under, -1), float(steps[under < 0].sum())


def drape(tin: Tin, plan: FloatArray, grid: TriangleGrid | None = None) -> Draped:
    """The line through plan points (k, 2) with the heights of the TIN under it.

    Ground has to be under both ends of an edge and its middle; what lies outside is left out.
    `grid`, from `triangle_grid`, saves time when many lines are laid.
    """
    grid = grid or triangle_grid(tin)
    plan = np.asarray(plan, dtype=np.float64).reshape(-1, 2)
    moved = np.hypot(*np.diff(plan, axis=0).T) > SNAP
    plan = plan[np.concatenate([[True], moved])] if len(plan) else plan
    runs = [_lay_segment(tin, grid, plan[i : i + 2]) for i in range(len(plan) - 1)]
    if not runs:
        none = np.zeros(0, dtype=np.int32)
        return Draped(
            points=np.zeros((0, 3)), vertex=none, edges=none.reshape(0, 2), triangles=none,
            length_outside=0.0,
        )  # fmt: skip
    points = np.concatenate([run[0] for run in runs])
    under = np.concatenate([run[2] for run in runs])
    # the last point of a segment is the first of the next: `merged` makes them one later
    good = (under[:-1] >= 0) & np.isfinite(points[:-1, 2]) & np.isfinite(points[1:, 2])
    begin = np.flatnonzero(good).astype(np.int32)
    return Draped(
        points=points,
        vertex=np.concatenate([run[1] for run in runs]),
        edges=np.stack([begin, begin + 1], axis=1),
        triangles=np.unique(under[under >= 0]).astype(np.int32),
        length_outside=sum(run[3] for run in runs),
    )


def lay_lines(
    base: Tin, network: Network, plan_lines: Sequence[PlanLine], first_owner: int
) -> Network:
    """The network with lines laid on its TIN, and the sides of the triangles under them kept.

    `base.shot` gives for each point of the TIN its place in the network. The lines' edges belong
    to owners `first_owner`, `first_owner + 1` and so on.
    """
    grid = triangle_grid(base)
    laid = [drape(base, _whole_plan(line), grid) for line in plan_lines]
    made, number = _made_points(laid, len(network.points))
    edges, owners, used = [network.edges], [network.owner], 0
    for at, one in enumerate(laid):
        place = base.shot[one.vertex].astype(np.int64)
        fresh = int(np.count_nonzero(one.vertex < 0))
        place[one.vertex < 0] = number[used : used + fresh]
        used += fresh
        corners = base.shot[base.triangles[one.triangles]]
        sides = corners[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2)
        edges += [place[one.edges].astype(np.int32), sides]
        owners.append(np.full(len(one.edges), first_owner + at, dtype=np.int32))
        owners.append(np.full(len(sides), GROUND, dtype=np.int32))
    return Network(
        points=np.concatenate([network.points, made]),
        edges=np.concatenate(edges),
        owner=np.concatenate(owners),
        notes=network.notes + _outside_notes(laid, plan_lines),
    )


def _whole_plan(line: PlanLine) -> FloatArray:
    """The line's corners, the first again at the end if it closes."""
    plan = np.asarray(line.plan, dtype=np.float64).reshape(-1, 2)
    return plan if line.kind is LineKind.BREAKLINE else np.concatenate([plan, plan[:1]])


def _made_points(laid: Sequence[Draped], count: int) -> tuple[FloatArray, NDArray[np.int64]]:
    """The points on the ground that no TIN point is, those on one spot once, and their numbers.

    Numbers go on from `count`, in the order of the lines; -1 for a point off the ground.
    """
    points = np.concatenate([one.points[one.vertex < 0] for one in laid])
    on_ground = np.isfinite(points[:, 2])
    number = np.full(len(points), -1, dtype=np.int64)
    made = points[on_ground]
    if len(made):
        made, which = merged(made)
        number[on_ground] = which + count
    return made, number


def _outside_notes(
    laid: Sequence[Draped], plan_lines: Sequence[PlanLine]
) -> tuple[GroundNote, ...]:
    return tuple(
        GroundNote(
            code="line_outside_ground",
            message=f"The {line.label} leaves the ground over {one.length_outside:.2f} of its "
            "length; only the part on the ground counts.",
        )
        for line, one in zip(plan_lines, laid, strict=True)
        if one.length_outside > SNAP
    )
