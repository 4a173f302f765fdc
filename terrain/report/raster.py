"""Triangles to pixels, the nearest in front."""

import numpy as np
from numpy.typing import NDArray

from terrain.base.arrays import FloatArray
from terrain.surface.compiled import compiled


@compiled
def _fill(corners: FloatArray, near: FloatArray, face: NDArray[np.int32]) -> None:
    """Write into each pixel whose middle a triangle covers how near it is, and its number."""
    height, width = near.shape
    for t in range(len(corners)):
        ax, ay, az = corners[t, 0]
        bx, by, bz = corners[t, 1]
        cx, cy, cz = corners[t, 2]
        double = (bx - ax) * (cy - ay) - (cx - ax) * (by - ay)
        if double == 0.0:
            continue
        top = max(int(np.ceil(min(ay, by, cy) - 0.5)), 0)
        bottom = min(int(np.floor(max(ay, by, cy) - 0.5)), height - 1)
        left = max(int(np.ceil(min(ax, bx, cx) - 0.5)), 0)
        right = min(int(np.floor(max(ax, bx, cx) - 0.5)), width - 1)
        for row in range(top, bottom + 1):
            y = row + 0.5
            for column in range(left, right + 1):
                x = column + 0.5
                u = ((bx - x) * (cy - y) - (cx - x) * (by - y)) / double
                v = ((cx - x) * (ay - y) - (ax - x) * (cy - y)) / double
                w = 1.0 - u - v
                if u >= 0.0 and v >= 0.0 and w >= 0.0:
                    here = u * az + v * bz + w * cz
                    if here > near[row, column]:
                        near[row, column] = here
                        face[row, column] = t


def raster(corners: FloatArray, width: int, height: int) -> tuple[FloatArray, NDArray[np.int32]]:
    """How near (height, width) the front triangle is, and which it is, -1 for none.

    `corners` (m, 3, 3) are across, down and towards the viewer, in pixels. Between triangles that
    are equally near the first holds.
    """
    near = np.full((height, width), -np.inf)
    face = np.full((height, width), -1, dtype=np.int32)
    _fill(np.ascontiguousarray(corners, dtype=np.float64), near, face)
    return near, face
