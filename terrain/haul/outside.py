"""Stands that are not in line with a wall: square to it from the rim, along a trench or ramp, and
on the floor where a ramp leads down to it.
"""

from dataclasses import dataclass

import numpy as np
import shapely

from terrain.base.arrays import BoolArray, FloatArray, IntArray
from terrain.haul.legs import Leg
from terrain.haul.machine import Machine
from terrain.haul.reach import Table, table_of, touched
from terrain.haul.stands import WITHIN, Site, Stands
from terrain.haul.work import Work

ON_A_RAMP = 2.0
"""Run per rise from which a machine drives up a ramp; common practice, no source."""

BEYOND = 3
"""Steps beyond the end of a line dug first up to which a stand is looked for, for what turns off
there."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ExtraLine:
    """A ramp or trench as the machine digs it: backing along `line` (m, 2) from its first point.

    `row` is its row of the ledger. A ramp's line begins at the floor; `leads_out` says that the
    machine can drive it; `first` that it is dug before the walls.
    """

    row: int
    line: FloatArray
    leads_out: bool
    first: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Outside:
    """Tables of stands that serve every order.

    Args:
        rim, rim_leg: square to the legs, counter-clockwise, and which leg each is of.
        extra, extra_line: along ramps and trenches, and which of `lines` each is of.
        floor, floor_leg: on the floor, and which leg each is of; none without a ramp.
        lines: the ramps and trenches.
        level: elevation of the main floor.
    """

    rim: Table
    rim_leg: IntArray
    extra: Table
    extra_line: IntArray
    floor: Table
    floor_leg: IntArray
    lines: tuple[ExtraLine, ...]
    level: float

    @property
    def ramp(self) -> ExtraLine | None:
        """The first way out that can be driven."""
        return next((line for line in self.lines if line.leads_out), None)


def outside_of(
    work: Work, legs: tuple[Leg, ...], lines: tuple[ExtraLine, ...], floor: float
) -> Outside:
    """All such stands round a dig whose main floor is at an elevation."""
    rim, rim_leg = _square_to(work, legs)
    extra, extra_line = _along(work, lines)
    found = Outside(
        rim=table_of(work, rim),
        rim_leg=rim_leg,
        extra=table_of(work, extra),
        extra_line=extra_line,
        floor=table_of(work, _none()),
        floor_leg=np.zeros(0, dtype=np.int64),
        lines=lines,
        level=floor,
    )
    if found.ramp is None:
        return found
    on_floor, floor_leg = _on_floor(work, legs)
    return Outside(
        rim=found.rim, rim_leg=rim_leg, extra=found.extra, extra_line=extra_line,
        floor=table_of(work, on_floor, floor), floor_leg=floor_leg, lines=lines, level=floor,
    )  # fmt: skip


def _none() -> Stands:
    return Stands(spot=np.zeros((0, 2)), facing=np.zeros((0, 2)))


def _gathered(spots: list[FloatArray], facings: list[FloatArray]) -> Stands:
    if not spots:
        return _none()
    return Stands(spot=np.array(spots), facing=np.array(facings))


def _square_to(work: Work, legs: tuple[Leg, ...]) -> tuple[Stands, IntArray]:
    """Stands outside the cut that face a leg square, step by step along it and past its ends."""
    machine, site = work.machine, work.site
    spots, facings, owner = [], [], []
    for number, leg in enumerate(legs):
        over = machine.reach
        count = max(2, int(np.ceil((leg.length + 2 * over) / machine.step)))
        for station in np.linspace(-over, leg.length + over, count):
            spot = _clear_of_cut(leg, float(station), machine, site)
            if spot is not None:
                spots.append(spot)
                facings.append(leg.inward)
                owner.append(number)
    return _gathered(spots, facings), np.array(owner, dtype=np.int64)


def run_of(ground: shapely.Geometry, leg: Leg, station: float, lane: tuple[float, float]) -> float:
    """How far out from a leg some ground reaches in a lane about a station.

    `lane` is half its width, and the reach of the machine, of which it is four times as long.
    """
    half, far = lane[0], 4.0 * lane[1]
    strip = shapely.Polygon(
        [leg.at(station - half, 0.0), leg.at(station - half, -far),
         leg.at(station + half, -far), leg.at(station + half, 0.0)]
    )  # fmt: skip
    edge = shapely.get_coordinates(strip.intersection(ground))
    return max(float(((leg.start - edge) @ leg.inward).max()), 0.0) if len(edge) else 0.0


def _clear_of_cut(leg: Leg, station: float, machine: Machine, site: Site) -> FloatArray | None:
    """The nearest spot straight out from a leg whose tracks are clear of the cut, if it is free."""
    run = run_of(site.cut, leg, station, (machine.track_width / 2 + site.setback, machine.reach))
    out = run + site.setback + machine.track_length / 2
    spot = leg.at(station, -out)
    tracks = Stands(spot=spot[None], facing=leg.inward[None]).tracks(machine)[0]
    if out > machine.reach or not site.may_stand(tracks):
        return None
    return spot


def _along(work: Work, lines: tuple[ExtraLine, ...]) -> tuple[Stands, IntArray]:
    """Stands over each ramp's or trench's line, backing along it, off all other ground dug."""
    spots: list[FloatArray] = []
    facings: list[FloatArray] = []
    owner: list[int] = []
    machine = work.machine
    for number, extra in enumerate(lines):
        other = work.cells.row != extra.row
        for start, end in zip(extra.line[:-1], extra.line[1:], strict=True):
            length = float(np.hypot(*(end - start)))
            back = (end - start) / length
            last = length + work.front + (BEYOND * machine.step if extra.first else 0.0)
            count = max(1, int(np.ceil(last / machine.step)))
            stations = np.linspace(0.0, last, count + 1)
            own = Stands(
                spot=start + stations[:, None] * back, facing=np.tile(-back, (count + 1, 1))
            )
            blocked = touched(work, own.tracks(machine, work.site.setback)) & other[None, :]
            for k in np.flatnonzero(~blocked.any(axis=1)):
                if work.site.may_stand(own.tracks(machine)[k]):
                    spots.append(own.spot[k])
                    facings.append(own.facing[k])
                    owner.append(number)
    return _gathered(spots, facings), np.array(owner, dtype=np.int64)


def _on_floor(work: Work, legs: tuple[Leg, ...]) -> tuple[Stands, IntArray]:
    """Stands on the floor in line with each leg and past its ends, facing either way.

    All round there is room for the tail between the faces.
    """
    machine = work.machine
    spots, facings, owner = [], [], []
    room = work.site.dig.buffer(WITHIN - machine.swings_in, join_style="mitre")
    shapely.prepare(room)
    for number, leg in enumerate(legs):
        over = machine.reach
        count = max(1, int(np.ceil((leg.length + 2 * over) / (machine.step / 2))))
        for station in np.linspace(-over, leg.length + over, count + 1):
            spot = leg.at(float(station), machine.swings_in)
            if room.covers(shapely.Point(spot)):
                spots += [spot, spot]
                facings += [leg.along, -leg.along]
                owner += [number, number]
    return _gathered(spots, facings), np.array(owner, dtype=np.int64)


def picked_for(
    left: BoolArray, digs: BoolArray, weight: FloatArray, least: float = 0.0
) -> list[int]:
    """Stands, most of the earth left first, as long as one of them digs more than `least` of it.

    Args:
        left: (n,) cells still to be dug.
        digs: (m, n) what each stand may dig.
        weight: (n,) their volumes.
        least: what no stand is made for.
    """
    left, chosen = left.copy(), []
    while left.any() and len(digs):
        gain = (digs & left[None, :]) @ weight
        best = int(gain.argmax())
        if gain[best] <= least:
            break
        chosen.append(best)
        left &= ~digs[best]
    return chosen
