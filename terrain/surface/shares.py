"""The ground inside and along an outline shared out among its walls."""

import numpy as np
import shapely

from terrain.base.arrays import FloatArray
from terrain.base.errors import DesignError
from terrain.surface.minimum import footprint
from terrain.surface.outline import ring_through
from terrain.surface.patches import Surface
from terrain.surface.sweep import Swept, advance


def core_faces(corners: FloatArray) -> Surface:
    """The inside of an outline as the faces of its straight skeleton, labelled by wall.

    The outline moves inwards at one speed until it vanishes; all faces lie at height 0.
    """
    n = len(corners)
    inward = ring_through(corners[::-1], [(n - 2 - i) % n for i in range(n)])
    extent = float(np.ptp(corners, axis=0).max())
    swept = Swept()
    left = advance([inward], [extent] * n, 0.0, 0.0, swept)
    if left:
        raise DesignError("the foundation's outline could not be shared out among its walls")
    return swept.surface()


def band_faces(
    corners: FloatArray, inwards: float, outwards: float
) -> tuple[Surface, shapely.Geometry]:
    """A band along an outline, so far `inwards` and `outwards`, and the ground it covers.

    Its faces are labelled by wall and lie at height 0.
    """
    n = len(corners)
    swept = Swept()
    inward = ring_through(corners[::-1], [(n - 2 - i) % n for i in range(n)])
    inner = advance([inward], [inwards] * n, 0.0, 0.0, swept)
    outer = advance([ring_through(corners, range(n))], [outwards] * n, 0.0, 0.0, swept)
    return swept.surface(), footprint([*outer, *inner])
