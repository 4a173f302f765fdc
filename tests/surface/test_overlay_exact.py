"""The overlay part by part, against exact fractions and against closed solids."""

from fractions import Fraction
from itertools import pairwise

import manifold3d
import numpy as np
import pytest
from scipy.spatial import Delaunay

from terrain.surface.overlay import overlay
from terrain.surface.patches import from_polygons
from tests.surface.made_surfaces import random_points, same, triangles_surface


def exact(values):
    return [tuple(Fraction(v) for v in row) for row in values]


def keep_where(corners, value):
    """The part of a convex polygon of exact corners where a linear function is >= 0."""
    kept = []
    for p, q in zip(corners, corners[1:] + corners[:1], strict=True):
        f, g = value(p), value(q)
        if f >= 0:
            kept.append(p)
        if f * g < 0:
            kept.append(tuple(x + f / (f - g) * (y - x) for x, y in zip(p, q, strict=True)))
    return kept


def integral(corners, value):
    """Area, and the integral of a linear function, of an exact convex polygon."""
    area = volume = Fraction(0)
    for p, q in pairwise(corners[1:]):
        o = corners[0]
        part = ((p[0] - o[0]) * (q[1] - o[1]) - (p[1] - o[1]) * (q[0] - o[0])) / 2
        area += part
        volume += part * (value(o) + value(p) + value(q)) / 3
    return area, volume


def exact_pairs(a, b):
    """Figures of every pair of faces as fractions of the very floats of the surfaces."""
    planes_a, planes_b = exact(a.plane), exact(b.plane)
    for i in range(len(a)):
        for j in range(len(b)):
            common = exact(a.corners(i))
            edges = exact(b.corners(j))
            for p, q in zip(edges, edges[1:] + edges[:1], strict=True):
                common = keep_where(
                    common,
                    lambda c, p=p, q=q: (
                        (q[0] - p[0]) * (c[1] - p[1]) - (q[1] - p[1]) * (c[0] - p[0])
                    ),
                )

            def depth(c, s=planes_a[i], t=planes_b[j]):
                up = s[2] + s[3] * (c[0] - s[0]) + s[4] * (c[1] - s[1])
                return up - (t[2] + t[3] * (c[0] - t[0]) + t[4] * (c[1] - t[1]))

            area, _ = integral(common, depth) if len(common) > 2 else (Fraction(0), None)
            if area > 0:
                above = integral(keep_where(common, depth), depth)
                below = integral(keep_where(common, lambda c: -depth(c)), lambda c: -depth(c))
                yield i, j, (area, *above, *below)


def figures_of(pairs):
    columns = (
        pairs.area, pairs.area_above, pairs.volume_above, pairs.area_below, pairs.volume_below
    )  # fmt: skip
    rows = np.stack(columns, axis=1).tolist()
    return dict(zip(zip(pairs.a.tolist(), pairs.b.tolist(), strict=True), rows, strict=True))


def hold_to_fractions(a, b):
    quick = figures_of(overlay(a, b))
    for i, j, wanted in exact_pairs(a, b):
        got = quick.pop((i, j), (0.0,) * 5)
        for one, other in zip(got, wanted, strict=True):
            same(one, float(other), 1e3, 1e-13)
    for left in quick.values():
        assert max(left) < 1e-12, "a pair that shares no area is rounding alone"


@pytest.mark.parametrize("seed", [1, 2])
def test_every_part_of_two_small_tins_is_its_exact_fraction(seed):
    points, others = random_points(seed, 7, 10.0, 2.0), random_points(seed + 50, 6, 10.0, 2.0)
    hold_to_fractions(
        triangles_surface(points, Delaunay(points[:, :2]).simplices),
        triangles_surface(others, Delaunay(others[:, :2]).simplices),
    )


def test_every_part_of_a_five_sided_floor_under_four_tiles_is_its_exact_fraction():
    ring = np.array([[0.1, 0.0], [4.3, -0.7], [6.0, 2.9], [2.2, 5.1], [-1.0, 3.0]])
    floor = from_polygons([ring], np.array([[2.0, 2.0, 0.1, 0.3, -0.2]]), [0])
    tiles, planes = [], []
    for e in (-2.0, 2.0):
        for n in (-1.0, 2.5):
            corners = [[e, n], [e + 4.0, n], [e + 4.0, n + 3.5], [e, n + 3.5]]
            tiles.append(np.array(corners))
            planes.append([e, n, 0.05 * e, -0.1 * n, 0.07])
    hold_to_fractions(from_polygons(tiles, np.array(planes), np.arange(4)), floor)


def solid_under(points, triangles, bottom):
    """The closed body between a TIN and a level bottom."""
    count = len(points)
    low = np.column_stack([points[:, :2], np.full(count, bottom)])
    faces = [*triangles.tolist(), *(triangles[:, ::-1] + count).tolist()]
    sides = {(t[k], t[(k + 1) % 3]) for t in triangles.tolist() for k in range(3)}
    for p, q in sides:
        if (q, p) not in sides:
            faces += [[q, p, p + count], [q, p + count, q + count]]
    mesh = manifold3d.Mesh64(np.concatenate([points, low]), np.array(faces, dtype=np.uint64))
    solid = manifold3d.Manifold(mesh)
    assert solid.status() == manifold3d.Error.NoError
    return solid


@pytest.mark.parametrize("seed", range(6))
def test_bodies_between_random_tins_are_the_differences_of_closed_solids(seed):
    bottom, square = 60.0, np.array([[-50, -50], [50, -50], [50, 50], [-50, 50]], dtype=float)
    made = []
    for own, count in ((seed, 60), (seed + 100, 45)):
        points = random_points(own, count)
        rim = np.column_stack([square, 100.0 + np.random.default_rng(own).normal(size=4)])
        points = np.concatenate([points, rim])
        triangles = Delaunay(points[:, :2]).simplices
        corners = points[triangles, :2]
        one, two = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
        right = one[:, 0] * two[:, 1] < one[:, 1] * two[:, 0]
        triangles = np.where(right[:, None], triangles[:, ::-1], triangles)
        made.append((triangles_surface(points, triangles), solid_under(points, triangles, bottom)))
    (a, solid_a), (b, solid_b) = made
    pairs = overlay(a, b)
    gross = pairs.volume_above.sum() + pairs.volume_below.sum()
    same(pairs.volume_above.sum(), (solid_a - solid_b).volume(), gross, 1e-9)
    same(pairs.volume_below.sum(), (solid_b - solid_a).volume(), gross, 1e-9)
