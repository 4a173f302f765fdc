"""Which cells lie beside each other, and which slope lies above which foot of a face."""

from dataclasses import dataclass

import numpy as np
import shapely

from terrain.base.arrays import FloatArray, IntArray
from terrain.haul.cells import Cells

HAIR = 1e-5
"""Share of a cell's side by which shapes that only touch are widened to be found."""

CORNER = 0.1
"""Share of a cell's side up to which two cells meet at a corner only."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Adjoining:
    """Neighbours among n cells: those of cell c are `to[start[c] : start[c + 1]]`.

    Args:
        start: (n + 1,).
        to: (m,) the neighbour.
        side: (m,) length of the side they share, in sides of a whole cell; a ramp, pit or trench
            shares none with what is beside it.
        link: (m,) 1 where the neighbour is the foot of a face below the cell's slope, -1 where it
            is the slope above the cell, 0 elsewhere.
    """

    start: IntArray
    to: IntArray
    side: FloatArray
    link: IntArray


def adjoining(cells: Cells, walls: int) -> Adjoining:
    """The neighbours of all cells; rows of the ledger from `walls` on are no walls."""
    shapes = np.array(cells.shape, dtype=object)
    wide = shapely.buffer(shapes, HAIR * cells.size, join_style="mitre")
    own, to = shapely.STRtree(shapes).query(wide, predicate="intersects")
    extra = np.where(cells.row >= walls, cells.row, -1)
    near = (own != to) & (extra[own] == extra[to])
    own, to = own[near], to[near]
    side = shapely.area(shapely.intersection(wide[own], shapes[to])) / HAIR / cells.size**2
    real = side > CORNER
    own, to, side = own[real], to[real], side[real]
    order = np.lexsort((to, own))
    own, to, side = own[order], to[order], side[order]
    out = cells.side.astype(np.int64)
    return Adjoining(
        start=np.searchsorted(own, np.arange(len(cells) + 1)),
        to=to,
        side=side,
        link=out[own] - out[to],
    )
