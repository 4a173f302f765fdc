"""A scan that floats in a frame of its own, put on the site by targets known in both.

Three targets or more that stand in no line, as the scan has them and as they are on the site. The
fit is rigid, with a scale only when asked for; a body can't be mirrored, and a scan whose axis up
is stated can't come to lie on its side, so that swapped axes and swapped names are told.
"""

import math
from dataclasses import dataclass

import numpy as np

from terrain.base.arrays import FloatArray
from terrain.base.errors import Fault, SurveyError
from terrain.base.units import LengthUnit
from terrain.survey.fit import LEAST_SPREAD, Fit, fit_rigid, one_that_disagrees, spread_across
from terrain.survey.merge import count

KEY = "existing.control"
LEAST_TARGETS = 3
USUAL_TOLERANCE = {"ft": 0.1, "ftUS": 0.1, "m": 0.03}
"""What a target may miss its place by; common practice, no source."""
MOST_TILT = 45.0
"""Degrees: a scan that leans more did not have its stated axis up."""
LIKE_SCALE = (0.5, 2.0)
"""A scale beyond these is a wrong unit and no fault of a scanner."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """A target as the scan has it (its own axes and unit) and on the site (the job's unit)."""

    name: str
    scan: tuple[float, float, float]
    site: tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class ControlAsked:
    """The targets of a scan, and how well they must agree.

    Args:
        scaled: whether the scan's scale may be changed to fit.
        tolerance: what a target may miss by in the job's unit; None for the usual.
    """

    targets: tuple[Target, ...]
    scaled: bool = False
    tolerance: float | None = None


def control_fit(asked: ControlAsked, upright: FloatArray, unit: LengthUnit) -> Fit:
    """The fit that puts a scan on the site.

    `upright` (n, 3) are the targets' places in the scan with z up and in the job's unit.

    Errors: `SurveyError` on `existing.control` for too few targets, two at one spot, all in a line,
    a mirrored set, a scan on its side, a wrong unit or a target that misses its place; the one that
    disagrees with the rest is named.
    """
    _require_spread(asked, upright, USUAL_TOLERANCE[unit.name])
    site = np.array([target.site for target in asked.targets])
    fit = fit_rigid(upright, site, scaled=asked.scaled)
    tolerance = USUAL_TOLERANCE[unit.name] if asked.tolerance is None else asked.tolerance
    if fit.misses.max() > tolerance:
        raise _refused(_why(asked, upright, fit, (tolerance, unit.name)))
    tilt = math.degrees(math.acos(max(-1.0, min(1.0, float(fit.turn[2, 2])))))
    if tilt > MOST_TILT:
        raise _refused(
            f"the targets fit only with the scan tipped over by {tilt:.0f} degrees: are two names "
            "swapped, the targets mirrored, or is another axis up?"
        )
    if not LIKE_SCALE[0] <= fit.scale <= LIKE_SCALE[1]:
        raise _refused(
            f"the targets fit only at {fit.scale:.4g} times the size: is the scan's unit stated "
            "right?"
        )
    return fit


def control_sentence(asked: ControlAsked, fit: Fit, name: str, unit: LengthUnit) -> str:
    """How a scan was put on the site and what each target misses by."""
    misses = ", ".join(
        f"{target.name} {miss:.3f}" for target, miss in zip(asked.targets, fit.misses, strict=True)
    )
    scale = f" at {fit.scale:.6f} times the size" if asked.scaled else ""
    return (
        f"{name}: put on the site by {len(asked.targets)} targets{scale}; they miss their places "
        f"by {misses} {unit.name}."
        + ("" if len(asked.targets) > LEAST_TARGETS else " A fourth target would check the others.")
    )


def _require_spread(asked: ControlAsked, upright: FloatArray, apart: float) -> None:
    """Refuse targets nearer than `apart`, which tell no more than one does, or all in a line."""
    targets = asked.targets
    site = np.array([target.site for target in targets])
    if len(targets) < LEAST_TARGETS:
        raise _refused(f"{count(len(targets), 'target')} can't hold a scan: give three or more")
    for where, places in (("in the scan", upright), ("on the site", site)):
        for k, one in enumerate(targets):
            for other in range(k):
                if not np.abs(places[k] - places[other]).max() > apart:
                    raise _refused(
                        f"{targets[other].name} and {one.name} are at one spot {where}: correct "
                        "one of them or leave it out"
                    )
        if spread_across(places) < LEAST_SPREAD:
            raise _refused(
                f"the targets stand in one line {where}, about which the scan could turn: add one "
                "off the line"
            )


def _why(asked: ControlAsked, upright: FloatArray, fit: Fit, limit: tuple[float, str]) -> str:
    tolerance, unit = limit
    site = np.array([target.site for target in asked.targets])
    names = [target.name for target in asked.targets]
    turned_over = fit_rigid(upright, site, scaled=asked.scaled, mirrored=True)
    if len(names) > LEAST_TARGETS and turned_over.misses.max() <= tolerance:
        return (
            "the targets fit only mirrored, which no scan can be: are easting and northing swapped "
            "on one side, or is one axis turned over?"
        )
    scaled = fit_rigid(upright, site, scaled=True)
    is_near = LIKE_SCALE[0] <= scaled.scale <= LIKE_SCALE[1]
    if not asked.scaled and scaled.misses.max() <= tolerance:
        return (
            f"the targets fit only at {scaled.scale:.5f} times the size: is the scan's unit stated "
            "right?" + (" If the scanner's scale is off, write scale = true" if is_near else "")
        )
    misses = ", ".join(f"{n} {m:.3f}" for n, m in zip(names, fit.misses, strict=True))
    odd = one_that_disagrees(upright, site, scaled=asked.scaled, tolerance=tolerance)
    said = (
        f"{names[odd]} disagrees with the rest: measure it again or leave it out"
        if odd is not None and len(names) > LEAST_TARGETS
        else "which of them is wrong can't be told: measure them again, or add a target"
    )
    return f"the targets miss their places by more than {tolerance:g} {unit}: {misses}; {said}"


def _refused(message: str) -> SurveyError:
    return SurveyError(Fault(key=f"{KEY}.targets", message=message))
