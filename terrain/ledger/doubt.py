"""The plus-or-minus of a volume from the errors of the shots it rests on.

With its faces fixed, a volume is linear in the shot elevations: V = V0 + sum(w z), where w is the
integral of the shot's hat function (1 at the shot, 0 at its neighbours, linear between) over the
cut. The line of no cut moves with the shots, but the depth there is nought, so it adds nothing at
first order.
"""

import math

import numpy as np

from terrain.base.arrays import FloatArray, IntArray

NSSDA_95 = 1.96
"""Accuracy at 95 % = 1.96 RMSE (NSSDA, read in the source)."""


def shot_weights(
    plan: FloatArray, triangles: IntArray, parent: IntArray, area: FloatArray, centroid: FloatArray
) -> FloatArray:
    """The weight (n,) of every shot in a volume made of faces, in square length units.

    A hat function is linear on a triangle, so its integral over a face within that triangle is
    the face's area times its value at the face's centroid: exact, no sampling.

    Args:
        plan: (n, 2), shots in the local frame.
        triangles: (t, 3), shots of each triangle, counter-clockwise.
        parent: (f,), the triangle that each face of the cut lies in.
        area: (f,), plan area of each face.
        centroid: (f, 2), plan centroid of each face.
    """
    shots = triangles[parent]
    a, b, c = (plan[shots[:, k]] for k in range(3))
    twice = _cross(b - a, c - a)
    share_b = _cross(centroid - a, c - a) / twice
    share_c = _cross(b - a, centroid - a) / twice
    shares = np.column_stack([1.0 - share_b - share_c, share_b, share_c])
    weight = np.zeros(len(plan))
    np.add.at(weight, shots.ravel(), (shares * area[:, None]).ravel())
    return weight


def plus_minus_95(
    weight: FloatArray, accuracy: float | None, datum_accuracy: float | None
) -> float | None:
    """Half the width of a volume's 95 % interval in cubic length units; None if nothing is known.

    variance = accuracy^2 sum(w^2) + datum_accuracy^2 (sum w)^2: shots err each for itself, and
    all together against the mark the floor is set from. If only one of the two is given the other
    counts as 0, so the figure is then the least it can be. Rows share shots and the datum, so the
    figures of rows neither add up nor add in squares to the total's: take it from the total's own
    weights, which are the sum of the rows' weights.

    Args:
        weight: (n,), square length units, as `shot_weights` gives them.
        accuracy: one standard deviation of a shot's elevation, in length units.
        datum_accuracy: one standard deviation shared by all shots, in length units.

    The two terms are eq. 11 and 19 of Anderson 2019, Earth Surf. Process. Landforms 44:1015, for
    a grid of n cells of side L: sqrt(n) L^2 s and n L^2 s_sys.
    """
    if accuracy is None and datum_accuracy is None:
        return None
    random = (accuracy or 0.0) * float(np.linalg.norm(weight))
    shared = (datum_accuracy or 0.0) * abs(float(np.sum(weight)))
    return NSSDA_95 * math.hypot(random, shared)


def _cross(p: FloatArray, q: FloatArray) -> FloatArray:
    """Twice the signed area spanned by vectors (m, 2)."""
    crossed: FloatArray = p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]
    return crossed
