"""How much each shot of a TIN weighs in the volume above another surface."""

from typing import Literal

import numpy as np

from terrain.base.arrays import FloatArray, IntArray
from terrain.surface.overlay import Overlay


def hat_weights(
    pairs: Overlay, triangles: IntArray, points: FloatArray, tin: Literal["a", "b"]
) -> FloatArray:
    """The integral, in square length units, of each point's hat function over the part above.

    A point's hat function is 1 at the point, 0 at all others and linear over each triangle. So
    the volume above changes by a point's weight for each unit its elevation is raised (lowered,
    if the TIN is the second surface), and the weights sum to the area above.

    Args:
        pairs: an overlay in which face k of one surface is triangle k.
        triangles: (m, 3) corners of each triangle.
        points: (n, 2) or (n, 3), the TIN's points.
        tin: which surface of the overlay the TIN is.
    """
    face = pairs.a if tin == "a" else pairs.b
    corner = points[triangles, :2]
    first = corner[:, 0]
    off_first = pairs.centroid_above - first[face]
    area = np.bincount(face, pairs.area_above, len(triangles))
    moment_e = np.bincount(face, pairs.area_above * off_first[:, 0], len(triangles))
    moment_n = np.bincount(face, pairs.area_above * off_first[:, 1], len(triangles))
    (second_e, second_n), (third_e, third_n) = (corner[:, 1] - first).T, (corner[:, 2] - first).T
    double = second_e * third_n - second_n * third_e
    double[area == 0.0] = 1.0
    of_second = (moment_e * third_n - moment_n * third_e) / double
    of_third = (second_e * moment_n - second_n * moment_e) / double
    of_corner = np.stack([area - of_second - of_third, of_second, of_third], axis=1)
    weights = np.bincount(triangles.ravel(), of_corner.ravel(), len(points))
    return weights.astype(np.float64, copy=False)
