"""What is asked of a stand besides reach: a working face laid back, no bucket at full stretch.

The tracks stay as far from the foot of the face they dig towards as a side as drawn runs in that
height, and the setback at least: so they load no ground that the sides' own slope would not carry.
Common practice, no source.
"""

from dataclasses import dataclass

import numpy as np

from terrain.base.arrays import BoolArray, FloatArray
from terrain.haul.stands import WITHIN, Stands
from terrain.haul.work import Work


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkingFaces:
    """Stands (k,) over cells (n,), (k, n) each.

    Args:
        ahead: from the front of the tracks to the nearest of the cell, in length units.
        below: from the tracks down to the bottom of the cell, nought where that is higher.
        wanted: how far ahead it should be.
        beyond: how much farther its far corner is than the bucket digs there.
    """

    ahead: FloatArray
    below: FloatArray
    wanted: FloatArray
    beyond: FloatArray

    @property
    def steep(self) -> FloatArray:
        """How much nearer the face comes than it should, as a share of that; 0 where it is not."""
        return np.asarray(np.maximum(self.wanted - self.ahead - WITHIN, 0.0) / self.wanted)

    def kept(self, digs: BoolArray) -> BoolArray:
        """(k, n): the same but for cells from stands that come too near, if another digs them."""
        well = digs & (self.steep == 0.0)
        return np.asarray(np.where(well.any(axis=0), well, digs))


def working_faces(work: Work, stands: Stands, level: FloatArray) -> WorkingFaces:
    """The working faces of stands whose tracks are at elevations `level` (k,)."""
    spot, facing = stands.spot, stands.facing
    below = np.maximum(level[:, None] - work.cells.bottom[None, :], 0.0)
    ahead = np.einsum("nkd,md->mnk", work.corners, facing).min(axis=2)
    ahead -= (spot * facing).sum(axis=1)[:, None] + work.machine.track_length / 2
    apart = work.corners[None, :, :, :] - spot[:, None, None, :]
    far = np.sqrt((apart**2).sum(axis=3).max(axis=2))
    return WorkingFaces(
        ahead=ahead,
        below=below,
        wanted=work.site.setback + work.lay[None, :] * below,
        beyond=np.maximum(far - work.machine.reach_at(below), 0.0),
    )
