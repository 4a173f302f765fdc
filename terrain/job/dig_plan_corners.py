"""The rim corners of a dig plan as told, each with the stand that finishes it."""

import numpy as np

from terrain.base.arrays import BoolArray, FloatArray
from terrain.job.dig_plan_passes import Dug, leg_names, leg_number
from terrain.job.dig_plan_planned import Planned
from terrain.job.dig_plan_record import RimCorner


def rim_corners(planned: Planned, dug: Dug) -> tuple[RimCorner, ...]:
    """The corners finished from the rim, each with the last stand that digs at it."""
    order = planned.best.order
    bank = dug.bank(planned.terms.swell)
    used = np.cumsum(bank.sum(axis=1) > 0.0)
    names = leg_names(planned)
    legs = order.round.legs
    found = []
    for corner in order.corners:
        one, two = corner.leg, (corner.leg + 1) % len(legs)
        last = _last_at(bank, corner.cells)
        found.append(
            RimCorner(
                between=(names[leg_number(order, one)], names[leg_number(order, two)]),
                spot=(float(legs[one].end[0]), float(legs[one].end[1])),
                inside=legs[one].turn < 0,
                stand=None if last is None else int(used[last]),
            )
        )
    return tuple(found)


def _last_at(bank: FloatArray, cells: BoolArray) -> int | None:
    at = np.flatnonzero(bank[:, cells].sum(axis=1) > 0.0)
    return int(at[-1]) if len(at) else None
