"""What of a hole is ready and what is not, so that noise alone seldom says it isn't.

A fault is called only where the departure passes the tolerance by more than its own doubt. All
tests of a hole together give a false alarm in at most 5 % of the holes dug to design: each test has
its share of the 5 % (Bonferroni).
"""

from dataclasses import dataclass
from typing import Literal

from scipy.special import ndtri

from terrain.asdug.walls import WallDug

Verdict = Literal["ready", "trim", "not enough shots"]
FALSE_ALARMS = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What holds for one hole, in length units.

    Args:
        line, floor: how far a wall's dig line and the floor may be off.
        plan_sigma, height_sigma: one standard deviation of a shot; None counts as exact.
        tests: how many tests the hole is put to.
    """

    line: float
    floor: float
    plan_sigma: float | None
    height_sigma: float | None
    tests: int

    @property
    def factor(self) -> float:
        """Standard deviations by which a departure must pass its tolerance."""
        return float(ndtri(1.0 - FALSE_ALARMS / (2.0 * max(self.tests, 1))))


def tests_of(walls: list[WallDug | None], floor_shots: int) -> int:
    """How many tests a hole is put to: each shot of a wall or the floor is one."""
    return floor_shots + sum(wall.shots for wall in walls if wall is not None)


def too_narrow(wall: WallDug, asked: float, limits: Limits) -> float:
    """How far the narrowest shot of a wall lies inside what is asked, 0 where that is no fault."""
    short = asked - wall.least.value
    return short if short > limits.line + limits.factor * (limits.plan_sigma or 0.0) else 0.0


def wall_verdict(wall: WallDug | None, asked: float, limits: Limits) -> Verdict:
    """Whether a wall leaves the forms their room: turn and bow are judged by its narrowest shot."""
    if wall is None:
        return "not enough shots"
    return "trim" if too_narrow(wall, asked, limits) > 0.0 else "ready"


def floor_faults(worst_high: float, worst_low: float, limits: Limits) -> tuple[bool, bool]:
    """Whether a floor is too high, and too low, anywhere."""
    beyond = limits.floor + limits.factor * (limits.height_sigma or 0.0)
    return worst_high > beyond, -worst_low > beyond


def hole_verdict(
    walls: list[Verdict], worst: tuple[float, float] | None, limits: Limits, *, is_floor_shot: bool
) -> Verdict:
    """Whether the concrete crew may come; a floor too low wants stone, which is work too.

    Args:
        walls: of each wall.
        worst: the highest and the lowest shot of floor and toe, None where there is no floor.
        limits: of the hole.
        is_floor_shot: whether any shot is of the floor itself: toes say nothing of its middle.
    """
    if "trim" in walls or (worst is not None and any(floor_faults(*worst, limits))):
        return "trim"
    if worst is None or not is_floor_shot or "not enough shots" in walls:
        return "not enough shots"
    return "ready"
