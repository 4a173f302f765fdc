"""One order of digging: all stands of a round in turn, and which cell each of them may dig.

A cell's ground is kept as long as this or any later stand, or the way to one, needs it.
"""

from dataclasses import dataclass, field

import numpy as np
import shapely

from terrain.base.arrays import BoolArray, FloatArray, IntArray
from terrain.haul.ahead import Ahead
from terrain.haul.faces import NO_FACE, Faces, lost_starts, may_dig
from terrain.haul.legs import DIRECTIONS, NO_CORNER, Direction, Leg
from terrain.haul.reach import Table, table_of, way_needs
from terrain.haul.stands import LegStands, Stands, leg_stands, way_out
from terrain.haul.work import Work

FIRST_LINE = -1

ACROSS = 0.7
"""Cosine of the angle, about 45 degrees, from which on a wall runs across another."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Round:
    """All legs one way round with their stands, and the way out after each.

    `lost` (n,) says at the end of which leg a cell can't be dug in line, `NO_FACE` elsewhere.
    """

    direction: Direction
    legs: tuple[Leg, ...]
    faces: Faces
    along: tuple[LegStands, ...]
    tables: tuple[Table, ...]
    out_tables: tuple[Table, ...]
    lost: IntArray
    ways: dict[tuple[int, int, bool, bool], tuple[FloatArray, BoolArray]] = field(
        default_factory=dict
    )

    def beside(self, of: IntArray) -> BoolArray:
        """(m, n): whether a cell is of the wall of a leg, counted counter-clockwise, or a next."""
        near = (self.faces.leg[None, :] - self._own(of)[:, None] + 1) % len(self.legs) <= 2
        return np.asarray(near & (self.faces.leg != NO_FACE))

    def along_with(self, of: IntArray) -> BoolArray:
        """(m, n): whether a cell is of a wall that runs as that of a leg does, on the same side."""
        alongs = np.array([leg.along for leg in self.legs])
        alike = alongs @ alongs.T >= np.cos(np.radians(NO_CORNER))
        return np.asarray(alike[self._own(of)][:, self.faces.leg] & (self.faces.leg != NO_FACE))

    def _own(self, of: IntArray) -> IntArray:
        return of if self.direction == DIRECTIONS[0] else len(self.legs) - 1 - of


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """One order: the stands of all legs from `first` on, then those out over the edge.

    Args:
        first: the starting leg's number in the round.
        leg: (k,) the leg each stand is in line with; of a stand over a line dug first, its number
            from `FIRST_LINE` down.
        is_out: (k,) whether it leads out over the edge.
        spot, facing: (k, 2).
        way: the way to each from the one before.
        until: (n,) twice the number of the last stand that needs the cell's ground, one less
            where only the way to it does; -1 where none does.
        digs: (k, n) what each may dig; a stand out over the edge only ground that is no face.
        reached: (k, n) what is in its reach and in front, the faces' rule left out.
        cut_off: whether a way crosses ground that was dug before the plan begins.
    """

    round: Round
    first: int
    leg: IntArray
    is_out: BoolArray
    spot: FloatArray
    facing: FloatArray
    way: tuple[FloatArray, ...]
    until: IntArray
    digs: BoolArray
    reached: BoolArray
    cut_off: bool

    @property
    def last(self) -> int:
        """The leg that ends the round."""
        return (self.first - 1) % len(self.round.legs)


def round_of(work: Work, legs: tuple[Leg, ...], faces: Faces, direction: Direction) -> Round:
    """The round of these legs, its tables made."""
    along = tuple(
        leg_stands(leg, work.machine, work.site, _feet_across(work, legs, k))
        for k, leg in enumerate(legs)
    )
    outs = [
        way_out(one, legs[(k + 1) % len(legs)], work.machine, work.site)
        for k, one in enumerate(along)
    ]
    return Round(
        direction=direction,
        legs=legs,
        faces=faces,
        along=along,
        tables=tuple(table_of(work, one.stands) for one in along),
        out_tables=tuple(table_of(work, out) for out in outs),
        lost=lost_starts(faces, legs, along, work.cells.middle),
    )


def _feet_across(work: Work, legs: tuple[Leg, ...], own: int) -> shapely.Geometry:
    """Strips as wide as a foot along the walls that run across a leg, but for those next to it."""
    wide = max(work.machine.bucket_width, work.cells.size) + work.cells.size / 2
    beside = {(own - 1) % len(legs), (own + 1) % len(legs)}
    across = [
        leg.line.buffer(wide)
        for k, leg in enumerate(legs)
        if k not in beside and abs(float(leg.along @ legs[own].along)) < ACROSS
    ]
    return shapely.union_all(across)


def turn_of(work: Work, ring: Round, first: int, ahead: tuple[Ahead, ...] = ()) -> Turn:
    """The order that starts along leg `first`, after what is dug `ahead` of all."""
    count = len(ring.legs)
    order = [(first + k) % count for k in range(count)]
    last = order[-1]
    parts: list[tuple[int, bool, Table, BoolArray]] = [
        (FIRST_LINE - each.line, False, each.table, np.tile(each.digs, (len(each.table), 1)))
        for each in ahead
    ]
    for k in order:
        well = np.any(ring.tables[(k - 1) % count].well, axis=0)
        rule = may_dig(ring.faces, k, ring.along, work.machine.track_length, well)
        rule &= ring.lost == NO_FACE
        parts.append((k, False, ring.tables[k], rule))
    out = ring.out_tables[last]
    plain = np.tile(ring.faces.leg == NO_FACE, (len(out), 1))
    parts.append((last, True, out, plain))
    parts = [part for part in parts if len(part[2])]
    spot = np.vstack([part[2].stands.spot for part in parts])
    ways, way_cells = _ways(work, ring, parts)
    needs = np.vstack([part[2].needs for part in parts])
    number = 2 * np.arange(len(spot))[:, None]
    until = np.maximum(
        np.where(needs, number, -1).max(axis=0), np.where(way_cells, number - 1, -1).max(axis=0)
    )
    reached = np.vstack([part[2].digs for part in parts]) & (number > until[None, :])
    leg = np.concatenate([np.full(len(part[2]), part[0]) for part in parts])
    digs = reached & np.vstack([part[3] for part in parts])
    early = leg <= FIRST_LINE
    digs[~early] &= ~digs[early].any(axis=0)
    return Turn(
        round=ring,
        first=first,
        leg=leg,
        is_out=np.concatenate([np.full(len(part[2]), part[1]) for part in parts]),
        spot=spot,
        facing=np.vstack([part[2].stands.facing for part in parts]),
        way=ways,
        until=until,
        digs=digs,
        reached=reached,
        cut_off=any(_crosses_dug(work, way) for way in ways),
    )


def _ways(
    work: Work, ring: Round, parts: list[tuple[int, bool, Table, BoolArray]]
) -> tuple[tuple[FloatArray, ...], BoolArray]:
    """The way to each stand from the one before, and the cells (k, n) whose ground it needs."""
    ways: list[FloatArray] = []
    cells: list[BoolArray] = []
    before: tuple[int, bool, Stands] | None = None
    for leg, is_out, table, _ in parts:
        for k, spot in enumerate(table.stands.spot):
            if k == 0 and before is not None and before[0] <= FIRST_LINE:
                start = before[2].spot[-1], -before[2].facing[-1]
                way = work.walk.between(start, (spot, -table.stands.facing[0]))
                needed = way_needs(work, way)
            elif k == 0 and before is not None:
                key = (before[0], leg, is_out, len(ways) == 0)
                ends = (before[2].spot[-1], spot)
                if key not in ring.ways or not np.array_equal(ring.ways[key][0][[0, -1]], ends):
                    way = _around_corner(ring, (before[0], before[2]), (leg, table.stands))
                    if _crosses_dug(work, way):
                        back = -before[2].facing[-1], -table.stands.facing[0]
                        way = work.walk.between((way[0], back[0]), (way[-1], back[1]))
                    ring.ways[key] = way, way_needs(work, way)
                way, needed = ring.ways[key]
            elif k == 0:
                way, needed = spot[None], np.zeros(len(work.cells), dtype=bool)
            else:
                way = np.array([table.stands.spot[k - 1], spot])
                needed = way_needs(work, way) if _far(way, work) else np.zeros_like(cells[0])
            ways.append(way)
            cells.append(needed)
        before = leg, is_out, table.stands
    return tuple(ways), np.array(cells)


def _crosses_dug(work: Work, way: FloatArray) -> bool:
    """Whether a way comes within the setback of ground that was dug before the plan begins."""
    if work.site.dug.is_empty or len(way) < 2:
        return False
    half = work.machine.track_width / 2 + work.site.setback
    lane = shapely.LineString(way).buffer(half, cap_style="flat")
    return work.site.over_dug(lane)


def _far(way: FloatArray, work: Work) -> bool:
    """Whether there is ground between two stands that neither covers."""
    return float(np.hypot(*(way[1] - way[0]))) > work.machine.track_length


def _around_corner(
    ring: Round, before: tuple[int, Stands], after: tuple[int, Stands]
) -> FloatArray:
    """From the last stand in line with one leg to the first with another, by where they meet."""
    start, end = before[1].spot[-1], after[1].spot[0]
    one, two = before[1].facing[-1], after[1].facing[0]
    sine = one[0] * two[1] - one[1] * two[0]
    follows = (before[0] + 1) % len(ring.legs) == after[0]
    if not follows or abs(sine) < np.sin(np.radians(NO_CORNER)):
        return np.array([start, end])
    gap = end - start
    along = (gap[0] * two[1] - gap[1] * two[0]) / sine
    return np.array([start, start + along * one, end])


def rounds_of(
    work: Work, both: tuple[tuple[Leg, ...], tuple[Leg, ...]], faces: Faces
) -> tuple[Round, Round]:
    """The rounds of both directions; `faces` are numbered and measured counter-clockwise."""
    forward = round_of(work, both[0], faces, DIRECTIONS[0])
    turned = faces.turned(both[1], work.corners, work.cells.middle)
    return forward, round_of(work, both[1], turned, DIRECTIONS[1])
