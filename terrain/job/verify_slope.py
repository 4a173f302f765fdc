"""Whether a face leans back as far as was asked, from the plane through all its shots."""

import math

import numpy as np

from terrain.asdug.judge import Limits
from terrain.asdug.walls import Figure, WallDug
from terrain.job.asdug import DayHole
from terrain.job.verify_measure import shots_of
from terrain.job.worked import Worked
from terrain.ledger.doubt import NSSDA_95
from terrain.surface.moves import Side


def asked_batter(side: Side) -> float | None:
    """The run per rise asked of a side that climbs at one slope; None of one with benches."""
    if not side:
        return 0.0
    if len(side) != 1 or side[0][1] <= 0.0:
        return None
    return side[0][0] / side[0][1]


def is_steeper(
    worked: Worked, day: DayHole, row: int, line: WallDug | None, limits: Limits
) -> bool:
    """Whether a wall's face is steeper than asked beyond tolerance and doubt.

    As with the check shot by shot, its top may stand farther in by the tolerance of a line, and as
    much as that of the floor makes on the slope. A shot errs across the slope by its height too.
    """
    asked = asked_batter(worked.layout.design.walls[row].side)
    if asked is None or line is None or line.batter is None:
        return False
    rise = float(np.ptp(np.concatenate(shots_of(worked, day, row))[:, 2]))
    beyond = limits.line + limits.floor * asked
    return (asked - line.batter.value - limits.factor * _sigma(line.batter, asked, limits)) * (
        rise
    ) > beyond


def _sigma(batter: Figure, asked: float, limits: Limits) -> float:
    """One standard deviation of a batter; 0 where the shots count as exact."""
    if batter.plus_minus_95 is None or not limits.plan_sigma:
        return 0.0
    across = math.hypot(limits.plan_sigma, asked * (limits.height_sigma or 0.0))
    return batter.plus_minus_95 / NSSDA_95 * across / limits.plan_sigma
