"""How a volume changes with the shots it rests on.

With its faces fixed, a volume is linear in the shot elevations: V = V0 + sum(w z), where w is the
integral of the shot's hat function (1 at the shot, 0 at its neighbours, linear between) over the
cut. The line of no cut moves with the shots, but the depth there is nought, so it adds nothing at
first order. A shot that moves in plan drags its hat along: the ground under it changes by minus
hat x slope x move, so the weight of a move is minus the sum of hat integrals x the slope of each
triangle.
"""

from dataclasses import dataclass

import numpy as np

from terrain.base.arrays import BoolArray, FloatArray, IntArray
from terrain.surface.overlay import Overlay

EASTING, NORTHING, ELEVATION = range(3)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Weights:
    """What one volume is made of, each array signed: add and subtract volumes by these.

    Args:
        shot: (k,) numbers of the ground's points, ascending, each once.
        change: (k, 3), change of the volume, in square length units, by one unit of the shot's
            easting, northing and elevation.
        spot: (m, 2), places in plan that stand for the area the volume is taken over.
        area: (m,), how much of it each stands for; the sum is that of the elevations' weights.
    """

    shot: IntArray
    change: FloatArray
    spot: FloatArray
    area: FloatArray

    @classmethod
    def nothing(cls) -> "Weights":
        """The weights of no volume."""
        return cls(
            shot=np.zeros(0, dtype=np.int64), change=np.zeros((0, 3)),
            spot=np.zeros((0, 2)), area=np.zeros(0),
        )  # fmt: skip

    @property
    def by_elevation(self) -> FloatArray:
        """(k,), square length units: what a unit of each shot's elevation adds."""
        return self.change[:, ELEVATION]

    @property
    def plan_area(self) -> float:
        """The sum of the elevations' weights: the plan area of the cut, in square length units."""
        return float(self.by_elevation.sum())

    def __add__(self, other: "Weights") -> "Weights":
        return total_of([self, other])

    def __sub__(self, other: "Weights") -> "Weights":
        return total_of([self, other * -1.0])

    def __mul__(self, factor: float) -> "Weights":
        return Weights(
            shot=self.shot, change=factor * self.change, spot=self.spot, area=factor * self.area
        )


def total_of(every: list[Weights]) -> Weights:
    """The weights of a sum of volumes of one ground; shots that they share count once."""
    if not every:
        return Weights.nothing()
    return _merged(
        np.concatenate([w.shot for w in every]),
        np.concatenate([w.change for w in every]),
        np.concatenate([w.spot for w in every]),
        np.concatenate([w.area for w in every]),
    )


def _merged(shot: IntArray, change: FloatArray, spot: FloatArray, area: FloatArray) -> Weights:
    """Weights from entries of which several may be on one shot."""
    own, place = np.unique(shot, return_inverse=True)
    summed = np.stack([np.bincount(place, column, len(own)) for column in change.T], axis=1)
    return Weights(shot=own, change=np.asarray(summed, dtype=np.float64), spot=spot, area=area)


@dataclass(frozen=True, slots=True, kw_only=True)
class Hats:
    """The faces of cuts, each within one triangle of a ground.

    Args:
        points: (n, 3), the ground's points in the local frame.
        triangles: (t, 3), its triangles, counter-clockwise.
        parent: (f,), the triangle that each face of the cut lies in.
        area: (f,), plan area of each face, negative for what is taken off again.
        centroid: (f, 2), plan centroid of each face.
        label: (f,), whose each face is.
    """

    points: FloatArray
    triangles: IntArray
    parent: IntArray
    area: FloatArray
    centroid: FloatArray
    label: IntArray

    def __len__(self) -> int:
        return len(self.parent)


def hats_above(
    points: FloatArray,
    triangles: IntArray,
    pairs: Overlay,
    parent: IntArray,
    label: IntArray,
) -> Hats:
    """The faces of an overlay where the ground is above, by triangle and label.

    Args:
        points: (n, 3), the ground's points.
        triangles: (t, 3), its triangles.
        pairs: the overlay of the ground with something below it.
        parent: (n,), the triangle of each pair.
        label: (n,), whose each pair is.
    """
    above: BoolArray = pairs.area_above > 0
    return Hats(
        points=points,
        triangles=triangles,
        parent=parent[above],
        area=pairs.area_above[above],
        centroid=pairs.centroid_above[above],
        label=label[above],
    )


def weights_of(hats: Hats, sign: float = 1.0) -> dict[int, Weights]:
    """The weights of every label's volume.

    A hat function is linear on a triangle, so its integral over a face within that triangle is
    the face's area times its value at the face's centroid: exact, no sampling.
    """
    shots = hats.triangles[hats.parent].astype(np.int64)
    shares, slope = _shares_and_slope(hats, shots)
    held = sign * shares * hats.area[:, None]
    change = np.stack([-held * slope[:, :1], -held * slope[:, 1:], held], axis=2)
    found = {}
    order = np.argsort(hats.label, kind="stable")
    own, first = np.unique(hats.label[order], return_index=True)
    for label, faces in zip(own.tolist(), np.split(order, first[1:]), strict=False):
        found[label] = _merged(
            shots[faces].ravel(),
            change[faces].reshape(-1, 3),
            hats.centroid[faces],
            sign * hats.area[faces],
        )
    return found


def _shares_and_slope(hats: Hats, shots: IntArray) -> tuple[FloatArray, FloatArray]:
    """Of each face: its three hats' values at the centroid, and the slope of its triangle."""
    a, b, c = (hats.points[shots[:, k]] for k in range(3))
    ab, ac, am = b[:, :2] - a[:, :2], c[:, :2] - a[:, :2], hats.centroid - a[:, :2]
    twice = _cross(ab, ac)
    of_b, of_c = _cross(am, ac) / twice, _cross(ab, am) / twice
    up_b, up_c = b[:, 2] - a[:, 2], c[:, 2] - a[:, 2]
    per_easting = (up_b * ac[:, 1] - up_c * ab[:, 1]) / twice
    per_northing = (up_c * ab[:, 0] - up_b * ac[:, 0]) / twice
    shares = np.column_stack([1.0 - of_b - of_c, of_b, of_c])
    return shares, np.column_stack([per_easting, per_northing])


def _cross(p: FloatArray, q: FloatArray) -> FloatArray:
    """Twice the signed area spanned by vectors (m, 2)."""
    crossed: FloatArray = p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]
    return crossed
