"""Made digs for the plan: an outline in level ground, a machine by weight, needs by side."""

import dataclasses
from dataclasses import dataclass

import numpy as np
import shapely

from terrain.base.units import FOOT
from terrain.haul.bays import bays_of, usual_truck
from terrain.haul.cells import Digging, cells_of
from terrain.haul.compare import Solved, Terms, solved_orders
from terrain.haul.faces import faces_of
from terrain.haul.field import Field, field_of
from terrain.haul.legs import DIRECTIONS, Leg, legs_of
from terrain.haul.machine import machine_of
from terrain.haul.outside import ExtraLine, outside_of
from terrain.haul.places import Heaping, Places, places_of
from terrain.haul.rates import rates_of
from terrain.haul.round import Round, rounds_of
from terrain.haul.stands import Site
from terrain.haul.walk import walk_round
from terrain.haul.work import work_of
from terrain.job.dig_plan_start import region_above
from terrain.pit.design import Design, Extra, Piece, Wall
from terrain.pit.dig import Dig, dig_of
from terrain.surface.minimum import lowest_of
from terrain.surface.overlay import Overlay, overlay
from terrain.surface.patches import lifted
from terrain.surface.pieces import level_floor, level_planes
from terrain.surface.rim import cut_region
from terrain.surface.strips import climb_planes, strip_pieces
from terrain.surface.tin import build_tin, tin_surface
from tests.oracles.dig_plan import Excavator, Loaded, Plot, Step

RECTANGLE = np.array([[0.0, 0.0], [48.0, 0.0], [48.0, 36.0], [0.0, 36.0]])
MACHINES = (5.0, 14.0, 25.0)
LEVEL = 100.0
SWELL, SHRINK = 0.25, 0.10


def jogged(across: float, down: float, width: float = 48.0, height: float = 36.0) -> np.ndarray:
    """A rectangle with one corner left out."""
    return np.array(
        [[0.0, 0.0], [width, 0.0], [width, height - down], [width - across, height - down],
         [width - across, height], [0.0, height]]
    )  # fmt: skip


@dataclass
class Asked:
    """What a made lot is; lengths in feet. `needs` are shares of the dig by side."""

    corners: np.ndarray
    weight: float = 14.0
    depth: float = 8.0
    side: float = 1.0
    overdig: float = 2.0
    size: float = 3.0
    topsoil: float = 0.0
    ramp: np.ndarray | None = None
    ramp_width: float = 12.0
    trench: np.ndarray | None = None
    free: shapely.Geometry | None = None
    needs: tuple[float, ...] = ()
    bare: tuple[int, ...] = ()
    hole: shapely.Polygon | None = None
    already: tuple[float, ...] = ()
    machine: dict[str, float] = dataclasses.field(default_factory=dict)


@dataclass
class Made:
    """A made lot ready to be planned."""

    asked: Asked
    dig: Dig
    whole: Overlay
    legs: tuple[Leg, ...]
    field: Field
    rounds: tuple[Round, Round]
    places: Places
    terms: Terms

    def orders(self) -> tuple[Solved, ...]:
        """Every order solved, best first."""
        return solved_orders(self.field, self.rounds, self.places, self.terms)


def _design(asked: Asked) -> Design:
    count = len(asked.corners)
    side = ((asked.side, 1.0),) if asked.side else ((0.0, 1.0),)
    extras: tuple[Extra, ...] = ()
    if asked.ramp is not None:
        floor = LEVEL - asked.depth
        pieces = strip_pieces(asked.ramp, asked.ramp_width)
        planes = climb_planes(asked.ramp, floor, 4.0)
        own = tuple(Piece(corners=p, plane=q) for p, q in zip(pieces, planes, strict=True))
        extras = (
            Extra(kind="ramp", name="ramp", pieces=own, overdig=0, side=((0.0, 1.0),), key="r"),
        )
    if asked.trench is not None:
        pieces = strip_pieces(asked.trench, 1.5)
        planes = level_planes(pieces) + np.array([0.0, 0.0, LEVEL - 4.0, 0.0, 0.0])
        own = tuple(Piece(corners=p, plane=q) for p, q in zip(pieces, planes, strict=True))
        extras += (
            Extra(kind="trench", name="t", pieces=own, overdig=0, side=((0.0, 1.0),), key="t"),
        )
    return Design(
        corners=asked.corners,
        walls=tuple(Wall(name=f"w{i}", overdig=asked.overdig, side=side) for i in range(count)),
        number=tuple(range(count)),
        floor=LEVEL - asked.depth,
        extras=extras,
    )


def _level(plan: np.ndarray) -> np.ndarray:
    return np.full(len(plan), LEVEL)


def made(asked: Asked) -> Made:
    """The lot of what is asked, its tables made."""
    low, high = asked.corners.min() - 120.0, asked.corners.max() + 120.0
    shots = np.array([[low, low], [high, low], [high, high], [low, high]])
    tin = build_tin(np.column_stack([shots, np.full(4, LEVEL)]))
    ground, design = tin_surface(tin), _design(asked)
    dig = dig_of(design, tin.points)
    cut = cut_region(ground, tin.neighbours, dig.surface, overlay(ground, dig.surface))
    rest, dug = cut, shapely.Polygon()
    if asked.hole is not None:
        floor = lifted(level_floor(asked.hole, 0), LEVEL - asked.depth)
        box = shapely.box(low, low, high, high)
        ground = lowest_of(ground, floor, box, asked.hole).lowest
        rest, dug = region_above(ground, dig.surface), asked.hole
    whole = overlay(ground, dig.surface)
    both = legs_of(dig.line.ring, DIRECTIONS[0]), legs_of(dig.line.ring, DIRECTIONS[1])
    machine, _ = machine_of(dict(asked.machine), asked.weight, FOOT)
    longest = max(both[0], key=lambda leg: leg.length)
    digging = Digging(
        ground=ground, dig=dig, region=rest, topsoil=asked.topsoil, along=longest.along
    )
    cells = cells_of(digging, asked.size)
    beside = [s for s, row in zip(cells.shape, cells.row, strict=True) if row >= len(design.walls)]
    site = Site(
        dig=shapely.Polygon(dig.line.ring.corners), cut=cut, free=asked.free, setback=2.0, dug=dug,
        extras=shapely.union_all(beside),
    )  # fmt: skip
    heaping = Heaping(repose=35.0, height=6.0, bare=asked.bare)
    places = places_of(both[0], site, machine, heaping)
    walk = walk_round([cut, *places.ground], machine.track_width)
    sides = tuple(wall.side for wall in design.walls)
    work = work_of(cells, machine, site, (_level, sides, 0.0), walk)
    rounds = rounds_of(work, both, faces_of(work, both[0], len(design.walls)))
    lines = ()
    if asked.ramp is not None:
        lines = (ExtraLine(row=len(design.walls), line=asked.ramp, leads_out=True),)
    if asked.trench is not None:
        row = len(design.walls) + len(lines)
        lines += (ExtraLine(row=row, line=asked.trench, leads_out=False, first=True),)
    outside = outside_of(work, both[0], lines, design.floor)
    bays = bays_of(work, both[0], usual_truck(FOOT), places)
    field = field_of(work, outside, rounds, bays)
    loose = float(cells.bank.sum() - cells.topsoil.sum()) * (1.0 + SWELL)
    share = asked.needs or tuple([0.5 / len(both[0])] * len(both[0]))
    terms = Terms(
        swell=SWELL,
        rates=rates_of(machine.bucket_capacity, machine.cycle_seconds, (SWELL, SHRINK), FOOT),
        heaping=heaping,
        need=np.array(share) * loose,
        already=27.0 * np.array(asked.already or [0.0] * len(both[0])),
        unfit=0.0,
        load=14.0 * 27.0,
    )
    return Made(
        asked=asked, dig=dig, whole=whole, legs=both[0], field=field, rounds=rounds,
        places=places, terms=terms,
    )  # fmt: skip


def replayed(lot: Made, one: Solved) -> tuple[Excavator, Plot, list[Step]]:
    """A solved order in the plain terms of the replay."""
    work, order = lot.field.work, one.order
    machine, cells = work.machine, work.cells
    names = [*(f"side {k}" for k in range(len(one.places))), "truck"]
    plot = Plot(
        dug=work.site.dug,
        pit=shapely.Polygon(lot.dig.line.ring.corners),
        free=lot.asked.free,
        polygons=list(cells.shape),
        bank=cells.bank - cells.topsoil,
        bottom=cells.bottom,
        swell=lot.terms.swell,
        capacity=dict(zip(names, [*one.places.capacity, np.inf], strict=True)),
        piles={
            name: ground
            for name, ground, cast in zip(
                names, one.places.ground, one.shipped.cast.sum(axis=0), strict=False
            )
            if cast > 0
        },
    )
    floor = LEVEL - lot.asked.depth
    steps = [
        Step(
            spot=order.stands.spot[k],
            facing=order.stands.facing[k],
            on_floor=kind == "floor",
            level=floor if kind == "floor" else LEVEL,
            way=order.way[k],
            early=k < sum(len(each.table) for each in lot.field.ahead),
        )
        for k, kind in enumerate(order.kind)
    ]
    for cell, place in zip(*np.nonzero(one.shipped.cast), strict=True):
        bank = one.shipped.cast[cell, place] / (1.0 + lot.terms.swell)
        steps[one.casting.stand[cell, place]].takes.append((int(cell), names[place], float(bank)))
    bays = one.loading.bays
    loads = (one.shipped.cast[:, -1] > 0) & (one.casting.bay >= 0)
    at = np.column_stack([one.casting.stand[loads, -1], one.casting.bay[loads]])
    for stand, bay in np.unique(at, axis=0):
        steps[stand].trucks.append(
            Loaded(
                ground=shapely.Polygon(bays.ring[bay]),
                way=bays.way[bay],
                body=bays.body[bay],
                side=LEVEL + 2.7 / 0.3048,
            )
        )
    plain = Excavator(
        reach=machine.reach, depth=machine.digging_depth, length=machine.track_length,
        width=machine.track_width, setback=work.site.setback,
        tail=machine.tail_swing + 0.5 / 0.3048,
    )  # fmt: skip
    return plain, plot, steps
