"""The area that a volume is taken over, cut by the ground's triangles: areas and moments of it."""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from terrain.base.arrays import FloatArray, IntArray
from terrain.ledger.ground import Ground
from terrain.surface.overlay import overlay_faces
from terrain.surface.patches import Surface

SPOTS_A_FACE = 3


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Hats:
    """What of each triangle of a ground lies in a cut or fill, by label.

    Args:
        points: (n, 3), the ground's points in the local frame.
        shots: (f, 3), corners of the triangle that each face lies in, counter-clockwise.
        label: (f,), whose each face is.
        area: (f,), plan area of each face.
        centroid: (f, 2), plan centroid of each face.
        spread: (f, 3), mean of e^2, e n and n^2 over each face, from its centroid.
    """

    points: FloatArray
    shots: IntArray
    label: IntArray
    area: FloatArray
    centroid: FloatArray
    spread: FloatArray

    def __len__(self) -> int:
        return len(self.label)


def hats_between(ground: Ground, other: Surface, where: Literal["above", "below"]) -> Hats:
    """Where the ground is above (below) another surface, by triangle and by the other's label."""
    faces = overlay_faces(ground.surface, other)
    chosen = np.flatnonzero(faces.side == (1 if where == "above" else -1))
    label = other.label[faces.b[chosen]].astype(np.int64)
    parent = ground.surface.label[faces.a[chosen]].astype(np.int64)
    key, group = np.unique(label * (len(ground.triangles) + 1) + parent, return_inverse=True)
    label, parent = np.divmod(key, len(ground.triangles) + 1)
    shots = ground.triangles[parent].astype(np.int64)
    corner = ground.points[shots[:, 0], :2]
    sums = _moments(faces.ring, faces.start, chosen, corner[group])
    summed = np.array([np.bincount(group, column, len(key)) for column in sums])
    kept = summed[0] > 0
    area = summed[0, kept]
    e, n, ee, en, nn = summed[1:, kept] / area
    return Hats(
        points=ground.points,
        shots=shots[kept],
        label=label[kept],
        area=area,
        centroid=corner[kept] + np.column_stack([e, n]),
        spread=np.column_stack([ee - e * e, en - e * n, nn - n * n]),
    )


def _moments(
    ring: FloatArray, start: IntArray, chosen: IntArray, origin: FloatArray
) -> list[FloatArray]:
    """Integrals of 1, e, n, e^2, e n and n^2 over polygons, each about its own origin.

    Green's theorem, side by side (from memory).
    """
    count = start[chosen + 1] - start[chosen]
    first = np.cumsum(count) - count
    own = np.repeat(np.arange(len(chosen)), count)
    at = np.repeat(start[chosen] - first, count) + np.arange(len(own))
    following = np.where(np.arange(len(own)) + 1 == np.repeat(first + count, count),
                         np.repeat(start[chosen], count), at + 1)  # fmt: skip
    p, q = ring[at] - origin[own], ring[following] - origin[own]
    cross = p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]
    s = p + q
    terms = (
        cross / 2,
        cross * s[:, 0] / 6,
        cross * s[:, 1] / 6,
        cross * (s[:, 0] ** 2 - p[:, 0] * q[:, 0]) / 12,
        cross * (s[:, 0] * s[:, 1] + p[:, 0] * p[:, 1] + q[:, 0] * q[:, 1]) / 24,
        cross * (s[:, 1] ** 2 - p[:, 1] * q[:, 1]) / 12,
    )
    return [np.bincount(own, term, len(chosen)).astype(np.float64) for term in terms]


def spots_of(hats: Hats, faces: IntArray) -> FloatArray:
    """For each of these faces three places (f, 3, 2) with its centroid and its spread: they stand
    for it wherever what is integrated is of second order.
    """
    ee, en, nn = hats.spread[faces].T
    east = np.sqrt(np.maximum(ee, 0.0))
    lean = np.divide(en, east, out=np.zeros(len(faces)), where=east > 0)
    north = np.sqrt(np.maximum(nn - lean * lean, 0.0))
    turn = np.pi / 2 + 2 * np.pi * np.arange(SPOTS_A_FACE) / SPOTS_A_FACE
    across, along = np.sqrt(2.0) * np.cos(turn), np.sqrt(2.0) * np.sin(turn)
    off = [east[:, None] * across, lean[:, None] * across + north[:, None] * along]
    return np.asarray(hats.centroid[faces][:, None] + np.stack(off, axis=2), dtype=np.float64)


def shares_and_slope(
    points: FloatArray, shots: IntArray, at: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """What the three corners of a triangle count at a place in it, and the triangle's slope.

    Args:
        points: (n, 3), the ground's.
        shots: (f, 3), the corners of each triangle.
        at: (f, 2), a place for each.

    Returns:
        Shares (f, 3) that sum to 1, and rise per easting and per northing (f, 2).
    """
    a, b, c = (points[shots[:, k]] for k in range(3))
    ab, ac, to = b[:, :2] - a[:, :2], c[:, :2] - a[:, :2], at - a[:, :2]
    twice = _cross(ab, ac)
    of_b, of_c = _cross(to, ac) / twice, _cross(ab, to) / twice
    up_b, up_c = b[:, 2] - a[:, 2], c[:, 2] - a[:, 2]
    per_easting = (up_b * ac[:, 1] - up_c * ab[:, 1]) / twice
    per_northing = (up_c * ab[:, 0] - up_b * ac[:, 0]) / twice
    shares = np.column_stack([1.0 - of_b - of_c, of_b, of_c])
    return shares, np.column_stack([per_easting, per_northing])


def _cross(p: FloatArray, q: FloatArray) -> FloatArray:
    """Twice the signed area spanned by vectors (m, 2)."""
    crossed: FloatArray = p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]
    return crossed
