"""The ramps, pits and trenches of a dig plan: where they run, how deep, and how high the ground."""

import numpy as np

from terrain.base.arrays import FloatArray
from terrain.haul.reach import Heights
from terrain.job.dig_plan_ground_record import ExtraTold
from terrain.job.dig_plan_planned import Planned

STEPS = 2000
"""Parts of a ramp's line in which its top edge is looked for."""


def extras_told(planned: Planned) -> tuple[ExtraTold, ...]:
    """Ramps, then pits, then trenches, in the job's order; local."""
    worked = planned.worked
    dig, frame, heights = worked.job.dig, worked.layout.frame, planned.field.work.heights
    found = []
    for ramp in dig.ramps:
        foot = worked.layout.design.floor if ramp.floor is None else ramp.floor
        line = frame.to_local(np.array(ramp.line))
        spots, floor = _up_to_ground(line, (foot, ramp.run_per_rise), heights)
        found.append(
            ExtraTold(
                name=ramp.name, kind="ramp", spots=spots, floor=floor, ground=heights(spots),
                width=ramp.width,
            )
        )  # fmt: skip
    for pit in dig.pits:
        corners = frame.to_local(np.array(pit.corners))
        found.append(
            ExtraTold(
                name=pit.name, kind="pit", spots=corners, floor=np.full(len(corners), pit.floor),
                ground=heights(corners), width=None,
            )
        )  # fmt: skip
    for trench in dig.trenches:
        line = frame.to_local(np.array(trench.line))
        found.append(
            ExtraTold(
                name=trench.name, kind="trench", spots=line,
                floor=np.full(len(line), trench.floor), ground=heights(line), width=trench.width,
            )
        )  # fmt: skip
    return tuple(found)


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
