"""The finished ground as faces: what is cut, what is filled, what stays as it is."""

from dataclasses import dataclass

import numpy as np
import shapely

from terrain.lot.finish import Finished
from terrain.lot.grids import lot_area
from terrain.surface.minimum import sound_parts, within
from terrain.surface.overlay import overlay_faces
from terrain.surface.patches import Surface, join_faces, labelled

STAYS = -1
"""Label of ground that stays as it is."""

DRAWN = 1e-6
"""Length units to which outlines are drawn."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FinishedGround:
    """Finished ground over the lot outside the house, in faces that share no area.

    Labels of `cut` and `filled` say whose limit holds there, an index into the lot's causes.
    """

    stays: Surface
    cut: Surface
    filled: Surface

    @property
    def whole(self) -> Surface:
        """All of it; it may jump at pads, areas kept, house and lot line."""
        return join_faces(self.stays, self.cut, self.filled)


def finished_ground(ground: Surface, lot: Finished) -> FinishedGround:
    """The existing ground held between the lot's limits, split where it is let go or caught."""
    raised = overlay_faces(lot.lower, ground)
    filled = sound_parts(raised, raised.side > 0, lot.lower, raised.a)
    not_filled = sound_parts(raised, raised.side <= 0, ground, raised.b)
    lowered = overlay_faces(not_filled, lot.upper)
    cut = sound_parts(lowered, lowered.side > 0, lot.upper, lowered.b)
    held = sound_parts(lowered, lowered.side <= 0, not_filled, lowered.a)
    kept = lot_area(lot).difference(lot.region)
    stays = join_faces(held, within(ground, kept)) if kept.area > 0 else held
    return FinishedGround(stays=labelled(stays, np.full(len(stays), STAYS)), cut=cut, filled=filled)


def outline_of(surface: Surface) -> shapely.Geometry:
    """The ground that faces cover as polygons, for drawing: areas and volumes have their own."""
    count = np.diff(surface.start)
    face = np.repeat(np.arange(len(surface)), count)
    rings = shapely.linearrings(surface.ring, indices=face)
    return shapely.union_all(shapely.polygons(rings), grid_size=DRAWN)
