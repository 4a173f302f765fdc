"""A whole order of digging: the round, the way out, then what is dug from outside or by the ramp.

Rim corners come out of it: corners with cells along a face that no stand in line could dig.
"""

from dataclasses import dataclass, replace
from typing import Literal, TypeAlias

import numpy as np
import shapely

from terrain.base.arrays import BoolArray, FloatArray, IntArray
from terrain.haul.corners import LeftCorner, left_corners
from terrain.haul.field import Field
from terrain.haul.floor import next_on_floor
from terrain.haul.legs import Direction, Leg
from terrain.haul.outside import picked_for
from terrain.haul.reach import Table, way_needs
from terrain.haul.round import Round, Turn, turn_of
from terrain.haul.stands import Stands

Kind: TypeAlias = Literal["wall", "out", "extra", "floor", "rim"]


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
        reached: (k, n) what is in its reach and in front, the faces' rule left out, on the floor
            kept to.
        room: (k, n) what must be gone before: on the floor, for its tracks, its tail and its way.
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
    reached: BoolArray
    room: BoolArray
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


@dataclass(slots=True, kw_only=True)
class _Growing:
    """An order in the making."""

    kind: list[Kind]
    of: list[int]
    spot: list[FloatArray]
    facing: list[FloatArray]
    way: list[FloatArray]
    digs: list[BoolArray]
    reached: list[BoolArray]
    room: list[BoolArray]

    def add(self, kind: Kind, of: int, table: Table, k: int, way: FloatArray) -> None:
        """One more stand, the k-th of a table, that so far digs nothing and needs nothing gone."""
        self.kind.append(kind)
        self.of.append(of)
        self.spot.append(table.stands.spot[k])
        self.facing.append(table.stands.facing[k])
        self.way.append(way)
        self.digs.append(np.zeros(table.digs.shape[1], dtype=bool))
        self.reached.append(table.digs[k])
        self.room.append(np.zeros(table.digs.shape[1], dtype=bool))

    @property
    def here(self) -> tuple[FloatArray, FloatArray]:
        """Where the machine is, and the way straight back from there."""
        return self.spot[-1], -self.facing[-1]


def order_of(field: Field, ring: Round, first: int) -> Order:
    """The order that starts along leg `first` of a round."""
    turn = turn_of(field.work, ring, first)
    going = _Growing(
        kind=["out" if out else "wall" for out in turn.is_out],
        of=turn.leg.tolist(),
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
        [d for d, k in zip(going.digs, going.kind, strict=True) if k == "wall"], axis=0
    )
    foot = ring.faces.foot & ~by_wall & ~field.deep
    shut_in = _out(field, going, (turn, until), by_wall, ramp) or turn.cut_off
    left = ~_dug(going, None)
    if ramp:
        left = _floor(field, ring, going, left)
    corners = left_corners(field.work, turn, until, foot & left if ramp else foot)
    left = _rim(field, going, left)
    stands = Stands(spot=np.array(going.spot), facing=np.array(going.facing))
    return Order(
        round=ring,
        first=first,
        kind=tuple(going.kind),
        of=np.array(going.of),
        stands=stands,
        way=tuple(going.way),
        until=until,
        digs=np.array(going.digs),
        reached=np.array(going.reached),
        room=np.array(going.room),
        corners=corners,
        left=left,
        shut_in=shut_in,
        clear=_clear(field, going),
    )


def _dug(going: _Growing, kind: Kind | None) -> BoolArray:
    """(n,): what all stands, or those of one kind, may dig."""
    own = [d for d, k in zip(going.digs, going.kind, strict=True) if kind in (None, k)]
    return np.asarray(np.any(own, axis=0)) if own else np.zeros_like(going.digs[0])


def _extras(field: Field, going: _Growing, turn: Turn) -> IntArray:
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
    field: Field, going: _Growing, held: tuple[Turn, IntArray], by_wall: BoolArray, ramp: bool
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


def _floor(field: Field, ring: Round, going: _Growing, left: BoolArray) -> BoolArray:
    """Add stands on the floor as long as they dig anything of what is left; what is left then.

    There too the foot of a face is dug from stands along it or a wall next to it, or along one
    that runs as it does: the machine works square to it.
    """
    ramp = field.outside.ramp
    if ramp is None:
        return left
    of = field.outside.floor_leg
    in_line = ~ring.faces.foot | ring.beside(of) | ring.along_with(of)
    table = replace(field.outside.floor, digs=field.outside.floor.digs & in_line)
    foot, end = ramp.line[0], (ramp.line[-1], ramp.line[-1] - ramp.line[-2])
    while left.any() and len(table):
        inside = going.kind[-1] == "floor"
        found = next_on_floor(field.work, table, left, going.here[0] if inside else foot)
        if found is None:
            break
        k, way = found
        room = table.needs[k] | way_needs(field.work, way)
        if not inside:
            way = np.vstack([field.work.walk.between(going.here, end), ramp.line[::-1], way])
        going.add("floor", int(field.outside.floor_leg[k]), table, k, way)
        going.digs[-1] = table.digs[k] & left
        going.room[-1] = room
        left = left & ~table.digs[k]
    return left


def _rim(field: Field, going: _Growing, left: BoolArray) -> BoolArray:
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


def _up_the_ramp(field: Field, going: _Growing) -> tuple[FloatArray, tuple[FloatArray, FloatArray]]:
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


def _clear(field: Field, going: _Growing) -> shapely.Geometry:
    """The ground outside that stands and the ways straight back from them take."""
    machine, site = field.work.machine, field.work.site
    half = machine.track_width / 2 + site.setback
    taken, ramp = [], field.outside.ramp
    if ramp is not None and "floor" in going.kind:
        last = ramp.line[-1]
        leave = field.work.walk.leave(last, last - ramp.line[-2])
        taken.append(shapely.LineString([*ramp.line, leave]).buffer(half, cap_style="square"))
    for k, kind in enumerate(going.kind):
        if kind in ("wall", "floor"):
            continue
        spot, back = going.spot[k], -going.facing[k]
        begin = spot - machine.track_length / 2 * back
        leave = field.work.walk.leave(spot, back)
        taken.append(shapely.LineString([begin, leave]).buffer(half, cap_style="square"))
    return shapely.union_all(taken)
