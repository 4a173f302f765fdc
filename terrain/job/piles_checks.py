"""What piles must be to be measured: on the ground, whole, apart from one another."""

from itertools import combinations

import numpy as np
import shapely

from terrain.asdug.piles import Pile
from terrain.base.arrays import IntArray
from terrain.base.errors import Fault, SurveyError
from terrain.base.units import FOOT, LengthUnit
from terrain.job.asdug_tables import Piles
from terrain.job.later import Later
from terrain.job.worked import Worked

NO_FOOT = 0.25
"""A pile has no foot if its rim stands this share of its height off the ground. Our choice."""

OVERLAP = 0.01
"""Two piles may share so much of the smaller one's plan area. Our choice."""


def least_gap(unit: LengthUnit) -> float:
    """How far a pile's foot may stand off the ground and still meet it: 0.3 ft, or 0.1 m.

    Our choice: about what grass and clods hide.
    """
    return 0.1 if unit.is_metric else 0.3 * float(FOOT.metres / unit.metres)


def check_names(worked: Worked, key: str, asked: Piles, names: list[str]) -> None:
    """Hold the names that a survey's keys give to those its piles have.

    Raises:
        SurveyError: at `topsoil` or `sides`, for each that is no pile.
    """
    known = {name.casefold() for name in names}
    faults = []
    given = [("topsoil", name) for name in asked.topsoil] + [("sides", n) for n in asked.sides]
    for table, name in given:
        if name.casefold() not in known:
            message = f'there is no pile "{name}" in this survey; there are {", ".join(names)}'
            faults.append(Fault(key=f"{key}.{table}", message=message))
    if faults:
        raise worked.job.located(SurveyError(*faults))


def check_on_ground(worked: Worked, later: Later) -> None:
    """Hold every shot to stand on or over ground that was surveyed before.

    Raises:
        SurveyError: at each shot beside it or below it.
    """
    unit = worked.job.unit
    faults = []
    least = least_gap(unit)
    for k in np.flatnonzero(np.isnan(later.above)):
        faults.append(later.fault(int(k), "this shot of a pile lies beside the ground surveyed "
                                  "before: what lies under the pile is not known"))  # fmt: skip
    for k in np.flatnonzero(later.above < -least):
        faults.append(
            later.fault(
                int(k),
                f"this shot of a pile is {-later.above[k]:.2f} {unit.name} below the existing "
                "ground: piles are measured over it. Leave out shots in the dig, or check the rod",
            )
        )
    if faults:
        raise SurveyError(*faults)


def checked(worked: Worked, later: Later, own: IntArray, found: tuple[str, Pile | None]) -> Pile:
    """The pile if it can be one.

    Raises:
        SurveyError: at its first shot.
    """
    name, pile = found
    first = int(own[0])
    if pile is None:
        message = f'pile "{name}" does not lie on surveyed ground altogether'
        raise SurveyError(later.fault(first, message))
    if pile.foot.mean > max(NO_FOOT * pile.height, least_gap(worked.job.unit)):
        message = (
            f'pile "{name}" has no foot: its outermost shots stand {pile.foot.mean:.2f} '
            f"{worked.job.unit.name} over the ground on the mean, its top {pile.height:.2f}. Shoot "
            "where it meets the ground, all round"
        )
        raise SurveyError(later.fault(first, message))
    if pile.loose.amount <= 0.0:
        message = f'pile "{name}" holds nothing over the existing ground'
        raise SurveyError(later.fault(first, message))
    return pile


def check_apart(worked: Worked, later: Later, groups: list[tuple[str, IntArray]]) -> None:
    """Hold piles to lie apart, so that no earth counts twice.

    Raises:
        SurveyError: at the first shot of a pile that lies over another.
    """
    shapes = [
        (name, own, shapely.MultiPoint(later.points[own, :2]).convex_hull) for name, own in groups
    ]
    for (one, _, first), (other, own, second) in combinations(shapes, 2):
        shared = first.intersection(second).area
        if shared > OVERLAP * min(first.area, second.area):
            message = (
                f'pile "{other}" lies over {shared:.1f} {worked.job.unit.area_sign} of pile '
                f'"{one}": that earth would count twice. Give both one code'
            )
            raise SurveyError(later.fault(int(own[0]), message))
