"""Rim corners: corners with cells along a face that no stand in line could dig."""

from dataclasses import dataclass

import numpy as np

from terrain.base.arrays import BoolArray, IntArray
from terrain.haul.faces import NO_FACE
from terrain.haul.legs import NO_CORNER
from terrain.haul.round import Turn
from terrain.haul.work import Work


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftCorner:
    """A corner at the end of leg `leg` of the round, and its cells (n,) that were left over."""

    leg: int
    cells: BoolArray


def left_corners(
    work: Work, turn: Turn, until: IntArray, left: BoolArray
) -> tuple[LeftCorner, ...]:
    """The corners where face cells are left, more than a shovelful.

    What the last leg's stands or the way out held is of the last corner.
    """
    ring, count = turn.round, len(turn.round.legs)
    faces, cells = ring.faces, np.flatnonzero(left)
    leg = faces.leg[cells]
    length = np.array([one.length for one in ring.legs])
    past_half = faces.station[leg, cells] > length[leg] / 2
    corner = np.where(past_half, leg, (leg - 1) % count)
    corner = np.where(ring.lost[cells] == NO_FACE, corner, ring.lost[cells])
    held_from = 2 * int(np.flatnonzero(turn.leg == turn.last)[0]) - 1
    corner = np.where(until[cells] >= held_from, turn.last, corner)
    found = []
    for k in range(count):
        own = np.zeros(len(left), dtype=bool)
        own[cells[corner == k]] = True
        if abs(ring.legs[k].turn) >= NO_CORNER and work.cells.bank[own].sum() > work.shovelful:
            found.append(LeftCorner(leg=k, cells=own))
    return tuple(found)
