"""Pairs of triangles as they come and as they are hardest: each figure is its exact fraction.

Every pair stands on a spot of its own, so that one overlay measures all of them together.
"""

from fractions import Fraction

import numpy as np
import pytest

from terrain.surface.overlay import overlay
from terrain.surface.patches import from_polygons, join_faces
from tests.surface.made_surfaces import box, triangle_plane
from tests.surface.test_overlay_exact import exact_pairs

COUNT = 250
APART = 16384.0
SHARE = 1e-12  # of the extents' product, times the depth
AT_THIN_END = 2e-14  # the same where one extent is a thousand times the other


def any_triangle(random):
    """Three plan corners; one in four nearly on a line."""
    corners = random.normal(size=(3, 2))
    if random.integers(4) == 0:
        on_side = corners[0] + (corners[1] - corners[0]) * random.uniform()
        corners[2] = on_side + random.normal(size=2) * 10.0 ** random.uniform(-9, 0)
    return corners


def hair(random):
    """Nothing at all, or less than anybody could see."""
    return random.normal(size=2) * 10.0 ** random.uniform(-17, -6) * random.integers(2)


def mate(triangle, kind, random):
    """Another triangle, lying to the first as `kind` says."""
    other = any_triangle(random) * 10.0 ** random.choice([0, 0, 0, -1, -2, -3, 1, 2, 3])
    first, along = triangle[0], triangle[1] - triangle[0]
    if kind == "a common corner":
        other[0] = first + hair(random)
    elif kind == "a common side":
        other[:2] = triangle[:2] + np.array([hair(random), hair(random)])
    elif kind == "a corner moved":
        other = triangle.copy()
        other[random.integers(3)] += hair(random)
    elif kind == "a corner on a side":
        other[0] = first + along * random.uniform() + hair(random)
    elif kind == "sides along each other":
        for k in range(2):
            other[k] = first + along * random.uniform(-1, 2) + hair(random)
    elif kind == "sides nearly parallel":
        at = first + along * random.uniform()
        turned = along + 10.0 ** random.uniform(-8, -1) * np.array([-along[1], along[0]])
        other[0], other[1] = at - turned * random.uniform(), at + turned * random.uniform()
    elif kind == "a short side":
        other[1] = other[0] + random.normal(size=2) * 10.0 ** random.uniform(-12, -3)
    elif kind == "at a thin end":
        other = np.array([1e3 * random.normal(size=2), *random.normal(size=(2, 2))])
    elif kind == "a sliver":
        on_side = other[0] + (other[1] - other[0]) * random.uniform(-1, 2)
        other[2] = on_side + random.normal(size=2) * 10.0 ** random.uniform(-12, -6)
    return other


def face(plan, spot, random):
    """A triangle turned left, its plane through random heights, on its spot."""
    one, two = plan[1] - plan[0], plan[2] - plan[0]
    plan = plan if one[0] * two[1] > one[1] * two[0] else plan[::-1]
    heights = random.normal(size=3) * 10.0 ** random.choice([0, 0, -3, 1])
    with np.errstate(all="ignore"):  # far from nought two corners may have become one
        plane = triangle_plane(np.column_stack([plan + spot, heights]))
    if not np.isfinite(plane).all():
        plane = [*(plan[0] + spot), heights[0], 0.1, -0.2]
    return plan + spot, plane


def pairs_of_triangles(kind, seed):
    random = np.random.default_rng(seed)
    rings, planes = ([], []), ([], [])
    for number in range(COUNT):
        spot = APART * np.array(divmod(number, 16), dtype=float)
        plan = any_triangle(random)
        both = [face(p, spot, random) for p in (plan, mate(plan, kind, random))]
        if random.integers(4) == 0:  # one plane
            both[1] = (both[1][0], both[0][1])
        elif random.integers(4) == 0:  # the planes meet at a corner
            both[1] = (both[1][0], [*both[0][1][:3], *both[1][1][3:]])
        if random.integers(2):
            both.reverse()
        for k, (ring, plane) in enumerate(both):
            rings[k].append(ring)
            planes[k].append(plane)
    return tuple(
        from_polygons(r, np.array(p), np.arange(len(r))) for r, p in zip(rings, planes, strict=True)
    )


def alone(surface, number):
    return from_polygons([surface.corners(number)], surface.plane[number : number + 1], [0])


def scale_of(a, b):
    """The product of the extents, and the greatest depth at any corner."""
    deepest = 0.0
    for surface in (a, b):
        corners = surface.corners(0)
        depth = a.upward_at(0, corners) - b.upward_at(0, corners)
        deepest = max(deepest, np.abs(depth).max())
    extents = [np.ptp(s.corners(0), axis=0).max() for s in (a, b)]
    return extents[0] * extents[1], deepest


KINDS = [
    "as they come", "a common corner", "a common side", "a corner moved", "a corner on a side",
    "sides along each other", "sides nearly parallel", "a short side", "a sliver",
    "at a thin end",
]  # fmt: skip


@pytest.mark.parametrize("kind", KINDS)
def test_every_figure_of_a_pair_is_its_exact_fraction(kind):
    a, b = pairs_of_triangles(kind, KINDS.index(kind))
    found = overlay(a, b)
    assert np.array_equal(found.a, found.b), "pairs meet on their own spot only"
    row = {int(i): k for k, i in enumerate(found.a)}
    assert len(row) == len(found), "a pair is told once"
    assert (found.area > 0).all(), "a pair has area"
    assert (found.area_above >= 0).all()
    assert (found.area_below >= 0).all()
    names = ("area", "area_above", "volume_above", "area_below", "volume_below")
    for number in range(len(a)):
        one, other = alone(a, number), alone(b, number)
        exact = [figures for _, _, figures in exact_pairs(one, other)] or [[Fraction(0)] * 5]
        area, deepest = scale_of(one, other)
        for name, wanted in zip(names, exact[0], strict=True):
            got = getattr(found, name)[row[number]] if number in row else 0.0
            if name in ("area_above", "area_below") and deepest < 1e-9:
                continue  # the sign of such a depth is rounding
            scale = area * (deepest if name.startswith("volume") else 1.0)
            share = AT_THIN_END if kind == "at a thin end" else SHARE
            assert abs(got - float(wanted)) <= share * scale, (number, name, got, float(wanted))


@pytest.mark.parametrize("kind", KINDS)
def test_triangles_measured_together_give_what_each_gives_alone(kind):
    a, b = pairs_of_triangles(kind, 50 + KINDS.index(kind))
    together = overlay(a, b)
    # with a four-sided face on either side every pair is clipped by itself
    clipped = overlay(join_faces(a, box(-9e4, 0, -8e4, 1)), join_faces(b, box(0, -9e4, 1, -8e4)))
    rows = [{int(i): k for k, i in enumerate(pairs.a)} for pairs in (together, clipped)]
    for number in rows[0].keys() | rows[1].keys():
        area, deepest = scale_of(alone(a, number), alone(b, number))
        both = zip((together, clipped), rows, strict=True)
        found = [(pairs, row[number]) for pairs, row in both if number in row]
        if len(found) == 1:
            pairs, k = found[0]
            assert pairs.area[k] <= SHARE * area, "a pair that only one finds is rounding alone"
        elif deepest > 1e-9:
            (one, k), (other, j) = found
            # the first moments, so that the centroid of next to nothing need not be exact
            moved = one.centroid_above[k] - other.centroid_above[j]
            moved *= min(one.area_above[k], other.area_above[j])
            assert np.abs(moved).max() <= 10 * SHARE * area**1.5
            assert abs(one.depth_above[k] - other.depth_above[j]) <= 10 * SHARE * deepest
