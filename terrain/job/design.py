"""From a job to the dig it asks for: `terrain.pit.design.Design` in the local frame."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from typing import TypeVar

import numpy as np

from terrain.base.arrays import FloatArray
from terrain.base.errors import DesignError, Fault, SpoilbankError
from terrain.base.frame import LocalFrame
from terrain.job.faults import key_text
from terrain.job.figure import Figure, foundation_figure
from terrain.job.kinds import shown
from terrain.job.load import Job
from terrain.job.lot_line import lot_line
from terrain.job.schema import Foundation, Pit, Ramp, Trench
from terrain.pit.design import Design, Extra, FootingTrench, Piece, Wall
from terrain.pit.foundation import counter_clockwise, outline_problems
from terrain.pit.levels import Levels, LevelsGiven, resolve_levels
from terrain.surface.strips import (
    climb_planes,
    straightened,
    strip_outline,
    strip_pieces,
    strip_problems,
)
from terrain.survey.shots import Shots

T = TypeVar("T")


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """The dig as asked for, and how it came about.

    `projection` is how far the footing stands out past the outside face, 0 without a footing.
    """

    frame: LocalFrame
    design: Design
    figure: Figure
    levels: Levels
    projection: float


def lay_out(job: Job, shots: Shots | None = None) -> Layout:
    """The dig a job asks for; `shots` are needed where the foundation is fitted to stakes.

    Raises:
        DesignError: the foundation, its levels or an extra is impossible; every fault names its
            key and line in the job file, and the numbers.
    """
    faults: list[Fault] = []
    levels = _gather(faults, lambda: resolve_levels(_levels_given(job)))
    figure = _gather(faults, lambda: _sound_figure(job, shots))
    frame = figure.frame if figure is not None else LocalFrame()
    floor = levels.floor if levels is not None else 0.0
    extras = tuple(
        extra
        for make in _extra_makers(job, frame, floor)
        if (extra := _gather(faults, make)) is not None
    )
    line = _gather(faults, lambda: lot_line(job))
    for key, what, ring in _rings_around(job, line):
        _gather(faults, partial(_refuse_outline, key, what, ring))
    if faults or levels is None or figure is None:
        raise job.located(DesignError(*faults))
    corners, number = counter_clockwise(figure.corners)
    projection = footing_projection(job.foundation)
    footing = job.foundation.footing
    trench = None
    if footing is not None and levels.footing_bottom is not None:
        trench = FootingTrench(
            width=footing.width, projection=projection, bottom=levels.footing_bottom
        )
    design = Design(
        corners=corners,
        walls=tuple(_wall(job, figure.walls[i]) for i in number),
        number=number,
        floor=levels.floor,
        footing=trench,
        extras=extras,
    )
    return Layout(
        frame=figure.frame, design=design, figure=figure, levels=levels, projection=projection
    )


def _gather(faults: list[Fault], make: Callable[[], T]) -> T | None:
    """What `make` makes, or None with its faults added to those found so far."""
    try:
        return make()
    except SpoilbankError as error:
        faults += error.faults
        return None


def _levels_given(job: Job) -> LevelsGiven:
    foundation = job.foundation
    footing, stone = foundation.footing, foundation.stone
    return LevelsGiven(
        floor=job.dig.floor,
        top=foundation.top,
        wall_height=foundation.wall_height,
        footing_depth=footing.depth if footing else None,
        footing_bottom=footing.bottom if footing else None,
        under_slab=stone.under_slab if stone else None,
    )


def footing_projection(foundation: Foundation) -> float:
    """How far the footing stands out past the outside face: as given, or the wall centred on it."""
    footing = foundation.footing
    if footing is None:
        return 0.0
    if footing.projection is not None:
        return footing.projection
    return (footing.width - (foundation.wall_thickness or 0.0)) / 2


def _sound_figure(job: Job, shots: Shots | None) -> Figure:
    figure = foundation_figure(job, shots)
    problems = outline_problems(figure.frame.to_site(figure.corners), figure.walls)
    if problems:
        key = "foundation.corners" if figure.form == "corners" else "foundation"
        raise DesignError(*(Fault(key=key, message=m) for m in problems))
    return figure


def _wall(job: Job, name: str) -> Wall:
    own = job.dig.walls.get(name)
    overdig, side = job.dig.overdig, job.dig.side
    if own is None:
        return Wall(name=name, overdig=overdig, side=side)
    return Wall(
        name=name,
        overdig=overdig if own.overdig is None else own.overdig,
        side=side if own.side is None else own.side,
        key=key_text(("dig", "walls", name)),
    )


def _extra_makers(job: Job, frame: LocalFrame, floor: float) -> Iterator[Callable[[], Extra]]:
    """One function for each pit, ramp and trench, in the order of their rows."""
    dig = job.dig
    for i, pit in enumerate(dig.pits):
        yield partial(_pit, pit, frame, f"dig.pits[{i + 1}]")
    for i, ramp in enumerate(dig.ramps):
        yield partial(_ramp, ramp, frame, f"dig.ramps[{i + 1}]", floor)
    for i, trench in enumerate(dig.trenches):
        yield partial(_trench, trench, frame, f"dig.trenches[{i + 1}]")


def _level_piece(corners: FloatArray, floor: float) -> Piece:
    plane = np.array([*corners[0], floor, 0.0, 0.0])
    return Piece(corners=corners, plane=plane)


def _pit(pit: Pit, frame: LocalFrame, key: str) -> Extra:
    drawn = np.array(pit.corners)
    _refuse_outline(f"{key}.corners", f"pit {shown(pit.name)}", drawn)
    corners, _ = counter_clockwise(frame.to_local(drawn))
    return Extra(
        kind="pit",
        name=pit.name,
        pieces=(_level_piece(corners, pit.floor),),
        overdig=pit.overdig,
        side=pit.side,
        key=key,
    )


def _strip_line(strip: Ramp | Trench, frame: LocalFrame, key: str, kind: str) -> FloatArray:
    """The centre line in the local frame, straightened, once it is known to make a strip."""
    drawn = frame.to_local(np.array(strip.line))
    _refuse(f"{key}.line", f"{kind} {shown(strip.name)}", strip_problems(drawn, strip.width))
    return straightened(drawn)


def _ramp(ramp: Ramp, frame: LocalFrame, key: str, main_floor: float) -> Extra:
    line = _strip_line(ramp, frame, key, "ramp")
    floor = main_floor if ramp.floor is None else ramp.floor
    corners = strip_pieces(line, ramp.width)
    planes = climb_planes(line, floor, ramp.run_per_rise)
    last = len(corners) - 1
    pieces = tuple(
        # side 1 of a piece is its far mitre, side 3 its near one
        Piece(
            corners=corners[i],
            plane=planes[i],
            shared=((1,) if i < last else ()) + ((3,) if i > 0 else ()),
        )
        for i in range(len(corners))
    )
    return Extra(
        kind="ramp",
        name=ramp.name,
        pieces=pieces,
        overdig=ramp.overdig,
        side=ramp.side,
        key=key,
    )


def _trench(trench: Trench, frame: LocalFrame, key: str) -> Extra:
    line = _strip_line(trench, frame, key, "trench")
    corners = strip_outline(line, trench.width)
    return Extra(
        kind="trench",
        name=trench.name,
        pieces=(_level_piece(corners, trench.floor),),
        overdig=trench.overdig,
        side=trench.side,
        key=key,
    )


def _rings_around(job: Job, line: FloatArray | None) -> Iterator[tuple[str, str, FloatArray]]:
    """Key, name and corners of every outline round the dig: house, lot line, buildings."""
    if job.house is not None and job.house.corners is not None:
        yield "house.corners", "the house", np.array(job.house.corners)
    if line is not None:
        yield "lot.boundary", "the lot line", line
    if job.lot is None:
        return
    for name, corners in job.lot.buildings.items():
        key = key_text(("lot", "buildings", name))
        yield key, f"building {shown(name)}", np.array(corners)


def _refuse_outline(key: str, what: str, corners: FloatArray) -> None:
    sides = tuple(f"side {i + 1}" for i in range(len(corners)))
    _refuse(key, what, outline_problems(corners, sides))


def _refuse(key: str, what: str, problems: list[str]) -> None:
    if problems:
        raise DesignError(*(Fault(key=key, message=f"{what}: {m}") for m in problems))
