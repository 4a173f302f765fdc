"""A surface as triangles for other tools: only where it lies below the ground, jumps and all."""

from dataclasses import dataclass

import numpy as np

from terrain.base.arrays import BoolArray, FloatArray, IntArray
from terrain.surface.overlay import Overlay, overlay_faces
from terrain.surface.patches import Surface, join_faces, picked

SAME_POINT = 10
"""Decimals of a length unit to which corners that are one point agree: they differ by rounding."""

WHOLE = 1e-9
"""A face without ground below it counts as wholly below if no more than this share is not."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Facets:
    """Triangles with shared points; where a surface jumps, two points stand over one spot.

    Args:
        points: (n, 3) easting, northing in the local frame and upward.
        triangles: (m, 3) int32, each counter-clockwise in plan.
        label: (m,) int32, of the face each triangle is of.
    """

    points: FloatArray
    triangles: IntArray
    label: IntArray


def faces_below(ground: Surface, other: Surface, pairs: Overlay) -> Surface:
    """The faces of `other` as far as the ground is above them, convex, with planes and labels.

    A face that is wholly below stays whole; others are cut along the line of no depth and along
    the sides of the ground's faces, so what lies between is the same to the last digits.
    `pairs` are `overlay(ground, other)`.
    """
    above = np.bincount(pairs.b, pairs.area_above, len(other))
    below = np.bincount(pairs.b, pairs.area_below, len(other))
    whole = (below == 0) & (above > 0) & (above >= areas(other) * (1 - WHOLE))
    cut = np.flatnonzero((above > 0) & ~whole)
    beside = np.zeros(len(other), dtype=np.bool_)
    beside[cut] = True
    over = np.unique(pairs.a[beside[pairs.b] & (pairs.area_above > 0)])
    parts = overlay_faces(picked(ground, over), picked(other, cut))
    kept = picked(
        Surface(
            start=parts.start,
            ring=parts.ring,
            plane=other.plane[cut[parts.b]],
            label=other.label[cut[parts.b]],
        ),
        np.flatnonzero(parts.side > 0),
    )
    return join_faces(picked(other, np.flatnonzero(whole)), kept)


def areas(surface: Surface) -> FloatArray:
    """The plan area (n,) of each face, in square length units."""
    face = np.repeat(np.arange(len(surface)), np.diff(surface.start))
    reach = surface.ring - surface.ring[surface.start[face]]
    ahead = reach[_following(surface)]
    double = reach[:, 0] * ahead[:, 1] - reach[:, 1] * ahead[:, 0]
    return np.asarray(np.bincount(face, double, len(surface)) / 2)


def _following(surface: Surface) -> IntArray:
    """The next corner of the same face, for every corner."""
    after = np.arange(1, len(surface.ring) + 1)
    after[surface.start[1:] - 1] = surface.start[:-1]
    return after


def facets(surface: Surface) -> Facets:
    """Every face of a surface as a fan of triangles; corners that are the same point are shared."""
    face = np.repeat(np.arange(len(surface)), np.diff(surface.start))
    plane = surface.plane[face]
    rise = (plane[:, 3:] * (surface.ring - plane[:, :2])).sum(axis=1)
    corners = np.column_stack([surface.ring, plane[:, 2] + rise])
    _, chosen, place = np.unique(
        np.round(corners, SAME_POINT) + 0.0, axis=0, return_index=True, return_inverse=True
    )
    points = corners[chosen]
    first = surface.start[face]
    fans = np.column_stack([first, np.arange(len(face)), _following(surface)])
    triangles = place.reshape(-1)[fans]
    kept = _turns_left(points, triangles)
    return Facets(
        points=points,
        triangles=triangles[kept].astype(np.int32),
        label=surface.label[face[kept]],
    )


def _turns_left(points: FloatArray, triangles: IntArray) -> BoolArray:
    """Whether each triangle has area and goes counter-clockwise."""
    a, b, c = (points[triangles[:, k], :2] for k in range(3))
    double = (b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]
    left: BoolArray = double > 0
    return left
