"""Shots far from the surface their neighbours make: reported, never dropped.

A shot is left out and foretold from the shots round it in several ways: by a plane through all of
them, by each pair of them that has the shot between, by the plane of each triangle just beyond.
What counts is the *least* of its misses. So the shots beside a spike are not blamed for it, and
neither is honest ground that bends: along a ditch, a curb or a ridge the next shots of the same
line foretell it, at the corner of a pad the pad does. On the rim, where one can only guess on,
any height between the mean and the plane of the shots beside is taken as foretold. Busts in a
row vouch for one another and are not found.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from terrain.base.arrays import BoolArray, FloatArray, IntArray
from terrain.surface.kernel import compiled
from terrain.surface.tin_record import Tin

Int64 = NDArray[np.int64]
Mesh = tuple[IntArray, IntArray, IntArray]
"""Triangles, neighbours, and a triangle at each point, -1 where there is none."""
Room = tuple[Int64, Int64, FloatArray, FloatArray]

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
    """A shot that stands out: its index, its elevation, how far above (+) or below it stands.

    `off` is the median of what its neighbours foretell, in their several ways, against it.
    """

    shot: int
    elevation: float
    off: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SpikeLimits:
    """From when on a shot is called a spike; it has to pass all three. Common practice, no source.

    Args:
        least: length units off, whatever the ground is like.
        times_scale: times the standard deviation of all shots' misses, robustly estimated; more
            where the neighbours stand farther off than is usual, with the square of the distance.
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
def _plane_round(offset: FloatArray, count: int) -> tuple[float, float, float, float]:
    """The mean height; the height at nought, per east and per north of the nearest plane.

    Least squares over `offset` rows (east, north, up), each with weight one over its distance
    squared, about the weighted middle.
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
        return up, up, 0.0, 0.0
    per_east, per_north = (eu * nn - nu * en) / determinant, (nu * ee - eu * en) / determinant
    return up, up - per_east * east - per_north * north, per_east, per_north


@compiled
def _add_pairs(
    offset: FloatArray, count: int, gradient: tuple[float, float], misses: FloatArray, made: int
) -> int:
    """Write misses by pairs with nought between; off their chord the gradient helps out."""
    for i in range(count):
        for j in range(i):
            e0, n0, e1, n1 = offset[i, 0], offset[i, 1], offset[j, 0], offset[j, 1]
            size = np.sqrt((e0 * e0 + n0 * n0) * (e1 * e1 + n1 * n1))
            if e0 * e1 + n0 * n1 > BETWEEN * size:
                continue
            de, dn = e1 - e0, n1 - n0
            share = -(e0 * de + n0 * dn) / (de * de + dn * dn)
            foretold = offset[i, 2] + share * (offset[j, 2] - offset[i, 2])
            foretold -= gradient[0] * (e0 + share * de) + gradient[1] * (n0 + share * dn)
            misses[made] = -foretold
            made += 1
    return made


@compiled
def _add_triangle(
    points: FloatArray, corners: IntArray, centre: FloatArray, misses: FloatArray, made: int
) -> int:
    """Write the miss by a triangle's plane, if the triangle is near enough for its size."""
    a, b, c = corners
    ae, an = points[a, 0] - centre[0], points[a, 1] - centre[1]
    be, bn = points[b, 0] - centre[0], points[b, 1] - centre[1]
    ce, cn = points[c, 0] - centre[0], points[c, 1] - centre[1]
    area = (be - ae) * (cn - an) - (bn - an) * (ce - ae)
    of_a, of_b, of_c = be * cn - bn * ce, ce * an - cn * ae, ae * bn - an * be
    if abs(of_a) + abs(of_b) + abs(of_c) > FARTHEST * area:
        return made
    foretold = (of_a * points[a, 2] + of_b * points[b, 2] + of_c * points[c, 2]) / area
    misses[made] = centre[2] - foretold
    return made + 1


@compiled
def _misses_of(
    points: FloatArray, mesh: Mesh, p: int, blamed: BoolArray, room: Room
) -> tuple[int, float]:
    """Write all misses of a point into `room`; how many, and how far its farthest neighbour is.

    Points that are `blamed` foretell nothing. Without two neighbours there is no miss.
    """
    triangles, neighbours, seed = mesh
    ring, beyond, offset, misses = room
    around, sides = _ring(triangles, neighbours, seed[p], p, (ring, beyond))
    count, farthest = 0, 0.0
    for i in range(around):
        if not blamed[ring[i]]:
            for axis in range(3):
                offset[count, axis] = points[ring[i], axis] - points[p, axis]
            farthest = max(farthest, np.hypot(offset[count, 0], offset[count, 1]))
            count += 1
    if count < 2:
        return 0, farthest
    mean, level, per_east, per_north = _plane_round(offset, count)
    misses[0], made = -level, 1
    if around > sides:  # on the rim the ground may go on sloping or level out
        misses[1], made = (0.0 if mean * level <= 0 else -mean), 2
    made = _add_pairs(offset, count, (per_east, per_north), misses, made)
    for i in range(sides):
        if beyond[i] >= 0:
            a, b, c = triangles[beyond[i]]
            if not (blamed[a] or blamed[b] or blamed[c]):
                made = _add_triangle(points, triangles[beyond[i]], points[p], misses, made)
    return made, farthest


@compiled
def _room() -> Room:
    """Workspace of `_misses_of`: ring, beyond, offsets, misses."""
    return (
        np.empty(MOST_NEIGHBOURS, dtype=np.int64),
        np.empty(MOST_NEIGHBOURS, dtype=np.int64),
        np.empty((MOST_NEIGHBOURS, 3)),
        np.empty(MOST_NEIGHBOURS * MOST_NEIGHBOURS),
    )


@compiled
def _fill_misses(
    points: FloatArray,
    mesh: Mesh,
    asked: Int64,
    blamed: BoolArray,
    found: tuple[FloatArray, FloatArray],
) -> None:
    """Write the least miss of each point asked for and how far its farthest neighbour is."""
    room = _room()
    for p in asked:
        count, farthest = _misses_of(points, mesh, p, blamed, room)
        least = np.inf if count else 0.0
        for miss in room[3][:count]:
            if abs(miss) < abs(least):
                least = miss
        found[0][p], found[1][p] = least, farthest


@compiled
def _median_misses(points: FloatArray, mesh: Mesh, asked: Int64, blamed: BoolArray) -> FloatArray:
    """The median of all misses of each point asked for."""
    room = _room()
    median = np.empty(asked.size)
    for i in range(asked.size):
        count, _ = _misses_of(points, mesh, asked[i], blamed, room)
        median[i] = np.median(room[3][:count])
    return median


@compiled
def _stand_out(mesh: Mesh, candidates: Int64, miss: FloatArray, times: float) -> BoolArray:
    """Which candidates miss by more than all round them, and by `times` the median of those."""
    triangles, neighbours, seed = mesh
    ring = np.empty(MOST_NEIGHBOURS, dtype=np.int64)
    beyond = np.empty(MOST_NEIGHBOURS, dtype=np.int64)
    stands = np.zeros(candidates.size, dtype=np.bool_)
    for i in range(candidates.size):
        p = candidates[i]
        count, _ = _ring(triangles, neighbours, seed[p], p, (ring, beyond))
        near = np.abs(miss[ring[:count]])
        off = abs(miss[p])
        stands[i] = off >= near.max() and off > times * np.median(near)
    return stands


def find_spikes(tin: Tin, limits: SpikeLimits | None = None) -> tuple[Spike, ...]:
    """The shots that stand out from the ground round them, the farthest off first.

    In rounds: what stands out most in its neighbourhood is blamed, and what is left is foretold
    anew without it. Points where the ground was made rather than shot are not reported.
    """
    limits = limits or SpikeLimits()
    seed = np.full(len(tin.points), -1, dtype=np.int32)
    seed[tin.triangles] = np.arange(len(tin), dtype=np.int32)[:, None]
    mesh = (tin.triangles, tin.neighbours, seed)
    blamed = np.zeros(len(tin.points), dtype=np.bool_)
    least, farthest = np.zeros(len(tin.points)), np.zeros(len(tin.points))
    used = np.flatnonzero(seed >= 0)
    _fill_misses(tin.points, mesh, used, blamed, (least, farthest))
    # ground curves away with the square of the distance
    farther = np.maximum(farthest[used] / np.median(farthest[used]), 1.0)
    scale = NORMAL_SCALE * float(np.median(np.abs(least[used])))
    limit = np.zeros(len(tin.points))
    limit[used] = np.maximum(limits.least, limits.times_scale * scale * farther**2)
    waiting = used[(np.abs(least[used]) > limit[used]) & (tin.shot[used] >= 0)]
    found: list[Spike] = []
    while len(waiting):
        stands = _stand_out(mesh, waiting, least, limits.times_near)
        if not stands.any():
            break
        off = _median_misses(tin.points, mesh, waiting[stands], blamed)
        found += [
            Spike(shot=int(tin.shot[p]), elevation=float(tin.points[p, 2]), off=float(o))
            for p, o in zip(waiting[stands], off, strict=True)
        ]
        blamed[waiting[stands]], least[waiting[stands]] = True, 0.0
        waiting = waiting[~stands]
        _fill_misses(tin.points, mesh, waiting, blamed, (least, farthest))
        waiting = waiting[np.abs(least[waiting]) > limit[waiting]]
    return tuple(sorted(found, key=lambda spike: -abs(spike.off)))
