"""What is dug before the walls: trenches outside, from over their line, on whole ground."""

from dataclasses import dataclass

import numpy as np
import shapely

from terrain.base.arrays import BoolArray
from terrain.haul.outside import Outside, picked_for
from terrain.haul.reach import Table
from terrain.haul.work import Work


@dataclass(frozen=True, slots=True, kw_only=True)
class Ahead:
    """The stands over one line that come first, in the order they back along it.

    `digs` (n,) is what they are there for: no other stand digs it.
    """

    line: int
    table: Table
    digs: BoolArray


def ahead_of(work: Work, outside: Outside) -> tuple[Ahead, ...]:
    """As few stands as dig each line that is dug first, from far enough off where they can.

    What is nearer to the walls' dig than it is deep stays: the machine has its tracks along there.
    """
    found = []
    deep = work.heights(work.cells.middle) - work.cells.bottom
    far = shapely.distance(work.shapes, work.site.dig) >= deep
    for number, line in enumerate(outside.lines):
        if not line.first:
            continue
        rows = np.flatnonzero(outside.extra_line == number)
        own = (work.cells.row == line.row) & far
        may = outside.extra.digs[rows] & own
        well = outside.extra.well[rows] & own
        may = np.where(well.any(axis=0), well, may)
        picked = sorted(picked_for(own, may, work.cells.bank, work.shovelful))
        if picked:
            table = outside.extra.of(rows[picked])
            found.append(Ahead(line=number, table=table, digs=may[picked].any(axis=0)))
    return tuple(found)
