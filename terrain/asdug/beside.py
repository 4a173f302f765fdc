"""What was dug beside a plumb-sided design, where the design itself says nothing, wall by wall.

An upright side has no plan of its own, so earth dug past it lies under no face of the design. It is
the wall's whose front, moving out at the pace of all others, comes there first.
"""

import math

import numpy as np
import shapely

from terrain.asdug.measured import Measured
from terrain.asdug.progress import Sheet, net_over
from terrain.pit.dig import Dig
from terrain.surface.climb import Reach, climb
from terrain.surface.minimum import span, within
from terrain.surface.patches import Surface, picked


def dug_beside(before: Sheet, now: Sheet, dig: Dig, walls: int) -> dict[int, Measured]:
    """Net earth dug outside all that the design covers, by wall of its ring.

    Args:
        before: the ground before the dig.
        now: the ground of the day.
        dig: the design.
        walls: how many its ring has.
    """
    dug = _dug(before, now)
    low, high = span(dug)
    beside = within(dug, shapely.box(*low, *high).difference(dig.covered))
    if not len(beside):
        return {}
    low, high = span(beside)
    extent = shapely.box(*low, *high)
    height = 2.0 * math.hypot(*(np.maximum(high, low) - low)) + extent.hausdorff_distance(
        shapely.Polygon(dig.line.ring.corners)
    )
    reach = Reach(height=height, extent=extent)
    swept, _ = climb(dig.line.ring, [((1.0, 1.0),)] * walls, reach, "dig")
    found = {}
    for wall in np.unique(swept.label).tolist():
        own = picked(swept, np.flatnonzero(swept.label == wall))
        region = shapely.union_all(
            [shapely.Polygon(own.corners(face)) for face in range(len(own))], grid_size=1e-9
        )
        faces = within(beside, region)
        if len(faces):
            found[wall] = net_over(before, now, faces)
    return found


def _dug(before: Sheet, now: Sheet) -> Surface:
    """The faces of the day's ground that stand on shots of the day."""
    fresh = np.array([key not in before.surveys for key in now.surveys], dtype=np.bool_)
    own = np.all(fresh[now.of][now.ground.triangles], axis=1)
    surface = now.ground.surface
    return picked(surface, np.flatnonzero(np.asarray(own)[surface.label]))
