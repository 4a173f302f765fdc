"""What all orders of a job share."""

from dataclasses import dataclass

import numpy as np

from terrain.base.arrays import BoolArray
from terrain.haul.adjoin import Adjoining, adjoining
from terrain.haul.bays import Bays
from terrain.haul.outside import Outside
from terrain.haul.reach import too_deep
from terrain.haul.round import Round
from terrain.haul.work import Work


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """What all orders share: work, stands outside, lines needed, cells too deep, truck bays, and
    which cells lie beside each other.
    """

    work: Work
    outside: Outside
    needed: BoolArray
    deep: BoolArray
    bays: Bays
    near: Adjoining


def field_of(work: Work, outside: Outside, rounds: tuple[Round, ...], bays: Bays) -> Field:
    """The field of a job: a ramp or trench is dug along its line if no round reaches all of it."""
    tables = [t for ring in rounds for t in (*ring.tables, *ring.out_tables) if len(t)]
    reached = np.any([t.digs.any(axis=0) for t in tables], axis=0)
    needed = [bool((work.cells.row == line.row)[~reached].any()) for line in outside.lines]
    needs = np.array(needed, dtype=bool)
    near = adjoining(work.cells, work.walls)
    return Field(
        work=work, outside=outside, needed=needs, deep=too_deep(work), bays=bays, near=near
    )
