"""Kernels that foretell a point of a TIN from the points round it, as `spikes` says."""

import numpy as np
from numpy.typing import NDArray

from terrain.base.arrays import BoolArray, FloatArray, IntArray
from terrain.surface.kernel import compiled

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
def fill_misses(
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
def median_misses(points: FloatArray, mesh: Mesh, asked: Int64, blamed: BoolArray) -> FloatArray:
    """The median of all misses of each point asked for."""
    room = _room()
    median = np.empty(asked.size)
    for i in range(asked.size):
        count, _ = _misses_of(points, mesh, asked[i], blamed, room)
        median[i] = np.median(room[3][:count])
    return median


@compiled
def stand_out(mesh: Mesh, candidates: Int64, miss: FloatArray, times: float) -> BoolArray:
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
