"""The wall grade, and the dig floor, at which a lot neither lacks earth nor has any left over.

One shift moves all wall grades together. With the floor the whole house moves: dig, footing, wall
and wall grades, the height between them fixed. Pads, swales, areas kept, other pits, ramps and
trenches stay where the job has them, and so does the depth of fill under slabs.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import numpy as np
from scipy.optimize import brentq

from terrain.base.errors import SpoilbankError
from terrain.base.units import LengthUnit
from terrain.job.graded import Graded
from terrain.job.moved_lot import moved_account, reference_grade, sunk_account
from terrain.ledger.entries import BankVolume
from terrain.ledger.lot_account import LotAccount
from terrain.ledger.lot_rows import hauled_and_imported, loads_moved, surplus_by_side
from terrain.ledger.soil import quantity

CLOSE_ENOUGH = 1e-7
"""How near, in length units, the balancing elevation is found: well within the 0.001 promised."""

STEPS_EITHER_WAY = 10
"""The curve goes so many steps up and down; twice and more of that is searched for the balance."""

DOUBLINGS = 3
"""The search widens from the curve's range this many times by two."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CurvePoint:
    """The lot with the wall grade at one elevation.

    `surplus_bank` is what is left over (+) or lacking (-) of fit earth. `loads` is of all that
    leaves and is brought in, earth fit for no fill with it, as billed; None without a truck.
    """

    elevation: float
    surplus_bank: BankVolume
    loads: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Balance:
    """The elevations that balance, each None with a reason in words.

    `wall_grade` is what `lot.wall_grade` would be (or, where walls have their own, the first one's
    first corner, all moving alike). `asked_grade` and `asked_floor` are the job's own. `step` is
    the curve's, `loads_a_step` how many loads more leave or fewer come if the lot is a step lower,
    about the job's own elevation; `money_a_step` with a price per load.
    """

    asked_grade: float
    asked_floor: float
    wall_grade: float | None
    wall_grade_reason: str | None
    floor: float | None
    floor_reason: str | None
    curve: tuple[CurvePoint, ...]
    step: float
    loads_a_step: float | None
    money_a_step: float | None


def curve_step(unit: LengthUnit) -> float:
    """A tenth of a foot, or 0.05 m."""
    return 0.05 if unit.is_metric else 0.1


def balance_of(graded: Graded) -> Balance:
    """Where a lot balances, by root finding on its exact volumes."""
    job = graded.worked.job
    step = curve_step(job.unit)

    @cache
    def graded_at(shift: float) -> LotAccount:
        return moved_account(graded, shift)

    def by_grade(shift: float) -> float:
        return _surplus(graded, graded_at(shift))

    @cache
    def by_floor(shift: float) -> float:
        return _surplus(graded, sunk_account(graded, shift))

    grade, grade_reason = _root(by_grade, step, job.unit)
    floor, floor_reason = _root(by_floor, step, job.unit)
    base = reference_grade(graded)
    curve = tuple(_curve(graded, graded_at, base, step))
    loads, money = _worth(graded, graded_at, step)
    return Balance(
        asked_grade=base,
        asked_floor=graded.worked.layout.design.floor,
        wall_grade=None if grade is None else base + grade,
        wall_grade_reason=grade_reason,
        floor=None if floor is None else graded.worked.layout.design.floor + floor,
        floor_reason=floor_reason,
        curve=curve,
        step=step,
        loads_a_step=loads,
        money_a_step=money,
    )


def _surplus(graded: Graded, account: LotAccount) -> float:
    return float(surplus_by_side(account, graded.asked.terms).sum())


def _root(
    surplus: Callable[[float], float], step: float, unit: LengthUnit
) -> tuple[float | None, str | None]:
    """The shift nearest to none at which the surplus is nought, or why there is none."""
    here = surplus(0.0)
    if here == 0.0:
        return 0.0, None
    ends = {-1.0: 0.0, 1.0: 0.0}
    stopped: dict[float, str] = {}
    reach = STEPS_EITHER_WAY * step
    for _ in range(DOUBLINGS + 1):
        for way in (-1.0, 1.0):
            if way in stopped:
                continue
            try:
                there = surplus(way * reach)
            except SpoilbankError as error:
                stopped[way] = _because(error)
                there, reached = _as_far(surplus, way * ends[way], way * reach)
                if np.sign(there) == np.sign(here):
                    continue
                return _between(surplus, ends[way] * way, reached)
            if np.sign(there) != np.sign(here):
                return _between(surplus, ends[way] * way, way * reach)
            ends[way] = reach
        reach *= 2
    return None, _no_root(here, reach / 2, stopped, unit)


def _as_far(surplus: Callable[[float], float], good: float, bad: float) -> tuple[float, float]:
    """The surplus at the last shift, to an eighth of the way, that can be computed at all."""
    far, value = good, surplus(good)
    for share in np.linspace(0.0, 1.0, 9)[1:-1]:
        at = good + float(share) * (bad - good)
        try:
            value = surplus(at)
        except SpoilbankError:
            break
        far = at
    return value, far


def _between(
    surplus: Callable[[float], float], one: float, other: float
) -> tuple[float | None, str | None]:
    low, high = sorted((one, other))
    try:
        found = float(brentq(surplus, low, high, xtol=CLOSE_ENOUGH, rtol=8.9e-16))
    except SpoilbankError as error:
        return None, _because(error)
    beside = abs(surplus(found - 10 * CLOSE_ENOUGH) - surplus(found + 10 * CLOSE_ENOUGH))
    span = abs(surplus(low) - surplus(high))
    if abs(surplus(found)) > beside + 1e-6 * span:
        return None, f"the surplus jumps past nought at a shift of {found:+.3f}"
    return found, None


def _because(error: SpoilbankError) -> str:
    return error.faults[0].message


def _no_root(here: float, reach: float, stopped: dict[float, str], unit: LengthUnit) -> str:
    state = "has earth left over" if here > 0 else "lacks earth"
    told = f"the lot {state} at every elevation within {reach:g} {unit.name} of the job's"
    words = {-1.0: "lower", 1.0: "higher"}
    said = [f"{words[way]}, {why}" for way, why in sorted(stopped.items())]
    return "; ".join([f"{told} that can be graded" if said else told, *said])


def _curve(
    graded: Graded, account: Callable[[float], LotAccount], base: float, step: float
) -> list[CurvePoint]:
    """The lot at whole steps of elevation about the job's own, as far as it can be graded."""
    middle = round(base / step)
    points = []
    for k in range(middle - STEPS_EITHER_WAY, middle + STEPS_EITHER_WAY + 1):
        elevation = round(k * step, 9)
        try:
            points.append(_point(graded, account(elevation - base), elevation))
        except SpoilbankError:
            continue
    return points


def _point(graded: Graded, account: LotAccount, elevation: float) -> CurvePoint:
    terms, surplus = graded.asked.terms, _surplus(graded, account)
    leaves, comes = hauled_and_imported(account, surplus, terms)
    return CurvePoint(
        elevation=elevation,
        surplus_bank=BankVolume(terms.unit.volume(surplus)),
        loads=loads_moved(leaves, comes, terms),
    )


def _worth(
    graded: Graded, account: Callable[[float], LotAccount], step: float
) -> tuple[float | None, float | None]:
    """Loads, not rounded, and money that a step of elevation is worth about the job's own."""
    terms, price = graded.asked.terms, graded.worked.job.haul.price_per_load
    if terms.truck is None:
        return None, None
    try:
        lower, higher = (_net_haul(graded, account(shift)) for shift in (-step, step))
    except SpoilbankError:
        return None, None
    bank = BankVolume((lower - higher) / 2)
    loads = quantity(bank, terms.soil).loose / terms.truck
    return loads, None if price is None else loads * price


def _net_haul(graded: Graded, account: LotAccount) -> float:
    """What leaves less what is brought in, in bank."""
    leaves, comes = hauled_and_imported(account, _surplus(graded, account), graded.asked.terms)
    return float(leaves - comes)
