"""What is dug last: from the floor, come in by the ramp, and from the rim."""

from dataclasses import replace

import numpy as np

from terrain.base.arrays import BoolArray, FloatArray
from terrain.haul.field import Field
from terrain.haul.floor import OnFloor, floor_stands
from terrain.haul.growing import Growing
from terrain.haul.outside import picked_for
from terrain.haul.reach import Table, way_needs
from terrain.haul.round import Round
from terrain.haul.working_face import working_faces

WITHOUT_TRUCK = (1.0, 0.2, 0.05)
"""What the earth dug from a stand on the floor counts that can load no truck, as a share, tried in
turn: it sits too low for most piles too."""

FROM_FOOT = (0.0, 1.0, 2.0, 3.0)
"""Reaches of the tail round the foot of the ramp within which no cell waits for the floor, tried in
turn: the machine has to get in there."""

STAND_BUCKETS = 6.0
"""Buckets that could be dug while the machine goes to another stand. Common practice, no source."""


def from_floor(field: Field, ring: Round, going: Growing) -> BoolArray:
    """Add the stands on the floor; (n,) of all cells, which are left then.

    What every stand along a wall would dig with its tracks too near the face waits for them too,
    unless less is dug so.
    """
    ramp = field.outside.ramp
    left = ~going.dug()
    if ramp is None:
        return left
    table = replace(field.outside.floor, digs=field.outside.floor.digs & _in_line(field, ring))
    held = _held_back(field, going) & table.digs.any(axis=0)
    foot = ramp.line[0]
    stands, after = _on_floor(field, table, left | _waiting(field, table, (left, held), foot), foot)
    for one in stands:
        way, room = one.way, table.needs[one.stand] | way_needs(field.work, one.way)
        if going.kind[-1] != "floor":
            end = ramp.line[-1], ramp.line[-1] - ramp.line[-2]
            way = np.vstack([field.work.walk.between(going.here, end), ramp.line[::-1], way])
            room |= way_needs(field.work, ramp.line)
        going.add("floor", int(field.outside.floor_leg[one.stand]), table, one.stand, way)
        going.digs[-1], going.room[-1] = one.digs, room
    return after & left


def _waiting(
    field: Field, table: Table, cells: tuple[BoolArray, BoolArray], foot: FloatArray
) -> BoolArray:
    """(n,): which of the cells held back may wait for the floor without barring the way to what is
    left: those far enough from the foot of the ramp.
    """
    left, held = cells
    work, worth = field.work, np.ones(len(table))
    bank, away = work.cells.bank, np.hypot(*(work.cells.middle - foot).T)
    rest = bank[floor_stands(work, (table, worth), left, foot)[1]].sum()
    for reach in FROM_FOOT:
        waits = held & (away > reach * work.machine.swings_in)
        after = floor_stands(work, (table, worth), left | waits, foot)[1]
        if bank[after & left].sum() <= rest + work.shovelful:
            return np.asarray(waits)
    return held & False


def _on_floor(
    field: Field, table: Table, left: BoolArray, foot: FloatArray
) -> tuple[list[OnFloor], BoolArray]:
    """Stands on the floor, by the worth of trucks that is best, and what is left.

    Best is what digs most, then what has fewest buckets that no truck takes, a stand more counted
    as some.
    """
    bank, bucket = field.work.cells.bank, field.work.machine.bucket_capacity

    def told(found: tuple[list[OnFloor], BoolArray]) -> tuple[float, float]:
        stands, rest = found
        lifted = sum(bank[one.digs].sum() for one in stands if not field.loads[one.stand])
        return round(bank[rest].sum() / bucket), lifted / bucket + STAND_BUCKETS * len(stands)

    tried = [
        floor_stands(field.work, (table, np.where(field.loads, 1.0, share)), left, foot)
        for share in WITHOUT_TRUCK
    ]
    return min(tried, key=told)


def from_rim(field: Field, going: Growing, left: BoolArray) -> BoolArray:
    """Add stands outside, square to the walls, for what is left; what is left then."""
    table = field.outside.rim
    for k in picked_for(left, table.digs, field.work.cells.bank, field.work.shovelful):
        spot, back = table.stands.spot[k], -table.stands.facing[k]
        up, here = _up_the_ramp(field, going)
        way = np.vstack([up, field.work.walk.between(here, (spot, back))])
        going.add("rim", int(field.outside.rim_leg[k]), table, k, way)
        going.digs[-1] = table.digs[k] & left
        left = left & ~table.digs[k]
    return left


def may_besides(field: Field, ring: Round, going: Growing) -> BoolArray:
    """(k, n): what a stand on the floor or the rim can take besides what was left for it.

    From the rim that are slopes in its reach, beside its own wall or one of the next, and no foot
    of a face: nothing stands or drives on a slope so late. On the floor it is all that it may dig
    and that no stand there has to have out of its way.
    """
    inside = np.array(going.kind)[:, None] == "floor"
    late = inside | (np.array(going.kind)[:, None] == "rim")
    gone = np.logical_or.accumulate(going.room, axis=0)
    beside = ring.beside(np.array(going.of))
    slope = field.work.cells.side & ~ring.faces.foot & beside
    first = [each.digs for each in field.ahead]
    apart = ~np.any(first, axis=0) if first else np.ones(len(field.work.cells), dtype=bool)
    return np.asarray(late & apart & going.reached & np.where(inside, ~gone | slope, slope))


def _in_line(field: Field, ring: Round) -> BoolArray:
    """(m, n): whether a stand on the floor may dig a cell by the rule of faces.

    There too the foot of a face is dug from stands along it or a wall next to it, or along one
    that runs as it does: the machine works square to it.
    """
    of = field.outside.floor_leg
    return np.asarray(~ring.faces.foot | ring.beside(of) | ring.along_with(of))


def _held_back(field: Field, going: Growing) -> BoolArray:
    """(n,): cells that each stand so far would dig with its tracks too near their face."""
    stands, digs = going.stands, np.array(going.digs)
    working = working_faces(field.work, stands, field.work.heights(stands.spot))
    well = digs & (working.steep == 0.0)
    return np.asarray(digs.any(axis=0) & ~well.any(axis=0))


def _up_the_ramp(field: Field, going: Growing) -> tuple[FloatArray, tuple[FloatArray, FloatArray]]:
    """The way (m, 2) off the floor, none from elsewhere; where it ends, and the way on from there.

    It goes back as the machine came.
    """
    ramp = field.outside.ramp
    if ramp is None or going.kind[-1] != "floor":
        return np.zeros((0, 2)), going.here
    first = going.kind.index("floor")
    at_foot = int(np.flatnonzero((going.way[first] == ramp.line[0]).all(axis=1))[0])
    came = np.vstack([going.way[first][at_foot:], *going.way[first + 1 :]])
    return np.vstack([came[::-1], ramp.line]), (ramp.line[-1], ramp.line[-1] - ramp.line[-2])
