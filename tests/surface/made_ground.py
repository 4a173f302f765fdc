"""Ground made up for the tests of the TIN, and the slow ways to look at it."""

from fractions import Fraction

import numpy as np
import shapely

from terrain.surface.tin import Tin, build_tin
from terrain.surface.tin_check import verify_tin


def scattered(seed, count=200, size=100.0):
    """Shots scattered over a square, elevations of a smooth hill; no two triangulations fit."""
    rng = np.random.default_rng(seed)
    plan = rng.random((count, 2)) * size
    upward = 100 + 5 * np.sin(plan[:, 0] / 30) + 0.08 * plan[:, 1]
    return np.column_stack([plan, upward])


def plane_at(plan):
    """A tilted plane."""
    return 90.0 + 0.3 * plan[..., 0] - 0.2 * plan[..., 1]


def on_plane(plan):
    """Plan points with the tilted plane's heights."""
    plan = np.asarray(plan, dtype=float)
    return np.column_stack([plan, plane_at(plan)])


def turned(points, degrees):
    """The points turned about the origin in plan."""
    angle = np.radians(degrees)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    moved = np.array(points, dtype=float)
    moved[:, :2] = moved[:, :2] @ turn.T
    return moved


def sound_tin(points, lines=(), plan_lines=(), options=None, frame=None) -> Tin:
    """The TIN, checked by the verifier and, where nothing cuts it back, against GEOS's hull."""
    tin = build_tin(points, lines, plan_lines, options, frame)
    assert verify_tin(tin, points, lines) == []
    if options is None and all(line.kind.value == "breakline" for line in (*lines, *plan_lines)):
        hull = shapely.convex_hull(shapely.MultiPoint(np.asarray(points)[:, :2])).area
        assert abs(plan_area(tin) - hull) <= 1e-11 * hull
    return tin


def plan_area(tin: Tin) -> float:
    """The area of the triangles, by GEOS."""
    return float(shapely.area(shapely.polygons(tin.points[tin.triangles][:, :, :2])).sum())


def volume_above(tin: Tin, datum: float) -> Fraction:
    """The exact volume between the ground and a level, triangle by triangle, in fractions."""
    total = Fraction(0)
    for corners in tin.points[tin.triangles].tolist():
        (e0, n0, u0), (e1, n1, u1), (e2, n2, u2) = [[Fraction(v) for v in c] for c in corners]
        doubled = (e1 - e0) * (n2 - n0) - (n1 - n0) * (e2 - e0)
        total += doubled * (u0 + u1 + u2 - 3 * Fraction(datum)) / 6
    return total


def triangle_set(tin: Tin) -> set[tuple[int, ...]]:
    """The triangles as sorted numbers of shots."""
    return {tuple(sorted(corners)) for corners in tin.shot[tin.triangles].tolist()}


def brute_heights(tin: Tin, plan):
    """Heights at plan points by trying every triangle."""
    found = np.full(len(plan), np.nan)
    for corners in tin.points[tin.triangles]:
        matrix = np.vstack([corners[:, :2].T, np.ones(3)])
        weights = np.linalg.solve(matrix, np.vstack([plan.T, np.ones(len(plan))]))
        inside = (weights >= -1e-9).all(axis=0)
        found[inside] = corners[:, 2] @ weights[:, inside]
    return found
