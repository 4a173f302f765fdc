"""The ramps, pits and trenches of a dig plan: where they run, how deep, and how high the ground."""

from typing import Literal, TypeAlias

import numpy as np
import shapely

from terrain.base.arrays import FloatArray
from terrain.haul.work import Heights
from terrain.job.dig_plan_ground_record import ExtraTold
from terrain.job.dig_plan_passes import Dug, polygons
from terrain.job.dig_plan_planned import Planned
from terrain.pit.design import Extra
from terrain.pit.dig import row_of
from terrain.surface.moves import Side, steps_upward
from terrain.surface.patches import height_on

Kind: TypeAlias = Literal["ramp", "pit", "trench"]

EDGES = 200
"""Parts of the line round a floor at which its sides are measured."""

STEPS = 2000
"""Parts of a ramp's line in which its top edge is looked for."""


def extras_told(planned: Planned, dug: Dug) -> tuple[ExtraTold, ...]:
    """Ramps, then pits, then trenches, in the job's order; local."""
    worked = planned.worked
    dig, frame, heights = worked.job.dig, worked.layout.frame, planned.field.work.heights

    def told(
        name: str, kind: Kind, shape: tuple[FloatArray, FloatArray], width: float | None
    ) -> ExtraTold:
        spots, floor = shape
        extras = worked.layout.design.extras
        row = next(k for k, e in enumerate(extras) if (e.kind, e.name) == (kind, name))
        own, row = extras[row], row + len(worked.layout.design.walls)
        ground = _dug(planned, row)
        highest = _highest(own, ground, heights)
        return ExtraTold(
            name=name, kind=kind, spots=spots, floor=floor, ground=heights(spots), width=width,
            dug=ground, steps=tuple((float(run), float(rise)) for run, rise in own.side),
            highest=highest, upright=_upright(own.side, highest),
            stands=_stands(planned, dug, row),
        )  # fmt: skip

    found = []
    for ramp in dig.ramps:
        foot = worked.layout.design.floor if ramp.floor is None else ramp.floor
        line = frame.to_local(np.array(ramp.line))
        shape = _up_to_ground(line, (foot, ramp.run_per_rise), heights)
        found.append(told(ramp.name, "ramp", shape, ramp.width))
    for pit in dig.pits:
        corners = frame.to_local(np.array(pit.corners))
        found.append(told(pit.name, "pit", (corners, np.full(len(corners), pit.floor)), None))
    for trench in dig.trenches:
        line = frame.to_local(np.array(trench.line))
        level = np.full(len(line), trench.floor)
        found.append(told(trench.name, "trench", (line, level), trench.width))
    return tuple(found)


def _dug(planned: Planned, row: int) -> shapely.MultiPolygon:
    """The faces of the dig that are an extra's own, as far as the cut reaches."""
    surface = planned.worked.dig.surface
    own = np.flatnonzero(row_of(surface.label) == row).tolist()
    faces = [shapely.Polygon(surface.corners(face)) for face in own]
    return polygons(
        shapely.union_all(faces, grid_size=1e-6).intersection(planned.field.work.site.cut)
    )


def _highest(extra: Extra, dug: shapely.MultiPolygon, heights: Heights) -> float:
    """How far its floor is below the ground as it was, at most, along where its sides begin."""
    deep = [0.0]
    for piece in extra.pieces:
        floor = shapely.Polygon(piece.corners).intersection(dug)
        if not floor.is_empty:
            edge = shapely.get_coordinates(floor.segmentize(max(floor.length / EDGES, 1e-6)))
            deep.append(float((heights(edge) - height_on(piece.plane, edge)).max()))
    return max(deep)


def _upright(side: Side, high: float) -> float:
    """The highest stretch straight up in a side that climbs so high."""
    climbed = stretch = best = 0.0
    for run, rise in steps_upward(side):
        left = high - climbed
        up = left if rise is None else min(float(rise), left)
        if run > 0:
            stretch = 0.0
        else:
            stretch += up
            best = max(best, stretch)
        climbed += up
        if rise is None or climbed >= high:
            break
    return best


def _stands(planned: Planned, dug: Dug, row: int) -> tuple[int, ...]:
    """The stands, as passes are numbered, that dig any of an extra's cells."""
    bank = dug.bank(planned.terms.swell)
    used = np.flatnonzero(bank.sum(axis=1) > 0.0)
    cells = planned.field.work.cells.row == row
    return tuple((np.flatnonzero((bank[used][:, cells] > 0.0).any(axis=1)) + 1).tolist())


def _up_to_ground(
    line: FloatArray, climb: tuple[float, float], heights: Heights
) -> tuple[FloatArray, FloatArray]:
    """A ramp's middle line (m, 2) as far as it is below the ground, and its floor (m,) there.

    `climb` is the elevation at its foot, and its run per rise.
    """
    foot, run = climb
    length = np.hypot(*np.diff(line, axis=0).T)
    at = np.concatenate([[0.0], np.cumsum(length)])
    tried = np.linspace(0.0, at[-1], STEPS + 1)
    plan = np.column_stack([np.interp(tried, at, line[:, k]) for k in (0, 1)])
    over = foot + tried / run - heights(plan)
    above = np.flatnonzero(over >= 0.0)
    end = float(at[-1])
    if len(above):
        k = int(above[0])
        share = 0.0 if k == 0 else over[k - 1] / (over[k - 1] - over[k])
        end = float(tried[max(k - 1, 0)] + share * (tried[1] - tried[0]))
    stations = np.append(at[at < end], end)
    spots = np.column_stack([np.interp(stations, at, line[:, k]) for k in (0, 1)])
    return spots, foot + stations / run
