"""What a heap on a piece of ground holds, within an angle of repose and a height."""

import math
from typing import TypeAlias

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.optimize import brentq

from terrain.base.arrays import FloatArray

LEVELS = 24
"""Even number of slices; the area of a slice is a square function of height but for a few breaks,
so Simpson's rule on so many is good to a few parts in ten thousand."""

GeometryArray: TypeAlias = NDArray[np.object_]

PARTS, HALVINGS = 8, 10
"""The top of a narrow heap is looked for in an eighth of an eighth and so on of its height: to a
part in a thousand million."""


def heap_volume(ground: shapely.Geometry, repose: float, height: float) -> float:
    """The volume, in cubic length units, of the highest heap on some ground.

    Its sides lean at the angle of repose, degrees, from the ground's edge in, and it is no higher
    than `height`. The ground counts as level.
    """
    if ground.is_empty or height <= 0.0:
        return 0.0
    run = 1.0 / math.tan(math.radians(repose))
    top = _top(ground, run, height)
    levels = np.linspace(0.0, top, LEVELS + 1)
    area = shapely.area(_slices(ground, levels * run))
    weight = np.ones(LEVELS + 1)
    weight[1:-1:2], weight[2:-1:2] = 4.0, 2.0
    return float((area * weight).sum() * top / LEVELS / 3.0)


def heap_height(ground: shapely.Geometry, repose: float, most: float, volume: float) -> float:
    """How high a heap of a volume stands if it covers its whole ground, in length units."""
    if volume <= 0.0 or ground.is_empty:
        return 0.0
    if heap_volume(ground, repose, most) <= volume:
        return most
    height = brentq(lambda h: heap_volume(ground, repose, h) - volume, 0.0, most, xtol=1e-4)
    return float(height)


def _slices(ground: shapely.Geometry, back: FloatArray) -> GeometryArray:
    """The ground less a strip along its edge, for each width of strip."""
    return np.asarray(shapely.buffer(ground, -back, join_style="mitre", mitre_limit=20.0))


def _top(ground: shapely.Geometry, run: float, height: float) -> float:
    """How high the innermost spot of the ground lets a heap be, at most `height`."""
    if not shapely.is_empty(_slices(ground, np.array([height * run])))[0]:
        return height
    low, high = 0.0, height
    for _ in range(HALVINGS):
        between = np.linspace(low, high, PARTS + 1)
        empty = shapely.is_empty(_slices(ground, between[1:-1] * run))
        at = int(empty.argmax())
        low, high = (between[at], between[at + 1]) if empty.any() else (between[-2], high)
    return (low + high) / 2
