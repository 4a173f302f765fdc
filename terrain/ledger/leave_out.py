"""What the ground does between shots, seen by leaving shots out of the survey.

A shot that is left out stands over a triangle of the others; how far it lies off that triangle's
plane is what would have been missed there. Each shot is left out alone, which asks about gaps just
wider than the survey's own; then every second and every third of four are, for wider ones.
"""

from dataclasses import dataclass, fields

import numpy as np
from scipy.spatial import cKDTree

from terrain.base.arrays import BoolArray, FloatArray, IntArray
from terrain.base.errors import SurfaceError
from terrain.ledger.ground import Ground
from terrain.ledger.hats import shares_and_slope
from terrain.ledger.weights import Spots
from terrain.surface.compiled import compiled
from terrain.surface.hilbert import hilbert_order
from terrain.surface.locate import triangles_at
from terrain.surface.triangulate import triangulate

MOST_SHOTS = 1500
"""Shots near the dig that are left out; more would tell no more."""
FEWEST_NEAR = 60
MOST_NEIGHBOURS = 30
"""A shot with more neighbours than this is not left out alone: rare, and dear to try."""
ROUNDING = 1e-9
THINNED = (2, 4)
NO_EDGES = np.zeros((0, 2), dtype=np.int32)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LeftOut:
    """Shots left out, each over a triangle of others.

    Args:
        shot: (n,), the point left out.
        others: (n, 3), the points whose triangle it stands over.
        share: (n, 3), what each of these counts there.
        miss: (n,), its height over their plane, in length units.
        slope: (n, 2), of that plane.
    """

    shot: IntArray
    others: IntArray
    share: FloatArray
    miss: FloatArray
    slope: FloatArray

    def __len__(self) -> int:
        return len(self.shot)


def left_out(ground: Ground, spots: Spots) -> tuple[LeftOut, ...]:
    """Shots near a cut left out alone, then by halves, then by three quarters.

    Points that lines run through are never left out: a line is where the ground bends, and someone
    went there for that.

    Args:
        ground: the ground as surveyed.
        spots: what stands for the cut.
    """
    near = _near(ground, spots)
    free = np.ones(len(ground.points), dtype=np.bool_)
    if ground.on_line is not None:
        free[ground.on_line] = False
    found = [_alone(ground, near[free[near]])]
    near = _run(near, ground.points)
    for step in THINNED:
        parts = [_thinned(ground, near, free, (step, first)) for first in range(step)]
        found.append(_joined(parts))
    return tuple(found)


def _near(ground: Ground, spots: Spots) -> IntArray:
    """The points of the ground in the cut, about as far round it as it is wide, and more if few."""
    plan = ground.points[:, :2]
    reach = float(np.sqrt(np.abs(spots.area).sum())) / 2
    is_used = np.zeros(len(plan), dtype=np.bool_)
    is_used[ground.triangles] = True
    used = np.flatnonzero(is_used)
    low, high = spots.at.min(axis=0), spots.at.max(axis=0)
    outside = np.maximum(np.maximum(low - plan[used], plan[used] - high), 0.0).max(axis=1)
    within = used[outside <= reach]
    if len(within) < FEWEST_NEAR:
        return np.sort(used[np.argsort(outside, kind="stable")[:FEWEST_NEAR]])
    if len(within) > 20 * MOST_SHOTS:
        return np.asarray(within)
    away = cKDTree(spots.at).query(plan[within])[0]
    order = np.argsort(away, kind="stable")
    kept = max(FEWEST_NEAR, int(np.sum(away <= reach)))
    return np.sort(within[order[:kept]])


def _run(near: IntArray, points: FloatArray) -> IntArray:
    """The points in Hilbert order; of many, a run that lies together."""
    ordered = near[hilbert_order(points[near, :2])]
    first = max((len(ordered) - MOST_SHOTS) // 2, 0)
    return np.asarray(ordered[first : first + MOST_SHOTS])


def _alone(ground: Ground, chosen: IntArray) -> LeftOut:
    """Each chosen point left out by itself: the triangle of its neighbours that it stands over.

    Of all triangles of the points round the gap that hold the place, the Delaunay triangle is the
    one under which the paraboloid e^2 + n^2 lies lowest there.
    """
    if len(chosen) > MOST_SHOTS:
        chosen = chosen[np.linspace(0, len(chosen) - 1, MOST_SHOTS).astype(np.int64)]
    shot, ring, degree = _rings(ground.triangles, chosen)
    others = np.full((len(shot), 3), -1, dtype=np.int64)
    _fill_lowest(np.ascontiguousarray(ground.points[:, :2]), shot, ring, degree, others)
    kept = others[:, 0] >= 0
    return _measured(ground.points, shot[kept], others[kept])


def _rings(triangles: IntArray, chosen: IntArray) -> tuple[IntArray, IntArray, IntArray]:
    """Those of the chosen that the ground surrounds, their neighbours, and how many these are."""
    wanted = np.zeros(int(triangles.max()) + 1, dtype=np.bool_)
    wanted[chosen] = True
    touching = triangles[wanted[triangles].any(axis=1)].astype(np.int64)
    middle = np.concatenate([touching[:, k] for k in range(3)])
    ahead = np.concatenate([touching[:, (k + 1) % 3] for k in range(3)])
    behind = np.concatenate([touching[:, (k + 2) % 3] for k in range(3)])
    own = wanted[middle]
    middle, ahead, behind = middle[own], ahead[own], behind[own]
    order = np.argsort(middle, kind="stable")
    middle, ahead, behind = middle[order], ahead[order], behind[order]
    shot, first, degree = np.unique(middle, return_index=True, return_counts=True)
    place = np.arange(len(middle)) - np.repeat(first, degree)
    ring = np.full((len(shot), int(degree.max(initial=0))), -1, dtype=np.int64)
    after = ring.copy()
    row = np.repeat(np.arange(len(shot)), degree)
    ring[row, place], after[row, place] = ahead, behind
    # all round, every neighbour comes once ahead and once behind
    closed = (np.sort(ring, axis=1) == np.sort(after, axis=1)).all(axis=1)
    kept = closed & (degree <= MOST_NEIGHBOURS)
    return shot[kept], ring[kept], degree[kept]


@compiled
def _fill_lowest(
    plan: FloatArray, shot: IntArray, ring: IntArray, degree: IntArray, others: IntArray
) -> None:
    """Write for each shot the three of its neighbours under which the paraboloid lies lowest."""
    for row in range(len(shot)):
        e, n = plan[shot[row], 0], plan[shot[row], 1]
        lowest = np.inf
        for i in range(degree[row]):
            a = ring[row, i]
            ae, an = plan[a, 0] - e, plan[a, 1] - n
            for j in range(i + 1, degree[row]):
                b = ring[row, j]
                be, bn = plan[b, 0] - e, plan[b, 1] - n
                of_c = ae * bn - an * be
                for k in range(j + 1, degree[row]):
                    c = ring[row, k]
                    ce, cn = plan[c, 0] - e, plan[c, 1] - n
                    of_a, of_b = be * cn - bn * ce, ce * an - cn * ae
                    twice = of_a + of_b + of_c
                    least = -ROUNDING * abs(twice)
                    sign = 1.0 if twice > 0 else -1.0
                    if twice == 0 or min(sign * of_a, sign * of_b, sign * of_c) < least:
                        continue
                    height = of_a * (ae * ae + an * an) + of_b * (be * be + bn * bn)
                    height = (height + of_c * (ce * ce + cn * cn)) / twice
                    if height < lowest:
                        lowest = height
                        others[row, 0], others[row, 1], others[row, 2] = a, b, c


def _thinned(ground: Ground, near: IntArray, free: BoolArray, which: tuple[int, int]) -> LeftOut:
    """One of every so many points kept, and those on lines; the others left out all at once."""
    step, first = which
    held = np.zeros(len(near), dtype=np.bool_)
    held[first::step] = True
    held |= ~free[near]
    kept, out = near[held], near[~held]
    if len(kept) < 4 or len(out) == 0:
        return _nothing()
    try:
        tin = triangulate(ground.points[kept], np.arange(len(kept), dtype=np.int32), NO_EDGES)
    except SurfaceError:  # all in one line, or two on one spot
        return _nothing()
    triangle = triangles_at(tin, ground.points[out, :2])
    inside = triangle >= 0
    return _measured(ground.points, out[inside], kept[tin.shot[tin.triangles[triangle[inside]]]])


def _measured(points: FloatArray, shot: IntArray, others: IntArray) -> LeftOut:
    others = others.reshape(-1, 3)
    share, slope = shares_and_slope(points, others, points[shot, :2])
    miss = points[shot, 2] - np.sum(share * points[others, 2], axis=1)
    return LeftOut(shot=shot, others=others, share=share, miss=miss, slope=slope)


def _nothing() -> LeftOut:
    none, three = np.zeros(0, dtype=np.int64), np.zeros((0, 3))
    return LeftOut(
        shot=none, others=none.reshape(0, 3), share=three, miss=np.zeros(0), slope=np.zeros((0, 2))
    )


def _joined(parts: list[LeftOut]) -> LeftOut:
    if not parts:
        return _nothing()
    return LeftOut(
        **{f.name: np.concatenate([getattr(p, f.name) for p in parts]) for f in fields(LeftOut)}
    )
