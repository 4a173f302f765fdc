"""What a heap on a piece of ground holds, within an angle of repose and a height."""

import math

import numpy as np
import shapely
from scipy.optimize import brentq

LEVELS = 24
"""Even number of slices; the area of a slice is a square function of height but for a few breaks,
so Simpson's rule on so many is good to a few parts in ten thousand."""


def heap_volume(ground: shapely.Geometry, repose: float, height: float) -> float:
    """The volume, in cubic length units, of the highest heap on some ground.

    Its sides lean at the angle of repose, degrees, from the ground's edge in, and it is no higher
    than `height`. The ground counts as level.
    """
    if ground.is_empty or height <= 0.0:
        return 0.0
    run = 1.0 / math.tan(math.radians(repose))
    top = min(height, _half_width(ground) / run)
    levels = np.linspace(0.0, top, LEVELS + 1)
    area = shapely.area(shapely.buffer(ground, -levels * run, join_style="mitre", mitre_limit=20.0))
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


def _half_width(ground: shapely.Geometry) -> float:
    """How far from its edge the ground's innermost spot lies."""
    return max(
        (
            float(shapely.maximum_inscribed_circle(part, tolerance=1e-3).length)
            for part in shapely.get_parts(ground)
            if part.geom_type == "Polygon" and part.area > 0
        ),
        default=0.0,
    )
