"""A constrained Delaunay triangulation from its definition, for a few hundred shots.

Shortest edges first, lines kept whole, then every edge that is no line and not locally Delaunay
is flipped until none is left (Lawson 1977, from memory): what remains is the one constrained
Delaunay triangulation, ties of four shots on a circle apart.
"""

import itertools

import numpy as np
from shapely.geometry import Polygon

from tests.oracles.faces import Face, plane_through


def side_of(a: np.ndarray, b: np.ndarray, c: np.ndarray) -> np.ndarray:
    """Twice the signed area of a, b, c: positive when they turn left."""
    return (b[..., 0] - a[..., 0]) * (c[..., 1] - a[..., 1]) - (b[..., 1] - a[..., 1]) * (
        c[..., 0] - a[..., 0]
    )


def all_edges(plan: np.ndarray, lines: list[tuple[int, int]]) -> np.ndarray:
    """A greedy triangulation's edges (n, 2): the lines, then the shortest that cross nothing."""
    pairs = np.array(list(itertools.combinations(range(len(plan)), 2)))
    length = np.linalg.norm(plan[pairs[:, 0]] - plan[pairs[:, 1]], axis=1)
    wanted = [tuple(sorted(line)) for line in lines]
    wanted += [tuple(pair) for pair in pairs[np.argsort(length)]]
    kept = np.zeros((0, 2), dtype=int)
    seen: set[tuple[int, ...]] = set()
    for a, b in wanted:
        if (a, b) in seen:
            continue
        if not _crosses(plan, a, b, kept):
            kept = np.vstack([kept, [[a, b]]])
            seen.add((a, b))
    return kept


def _crosses(plan: np.ndarray, a: int, b: int, kept: np.ndarray) -> bool:
    if not len(kept):
        return False
    apart = ~((kept == a) | (kept == b)).any(axis=1)
    c, d = plan[kept[apart, 0]], plan[kept[apart, 1]]
    p, q = plan[a], plan[b]
    first = side_of(p[None], q[None], c) * side_of(p[None], q[None], d)
    second = side_of(c, d, p[None]) * side_of(c, d, q[None])
    return bool(((first < 0) & (second < 0)).any())


def triangles(plan: np.ndarray, lines: list[tuple[int, int]]) -> np.ndarray:
    """The constrained Delaunay triangles (n, 3) of plan points, counter-clockwise."""
    fixed = {tuple(sorted(line)) for line in lines}
    edges = {tuple(int(v) for v in e) for e in all_edges(plan, lines)}
    for _ in range(10000):
        if not _flip_one(plan, edges, fixed):
            break
    near = _neighbours(edges)
    found = []
    for a, b in edges:
        for c in _ends(plan, near, a, b):
            found.append(tuple(sorted((a, b, c))))
    out = []
    for a, b, c in sorted(set(found)):
        out.append((a, b, c) if side_of(plan[a], plan[b], plan[c]) > 0 else (a, c, b))
    return np.array(out)


def _neighbours(edges: set[tuple[int, ...]]) -> dict[int, set[int]]:
    near: dict[int, set[int]] = {}
    for a, b in edges:
        near.setdefault(a, set()).add(b)
        near.setdefault(b, set()).add(a)
    return near


def _ends(plan: np.ndarray, near: dict[int, set[int]], a: int, b: int) -> list[int]:
    """On either side of edge a-b the corner of its triangle, if it has one there."""
    out = []
    shared = near[a] & near[b]
    for sign in (1, -1):
        here = [c for c in shared if sign * side_of(plan[a], plan[b], plan[c]) > 0]
        for c in here:
            inside = [d for d in here if d != c and _holds(plan, (a, b, c), d)]
            if not inside:
                out.append(c)
                break
    return out


def _holds(plan: np.ndarray, corners: tuple[int, int, int], point: int) -> bool:
    a, b, c = (plan[i] for i in corners)
    turns = [side_of(p, q, plan[point]) for p, q in ((a, b), (b, c), (c, a))]
    return bool(min(turns) > 0 or max(turns) < 0)


def _flip_one(plan: np.ndarray, edges: set[tuple[int, ...]], fixed: set[tuple[int, ...]]) -> bool:
    near = _neighbours(edges)
    flipped = False
    for a, b in sorted(edges - fixed):
        ends = _ends(plan, near, a, b)
        if len(ends) < 2:
            continue
        c, d = ends
        if _in_circle(plan[a], plan[b], plan[c], plan[d]):
            edges.discard((a, b))
            edges.add(tuple(sorted((c, d))))
            near[a].discard(b)
            near[b].discard(a)
            near[c].add(d)
            near[d].add(c)
            flipped = True
    return flipped


def _in_circle(a: np.ndarray, b: np.ndarray, c: np.ndarray, d: np.ndarray) -> bool:
    """Whether d is inside the circle through a, b, c (counter-clockwise)."""
    rows = [[*(p - d), (p - d) @ (p - d)] for p in (a, b, c)]
    return bool(np.linalg.det(rows) * np.sign(side_of(a, b, c)) > 1e-9)


def tin_faces(points: np.ndarray, corners: np.ndarray) -> list[Face]:
    """Triangles of points (n, 3) as faces labelled with their own number."""
    return [
        Face(Polygon(points[t][:, :2]), plane_through(points[t]), i) for i, t in enumerate(corners)
    ]
