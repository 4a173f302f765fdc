"""Shots far from the surface their neighbours make: reported, never dropped.

A shot is left out and foretold from the shots round it in several ways: by a plane through all of
them, by each pair of them that has the shot between, by the plane of each triangle just beyond.
It is off by the *least* of its misses. So the shots beside a spike are not blamed for it, and
neither is honest ground that bends: along a ditch, a curb or a ridge the next shots of the same
line foretell it, at the corner of a pad the pad does. Busts in a row vouch for one another and
are not found.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from terrain.base.arrays import FloatArray, IntArray
from terrain.surface.kernel import compiled
from terrain.surface.tin_record import Tin

Int64 = NDArray[np.int64]

MOST_NEIGHBOURS = 96
"""Neighbours looked at round one shot; what a hub of still more of them says changes nothing."""
BETWEEN = -0.5
"""Cosine of the least angle (120 degrees) between two neighbours that have the shot between."""
FARTHEST = 3.0
"""A triangle foretells a shot no farther off than so many times its own size."""
NORMAL_SCALE = 1.4826
"""Standard deviations of a normal law in one median absolute deviation."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Spike:
    """A shot that stands out: its index, elevation, and how far above (+) or below its ground."""

    shot: int
    elevation: float
    off: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SpikeLimits:
    """From when on a shot is called a spike; it has to pass all three. Common practice, no source.

    Args:
        least: length units off, whatever the ground is like.
        times_scale: times the standard deviation of all shots' misses, robustly estimated.
        times_near: times the median miss of the shots round it, so that rough ground is not
            blamed for being rough.
    """

    least: float = 1.0
    times_scale: float = 6.0
    times_near: float = 3.0


@compiled
def _ring(
    triangles: IntArray, neighbours: IntArray, seed: int, point: int, found: tuple[Int64, Int64]
) -> tuple[int, int]:
    """Fill `found`, ring and beyond, with the points round a point and the triangles past them.

    Counter-clockwise, from the rim of the ground if the point is on it. `beyond[i]` lies across
    from the point, past the side from `ring[i]`, -1 for none. Returns how many of each.
    """
    ring, beyond = found
    t = seed
    while True:
        k = 0
        while triangles[t, k] != point:
            k += 1
        before = neighbours[t, k]
        if before < 0 or before == seed:
            break
        t = before
    first, points, sides = t, 0, 0
    while points < MOST_NEIGHBOURS - 1:
        k = 0
        while triangles[t, k] != point:
            k += 1
        ring[points] = triangles[t, (k + 1) % 3]
        beyond[sides] = neighbours[t, (k + 1) % 3]
        points += 1
        sides += 1
        after = neighbours[t, (k + 2) % 3]
        if after < 0:
            ring[points] = triangles[t, (k + 2) % 3]
            points += 1
            break
        if after == first:
            break
        t = after
    return points, sides


@compiled
def _plane_round(offset: FloatArray, count: int) -> tuple[float, float, float]:
    """The height at nought and gradient of the plane nearest to `offset` rows (east, north, up).

    Least squares with weight one over distance squared, about the weighted middle.
    """
    total, east, north, up = 0.0, 0.0, 0.0, 0.0
    for i in range(count):
        weight = 1.0 / (offset[i, 0] ** 2 + offset[i, 1] ** 2)
        total += weight
        east += weight * offset[i, 0]
        north += weight * offset[i, 1]
        up += weight * offset[i, 2]
    east, north, up = east / total, north / total, up / total
    ee, nn, en, eu, nu = 0.0, 0.0, 0.0, 0.0, 0.0
    for i in range(count):
        weight = 1.0 / (offset[i, 0] ** 2 + offset[i, 1] ** 2)
        e, n, u = offset[i, 0] - east, offset[i, 1] - north, offset[i, 2] - up
        ee, nn, en = ee + weight * e * e, nn + weight * n * n, en + weight * e * n
        eu, nu = eu + weight * e * u, nu + weight * n * u
    determinant = ee * nn - en * en
    if determinant <= 1e-6 * (ee + nn) ** 2:
        return up, 0.0, 0.0
    per_east, per_north = (eu * nn - nu * en) / determinant, (nu * ee - eu * en) / determinant
    return up - per_east * east - per_north * north, per_east, per_north


@compiled
def _nearer(best: float, other: float) -> float:
    return other if abs(other) < abs(best) else best


@compiled
def _miss_of_pairs(
    offset: FloatArray, count: int, per_east: float, per_north: float, best: float
) -> float:
    """The least miss by pairs with nought between; off their chord the gradient helps out."""
    for i in range(count):
        for j in range(i):
            e0, n0, e1, n1 = offset[i, 0], offset[i, 1], offset[j, 0], offset[j, 1]
            size = np.sqrt((e0 * e0 + n0 * n0) * (e1 * e1 + n1 * n1))
            if e0 * e1 + n0 * n1 > BETWEEN * size:
                continue
            de, dn = e1 - e0, n1 - n0
            share = -(e0 * de + n0 * dn) / (de * de + dn * dn)
            foot_e, foot_n = e0 + share * de, n0 + share * dn
            foretold = offset[i, 2] + share * (offset[j, 2] - offset[i, 2])
            foretold -= per_east * foot_e + per_north * foot_n
            best = _nearer(best, -foretold)
    return best


@compiled
def _miss_of_triangle(
    points: FloatArray, corners: IntArray, centre: FloatArray, best: float
) -> float:
    """The lesser of the miss so far and the miss by a triangle's plane, if it is near enough."""
    a, b, c = corners
    ae, an = points[a, 0] - centre[0], points[a, 1] - centre[1]
    be, bn = points[b, 0] - centre[0], points[b, 1] - centre[1]
    ce, cn = points[c, 0] - centre[0], points[c, 1] - centre[1]
    area = (be - ae) * (cn - an) - (bn - an) * (ce - ae)
    of_a, of_b, of_c = be * cn - bn * ce, ce * an - cn * ae, ae * bn - an * be
    if abs(of_a) + abs(of_b) + abs(of_c) > FARTHEST * area:
        return best
    foretold = (of_a * points[a, 2] + of_b * points[b, 2] + of_c * points[c, 2]) / area
    return _nearer(best, centre[2] - foretold)


@compiled
def _fill_misses(
    points: FloatArray, triangles: IntArray, neighbours: IntArray, seed: IntArray, miss: FloatArray
) -> None:
    """Write each point's least miss, NaN for a point in no triangle."""
    ring = np.empty(MOST_NEIGHBOURS, dtype=np.int64)
    beyond = np.empty(MOST_NEIGHBOURS, dtype=np.int64)
    offset = np.empty((MOST_NEIGHBOURS, 3))
    for p in range(points.shape[0]):
        miss[p] = np.nan
        if seed[p] < 0:
            continue
        count, sides = _ring(triangles, neighbours, seed[p], p, (ring, beyond))
        for i in range(count):
            for axis in range(3):
                offset[i, axis] = points[ring[i], axis] - points[p, axis]
        level, per_east, per_north = _plane_round(offset, count)
        best = _miss_of_pairs(offset, count, per_east, per_north, -level)
        for i in range(sides):
            if beyond[i] >= 0:
                best = _miss_of_triangle(points, triangles[beyond[i]], points[p], best)
        miss[p] = best


@compiled
def _median_miss_near(
    triangles: IntArray, neighbours: IntArray, seed: IntArray, candidates: Int64, miss: FloatArray
) -> FloatArray:
    """The median miss of the points round each candidate."""
    near = np.empty(candidates.size)
    ring = np.empty(MOST_NEIGHBOURS, dtype=np.int64)
    beyond = np.empty(MOST_NEIGHBOURS, dtype=np.int64)
    for i in range(candidates.size):
        p = candidates[i]
        count, _ = _ring(triangles, neighbours, seed[p], p, (ring, beyond))
        near[i] = np.median(np.abs(miss[ring[:count]]))
    return near


def misses(tin: Tin) -> tuple[FloatArray, IntArray]:
    """How far each point (n,) is from what its neighbours foretell, and a triangle at each.

    NaN and -1 for a point in no triangle.
    """
    seed = np.full(len(tin.points), -1, dtype=np.int32)
    seed[tin.triangles] = np.arange(len(tin), dtype=np.int32)[:, None]
    miss = np.empty(len(tin.points))
    _fill_misses(tin.points, tin.triangles, tin.neighbours, seed, miss)
    return miss, seed


def find_spikes(tin: Tin, limits: SpikeLimits | None = None) -> tuple[Spike, ...]:
    """The shots that stand out from the ground round them, the farthest off first.

    Points where the ground was made rather than shot are not reported.
    """
    limits = limits or SpikeLimits()
    miss, seed = misses(tin)
    scale = NORMAL_SCALE * float(np.nanmedian(np.abs(miss)))
    limit = max(limits.least, limits.times_scale * scale)
    candidates = np.flatnonzero((np.abs(miss) > limit) & (tin.shot >= 0))
    near = _median_miss_near(tin.triangles, tin.neighbours, seed, candidates, miss)
    spikes = candidates[np.abs(miss[candidates]) > limits.times_near * near]
    spikes = spikes[np.argsort(-np.abs(miss[spikes]), kind="stable")]
    return tuple(
        Spike(shot=int(tin.shot[p]), elevation=float(tin.points[p, 2]), off=float(miss[p]))
        for p in spikes
    )
