"""Surfaces to overlay, and a slow oracle: pair by pair with GEOS, corner heights by hand."""

import numpy as np
import shapely
from scipy.spatial import Delaunay

from terrain.surface.patches import Surface, from_polygons

SHARE = 1e-12


def triangle_plane(corners):
    """The plane row of three corners (3, 3): its first corner and the gradient."""
    one, two = corners[1] - corners[0], corners[2] - corners[0]
    normal = np.cross(one, two)
    return [*corners[0], -normal[0] / normal[2], -normal[1] / normal[2]]


def triangles_surface(points, triangles):
    """Faces over triangles of points (n, 3), turned counter-clockwise, labelled by triangle."""
    polygons, planes = [], []
    for triangle in triangles:
        corners = points[triangle]
        if shapely.LinearRing(corners[:, :2]).is_ccw is False:
            corners = corners[::-1]
        polygons.append(corners[:, :2])
        planes.append(triangle_plane(corners))
    return from_polygons(polygons, np.array(planes), np.arange(len(triangles)))


def random_points(seed, count=40, reach=50.0, relief=5.0):
    random = np.random.default_rng(seed)
    plan = random.uniform(-reach, reach, (count, 2))
    return np.column_stack([plan, 100.0 + relief * random.normal(size=count)])


def random_tin(seed, count=40, reach=50.0, relief=5.0):
    """A Delaunay surface of random points in a square about nought."""
    points = random_points(seed, count, reach, relief)
    return triangles_surface(points, Delaunay(points[:, :2]).simplices)


def box(west, south, east, north, upward=0.0, per_easting=0.0, per_northing=0.0):
    """One rectangle; `upward` is its height at the plan origin."""
    ring = np.array([[west, south], [east, south], [east, north], [west, north]], dtype=float)
    return from_polygons([ring], np.array([[0.0, 0.0, upward, per_easting, per_northing]]), [0])


def polygons(surface):
    return [shapely.Polygon(surface.corners(face)) for face in range(len(surface))]


def footprint(surface):
    return shapely.union_all(polygons(surface))


def turned(surface, degrees, shift=(0.0, 0.0)):
    """The surface turned about nought, then moved."""
    turn = np.radians(degrees)
    matrix = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    plane = surface.plane.copy()
    plane[:, :2] = plane[:, :2] @ matrix + shift
    plane[:, 3:] = plane[:, 3:] @ matrix
    return Surface(
        start=surface.start, ring=surface.ring @ matrix + shift, plane=plane, label=surface.label
    )


def scaled(surface, factor):
    plane = surface.plane * np.array([factor, factor, factor, 1.0, 1.0])
    return Surface(
        start=surface.start, ring=surface.ring * factor, plane=plane, label=surface.label
    )


def shuffled(surface, seed):
    """The same faces in another order."""
    order = np.random.default_rng(seed).permutation(len(surface))
    rings = [surface.corners(face) for face in order]
    return from_polygons(rings, surface.plane[order], surface.label[order])


def by_geos(a, b):
    """Figures of every pair: {(face of a, face of b): (area, cut area, cut, fill area, fill)}."""
    found = {}
    for i, p in enumerate(polygons(a)):
        for j, q in enumerate(polygons(b)):
            common = p.intersection(q)
            if common.area > 0:
                found[i, j] = (common.area, *_by_sign(common, a, i, b, j))
    return found


def _by_sign(common, a, i, b, j):
    """Areas and volumes over and under nought: the half-plane of the sign, cut by GEOS."""
    slope = a.plane[i, 3:] - b.plane[j, 3:]
    at_nought = a.upward_at(i, np.zeros((1, 2)))[0] - b.upward_at(j, np.zeros((1, 2)))[0]
    figures = []
    for sign in (1.0, -1.0):
        part = common
        steep = np.hypot(*slope)
        if steep == 0:
            part = common if sign * at_nought > 0 else shapely.Polygon()
        else:
            up = sign * slope / steep
            across, reach = np.array([-up[1], up[0]]), 1e4
            foot = -slope * at_nought / steep**2
            half = [foot + reach * across, foot - reach * across]
            half += [half[1] + reach * up, half[0] + reach * up]
            part = common.intersection(shapely.Polygon(half))
        centre = np.array([[part.centroid.x, part.centroid.y]]) if part.area else np.zeros((1, 2))
        depth = a.upward_at(i, centre)[0] - b.upward_at(j, centre)[0]
        figures += [part.area, sign * depth * part.area if part.area else 0.0]
    return figures


def same(got, wanted, scale, share=SHARE):
    """Compare with a tolerance that is a share of the problem's scale."""
    assert abs(got - wanted) <= share * scale, f"{got!r} is not {wanted!r} to {share} of {scale!r}"


def gross(pairs):
    """The scale a volume is held to: both bodies, and the area times the relief."""
    deepest = max(pairs.depth_above.max(initial=0.0), 1.0)
    return pairs.volume_above.sum() + pairs.volume_below.sum() + pairs.area.sum() * deepest
