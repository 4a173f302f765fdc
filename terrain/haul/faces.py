"""Which cells lie along a face of the dig, and from which stands such a cell may be dug.

A face comes out plumb and in line from stands in line with its wall; its last stretch, which these
no longer have in front, from the first stands of the next wall (common practice, no source).
"""

from dataclasses import dataclass

import numpy as np
import shapely

from terrain.base.arrays import BoolArray, FloatArray, IntArray
from terrain.haul.legs import NO_CORNER, Leg
from terrain.haul.stands import WITHIN, LegStands
from terrain.haul.work import Work

NO_FACE = -1


@dataclass(frozen=True, slots=True, kw_only=True)
class Faces:
    """The cells along the dig line, (n,) each.

    Args:
        leg: whose face a cell is of, by number in the round, or `NO_FACE`.
        foot: whether it is of the face's foot, along the dig line: that must come out true. The
            rest of a slope is taken down from wherever it is in reach beside that wall.
        station: (legs, n) along each leg, of the cell's middle.
        reaches: (legs, n) the same of its furthest corner.
    """

    leg: IntArray
    foot: BoolArray
    station: FloatArray
    reaches: FloatArray

    def turned(self, legs: tuple[Leg, ...], corners: FloatArray, middle: FloatArray) -> "Faces":
        """The same for the round the other way, along its `legs`."""
        leg = np.where(self.leg == NO_FACE, NO_FACE, len(legs) - 1 - self.leg)
        station, reaches = _stations(legs, corners, middle)
        return Faces(leg=leg, foot=self.foot, station=station, reaches=reaches)


def faces_of(work: Work, legs: tuple[Leg, ...], walls: int) -> Faces:
    """Cells within a bucket's width of the dig line inside it, and all of the sides beyond.

    Args:
        work: cells and machine.
        legs: counter-clockwise.
        walls: how many rows of the ledger are walls.
    """
    cells, bucket_width = work.cells, work.machine.bucket_width
    lines = np.array([leg.line for leg in legs], dtype=object)
    apart = shapely.distance(lines[:, None], shapely.points(cells.middle)[None, :])
    owner = np.array([leg.wall for leg in legs])
    own = apart + np.where(owner[:, None] == cells.row[None, :], 0.0, 1e9)
    swept = cells.side & np.isin(cells.row, owner)
    leg = np.where(swept, own.argmin(axis=0), apart.argmin(axis=0))
    nearest = apart.min(axis=0)
    near = max(bucket_width, cells.size)
    along = (cells.row < walls) & (cells.side | (nearest <= near))
    station, reaches = _stations(legs, work.corners, cells.middle)
    return Faces(
        leg=np.where(along, leg, NO_FACE),
        foot=along & (nearest <= near),
        station=station,
        reaches=reaches,
    )


def _stations(
    legs: tuple[Leg, ...], corners: FloatArray, middle: FloatArray
) -> tuple[FloatArray, FloatArray]:
    station = np.array([one.station(middle) for one in legs])
    reaches = np.array([one.station(corners).max(axis=1) for one in legs])
    return station, reaches


def may_dig(
    faces: Faces, own: int, along: tuple[LegStands, ...], reach: float, well: BoolArray
) -> BoolArray:
    """(m, n): whether a stand in line with leg `own` may dig a cell, by the rule of faces alone.

    Args:
        faces: stations along the legs in this direction of travel.
        own: the leg's number in the round.
        along: the stands of all legs.
        reach: how far on from its first stand others still count as its first.
        well: (n,) what the stands of the leg before have in front with their face laid back.
    """
    count = len(faces.station)
    previous, following = (own - 1) % count, (own + 1) % count
    here, before = along[own], along[previous]
    anywhere = (faces.leg == NO_FACE) | (faces.leg == own)
    slope = ~faces.foot & ((faces.leg == previous) | (faces.leg == following))
    past_half = faces.station[previous] > before.leg.length / 2
    end = (faces.reaches[previous] > before.ends_from - WITHIN) | (past_half & ~well)
    end &= faces.leg == previous
    first = here.station <= here.station[0] + reach if len(here) else np.zeros(0, dtype=bool)
    return np.asarray((anywhere | slope)[None, :] | (end[None, :] & first[:, None]))


def lost_starts(
    faces: Faces, legs: tuple[Leg, ...], along: tuple[LegStands, ...], middle: FloatArray
) -> IntArray:
    """(n,): the leg at whose end a cell is lost for want of a stand in line with the next.

    A wall without a stand of its own has no ground in line with it: the half of its foot at the
    corner it starts from is finished from the rim, one cell of it at least. `NO_FACE` elsewhere.
    """
    lost = np.full(len(middle), NO_FACE)
    for k, leg in enumerate(legs):
        before = (k - 1) % len(legs)
        if len(along[k]) or abs(legs[before].turn) < NO_CORNER:
            continue
        own = faces.foot & (faces.leg == k)
        start = own & (faces.station[k] <= leg.length / 2)
        if not start.any():
            near = np.hypot(*(middle - leg.start).T)
            beside = own if own.any() else faces.foot & (faces.leg == before)
            start = beside & (near <= near[beside].min(initial=np.inf))
        lost[start] = before
    return lost
