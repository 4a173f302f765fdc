"""What all orders of a job share."""

from dataclasses import dataclass

import numpy as np
import shapely

from terrain.base.arrays import BoolArray
from terrain.haul.adjoin import Adjoining, adjoining
from terrain.haul.ahead import Ahead, ahead_of
from terrain.haul.bays import Bays, may_load
from terrain.haul.outside import Outside
from terrain.haul.reach import too_deep
from terrain.haul.round import Round
from terrain.haul.work import Work


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """What all orders share: work, stands outside, lines needed, cells too deep, truck bays, which
    stands on the floor may load in one, which cells lie beside each other, what is dug first.
    """

    work: Work
    outside: Outside
    needed: BoolArray
    deep: BoolArray
    bays: Bays
    loads: BoolArray
    near: Adjoining
    ahead: tuple[Ahead, ...]


def field_of(work: Work, outside: Outside, rounds: tuple[Round, ...], bays: Bays) -> Field:
    """The field of a job: a ramp or trench is dug along its line if no round reaches all of it."""
    tables = [t for ring in rounds for t in (*ring.tables, *ring.out_tables) if len(t)]
    reached = np.any([t.digs.any(axis=0) for t in tables], axis=0)
    ahead = ahead_of(work, outside)
    for each in ahead:
        reached |= each.digs
    needed = [bool((work.cells.row == line.row)[~reached].any()) for line in outside.lines]
    needs = np.array(needed, dtype=bool)
    bays = bays.of(_off_the_ramp(work, outside, bays))
    spot = outside.floor.stands.spot
    loads = may_load(work.machine, bays, spot, np.full(len(spot), outside.level))
    return Field(
        work=work,
        outside=outside,
        needed=needs,
        deep=too_deep(work),
        bays=bays,
        loads=np.any(loads, axis=1),
        near=adjoining(work.cells, work.walls),
        ahead=ahead,
    )


def _off_the_ramp(work: Work, outside: Outside, bays: Bays) -> BoolArray:
    """(b,): whether a truck leaves the ramp and the machine's way up to it free."""
    ramp = outside.ramp
    if ramp is None or not len(bays):
        return np.ones(len(bays), dtype=bool)
    last = ramp.line[-1]
    come = work.walk.leave(last, last - ramp.line[-2])
    half = work.machine.track_width / 2 + work.site.setback
    lane = shapely.LineString([*ramp.line, come]).buffer(half, cap_style="flat")
    return ~np.asarray(shapely.intersects(bays.ground(), lane), dtype=bool)
