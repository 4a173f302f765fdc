"""A whole order of digging: the round, the way out, then what is dug from outside or by the ramp.

Rim corners come out of it: corners with cells along a face that no stand in line could dig.
"""

from dataclasses import dataclass

import numpy as np
import shapely

from terrain.base.arrays import BoolArray, FloatArray, IntArray
from terrain.haul.corners import LeftCorner, left_corners
from terrain.haul.field import Field
from terrain.haul.growing import Growing, Kind
from terrain.haul.late import from_floor, from_rim, may_besides
from terrain.haul.legs import Direction, Leg
from terrain.haul.round import FIRST_LINE, Round, Turn, turn_of
from terrain.haul.stands import Stands
from terrain.haul.working_face import WorkingFaces, working_faces


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """All stands of an order in turn, (k,) each.

    Args:
        round, first: which way round, and the leg it starts along.
        kind: what stand it is.
        of: number of its leg in the round, or for "extra" of its line.
        way: how it is come to from the one before, (m, 2).
        until: (n,) twice the number of the last stand that needs the cell's ground, one less
            where only the way to it does; -1 where none does.
        digs: (k, n) what each may dig.
        level: elevation of its tracks.
        working: the face each digs towards.
        corners: those that are finished from the rim.
        left: (n,) cells that nothing digs.
        shut_in: whether the machine's way is barred: at its last corner, or by what is dug already.
        clear: ground outside that it needs, to be kept free of earth.
    """

    round: Round
    first: int
    kind: tuple[Kind, ...]
    of: IntArray
    stands: Stands
    way: tuple[FloatArray, ...]
    until: IntArray
    digs: BoolArray
    level: FloatArray
    working: WorkingFaces
    corners: tuple[LeftCorner, ...]
    left: BoolArray
    shut_in: bool
    clear: shapely.Geometry

    @property
    def direction(self) -> Direction:
        """Which way round."""
        return self.round.direction

    @property
    def start(self) -> Leg:
        """The leg it starts along."""
        return self.round.legs[self.first]


def order_of(field: Field, ring: Round, first: int) -> Order:
    """The order that starts along leg `first` of a round."""
    turn = turn_of(field.work, ring, first, field.ahead)
    line = FIRST_LINE - turn.leg
    going = Growing(
        kind=[
            "extra" if early else "out" if out else "wall"
            for early, out in zip(line >= 0, turn.is_out, strict=True)
        ],
        of=np.where(line >= 0, line, turn.leg).tolist(),
        spot=list(turn.spot),
        facing=list(turn.facing),
        way=list(turn.way),
        digs=list(turn.digs),
        reached=list(turn.reached),
        room=list(np.zeros_like(turn.reached)),
    )
    until = _extras(field, going, turn)
    ramp = field.outside.ramp is not None
    by_wall = np.any(
        [d for d, k in zip(going.digs, going.kind, strict=True) if k in ("wall", "extra")], axis=0
    )
    foot = ring.faces.foot & ~by_wall & ~field.deep
    shut_in = _out(field, going, (turn, until), by_wall, ramp) or turn.cut_off
    left = from_floor(field, ring, going)
    corners = left_corners(field.work, turn, until, foot & left if ramp else foot)
    left = from_rim(field, going, left)
    inside, stands = np.array(going.kind) == "floor", going.stands
    level = np.where(inside, field.outside.level, field.work.heights(stands.spot))
    working = working_faces(field.work, stands, level)
    digs = (np.array(going.digs) | may_besides(field, ring, going)) & ~left
    return Order(
        round=ring,
        first=first,
        kind=tuple(going.kind),
        of=np.array(going.of),
        stands=stands,
        way=tuple(going.way),
        until=until,
        digs=working.kept(digs),
        level=level,
        working=working,
        corners=corners,
        left=left,
        shut_in=shut_in,
        clear=_clear(field, going),
    )


def _extras(field: Field, going: Growing, turn: Turn) -> IntArray:
    """Add the stands along ramps and trenches; until when each cell's ground is needed then."""
    table, until = field.outside.extra, turn.until.copy()
    begin = len(going.kind)
    for k, line in enumerate(field.outside.extra_line.tolist()):
        if not field.needed[line]:
            continue
        spot, back = table.stands.spot[k], -table.stands.facing[k]
        if going.kind[-1] == "extra" and going.of[-1] == line:
            way = np.array([going.here[0], spot])
        else:
            way = field.work.walk.between(going.here, (spot, back))
        going.add("extra", line, table, k, way)
        until = np.where(table.needs[k], 2 * len(going.kind) - 2, until)
    number = [2 * k for k in range(len(going.kind))]
    rows = [line.row for line in field.outside.lines]
    chosen = [k for k, n in enumerate(field.outside.extra_line.tolist()) if field.needed[n]]
    for at, k in enumerate(chosen, start=begin):
        own = field.work.cells.row == rows[going.of[at]]
        going.digs[at] = np.asarray(table.digs[k] & own & (number[at] > until))
    for at in range(begin):
        going.digs[at] = np.asarray(going.digs[at] & (number[at] > until))
    return until


def _out(
    field: Field, going: Growing, held: tuple[Turn, IntArray], by_wall: BoolArray, ramp: bool
) -> bool:
    """Let the stands on the way out dig what is left; whether the way out is barred."""
    turn, until = held
    out = np.flatnonzero(turn.is_out)
    tracks = Stands(spot=turn.spot[out], facing=turn.facing[out]).tracks(field.work.machine)
    free = [field.work.site.may_stand(ring) for ring in tracks]
    for k, may in zip(out.tolist(), free, strict=True):
        allowed = turn.digs[k] | ~by_wall
        allowed &= turn.reached[k] & (2 * k > until)
        going.digs[k] = allowed & may & (not ramp)
    return not free[-1]


def _clear(field: Field, going: Growing) -> shapely.Geometry:
    """The ground outside that stands and the ways straight back from them take."""
    machine, site = field.work.machine, field.work.site
    half = machine.track_width / 2 + site.setback
    taken, ramp = [], field.outside.ramp
    if ramp is not None and "floor" in going.kind:
        last = ramp.line[-1]
        leave = field.work.walk.leave(last, last - ramp.line[-2])
        taken.append(shapely.LineString([*ramp.line, leave]).buffer(half, cap_style="square"))
    early = sum(len(each.table) for each in field.ahead)
    for k, kind in enumerate(going.kind):
        if kind in ("wall", "floor") or k < early:
            continue
        spot, back = going.spot[k], -going.facing[k]
        begin = spot - machine.track_length / 2 * back
        leave = field.work.walk.leave(spot, back)
        taken.append(shapely.LineString([begin, leave]).buffer(half, cap_style="square"))
    return shapely.union_all(taken)
