"""Where the cut is deepest: the spot, and the corner of the dig line that it lies at."""

from collections.abc import Sequence

import numpy as np

from terrain.job.answer import DeepestSpot, DigCorner
from terrain.job.worked import Worked
from terrain.surface.overlay import overlay_faces
from terrain.surface.patches import picked

AS_DEEP = 1e-6
"""Spots that are less deep by no more than this part of the depth are as deep as any."""
MOST_PAIRS = 1000
"""Faces that meet at one spot are few: of more that are as deep, some lie elsewhere."""
SAME_SPOT_M = 0.5
"""Metres within which spots are one, and a spot lies at a corner. Common practice, no source."""


def deepest_spot(worked: Worked, corners: Sequence[DigCorner]) -> DeepestSpot | None:
    """Where the cut is deepest, in the job's unit; None if nothing is cut or several places are.

    Depth is linear over each part of the overlay, so a deepest spot is a corner of such a part.
    """
    whole = worked.figures.whole
    deepest = float(whole.depth_above.max(initial=0.0))
    if deepest == 0.0 or not corners:
        return None
    least = deepest * (1.0 - AS_DEEP)
    pairs = np.flatnonzero(whole.depth_above >= least)
    if len(pairs) > MOST_PAIRS:
        return None
    parts = overlay_faces(
        picked(worked.existing.ground.surface, np.unique(whole.a[pairs])),
        picked(worked.dig.surface, np.unique(whole.b[pairs])),
    )
    spots = parts.ring[parts.depth >= least]
    same = SAME_SPOT_M / float(worked.job.unit.metres)
    if not len(spots) or float(np.hypot(*np.ptp(spots, axis=0))) > same:
        return None
    easting, northing = (float(v) for v in worked.layout.frame.to_site(spots[0]))
    away = [np.hypot(corner.easting - easting, corner.northing - northing) for corner in corners]
    nearest = int(np.argmin(away))
    off = float(away[nearest])
    return DeepestSpot(
        easting=easting,
        northing=northing,
        corner=corners[nearest].walls,
        away=0.0 if off <= same else off,
    )
