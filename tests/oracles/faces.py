"""Surfaces as lists of shapely polygons with a plane each, and volumes between them, pair by pair.

A plane is (at, per easting, per northing) with upward = at + per easting * e + per northing * n.
A linear depth over any polygon integrates to its area times the depth at its centroid.
"""

from collections import defaultdict
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from shapely.geometry import Polygon


@dataclass
class Face:
    """One polygon (of any shape) with a plane over it and whatever label is wanted."""

    polygon: Any
    plane: np.ndarray
    label: Any = None


def plane_through(points: np.ndarray) -> np.ndarray:
    """The plane through three or more points (n, 3) that lie on one."""
    middle = points.mean(axis=0)
    shifted = points - middle
    slope, *_ = np.linalg.lstsq(shifted[:, :2], shifted[:, 2], rcond=None)
    return np.array([middle[2] - slope @ middle[:2], *slope])


def level(upward: float) -> np.ndarray:
    """A level plane."""
    return np.array([upward, 0.0, 0.0])


def at(plane: np.ndarray, polygon: Any) -> float:
    """The plane's height over the polygon's centroid."""
    middle = polygon.centroid
    return float(plane[0] + plane[1] * middle.x + plane[2] * middle.y)


def where_positive(polygon: Any, plane: np.ndarray) -> Any:
    """The part of the polygon where the plane is above nought."""
    corners = shapely.get_coordinates(polygon)
    height = plane[0] + corners @ plane[1:]
    if (height <= 0).all():
        return Polygon()
    if (height >= 0).all():
        return polygon
    slope = plane[1:]
    steep = np.linalg.norm(slope)
    up = slope / steep
    middle = corners.mean(axis=0)
    foot = middle - up * (plane[0] + middle @ slope) / steep
    far = 4 * (np.abs(corners - middle).max() + np.linalg.norm(foot - middle)) + 1
    side = np.array([-up[1], up[0]]) * far
    return polygon.intersection(
        Polygon([foot - side, foot + side, foot + side + up * far, foot - side + up * far])
    )


def pieces(polygon: Any) -> list[Any]:
    """The polygons of a geometry, lines and points left out."""
    return [p for p in shapely.get_parts(polygon) if isinstance(p, Polygon) and p.area > 0]


def common(upper: list[Face], lower: list[Face]) -> list[tuple[Any, int, int]]:
    """Every polygon that a face of one shares with a face of the other, and the two indices."""
    tree = shapely.STRtree([f.polygon for f in lower])
    pairs = tree.query([f.polygon for f in upper], predicate="intersects")
    found = []
    for i, j in pairs.T:
        shared = upper[i].polygon.intersection(lower[j].polygon)
        found += [(piece, i, j) for piece in pieces(shared)]
    return found


def cut(ground: list[Face], dig: list[Face]) -> list[tuple[Any, int, int]]:
    """`common`, where ground is above dig."""
    found = []
    for polygon, i, j in common(ground, dig):
        above = where_positive(polygon, ground[i].plane - dig[j].plane)
        found += [(piece, i, j) for piece in pieces(above)]
    return found


def volume_by_label(ground: list[Face], dig: list[Face]) -> dict[Any, float]:
    """Cubic units of ground above dig, by the dig's labels."""
    sums: dict[Any, float] = defaultdict(float)
    for polygon, i, j in cut(ground, dig):
        sums[dig[j].label] += polygon.area * at(ground[i].plane - dig[j].plane, polygon)
    return dict(sums)


def lower_of(first: list[Face], second: list[Face]) -> list[Face]:
    """The lower of two surfaces where both are, and the one there is elsewhere."""
    out = []
    for polygon, i, j in common(first, second):
        difference = first[i].plane - second[j].plane
        for piece in pieces(where_positive(polygon, difference)):
            out.append(Face(piece, second[j].plane, second[j].label))
        for piece in pieces(where_positive(polygon, -difference)):
            out.append(Face(piece, first[i].plane, first[i].label))
        if not difference.any():
            out.append(Face(polygon, first[i].plane, first[i].label))
    for mine, others in ((first, second), (second, first)):
        for face in mine:
            alone = face.polygon
            for other in others:  # one by one: a union of many faces can lose some to rounding
                alone = alone.difference(other.polygon)
            for piece in pieces(alone):
                out.append(Face(piece, face.plane, face.label))
    return out


def shifted(faces: list[Face], upward: float) -> list[Face]:
    """The same faces, higher by so much."""
    return [Face(f.polygon, f.plane + level(upward), f.label) for f in faces]
