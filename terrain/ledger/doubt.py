"""The plus-or-minus of a volume: what the errors of its shots, and the ground between, make of it.

Errors are given as standard deviations; every figure here is half the width of a 95 % interval.
Rows share shots, datum and ground, so the doubts of rows neither add up nor add in squares to that
of their sum: add the volumes' `Weights`, which do add, and take the doubt of the sum.
"""

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, fields
from typing import Protocol

import numpy as np

from terrain.base.arrays import FloatArray
from terrain.ledger.correlated import correlated_variance
from terrain.ledger.errors_said import SurveyErrors as SurveyErrors
from terrain.ledger.weights import Weights

NSSDA_95 = 1.96
"""Accuracy at 95 % = 1.96 RMSE (NSSDA, read in the source)."""


class BetweenShots(Protocol):
    """What the ground does between the shots of a survey."""

    def variance(self, weights: Weights) -> float:
        """The variance of a volume by it, in cubic length units squared."""
        ...

    def variance_on(self, weights: Weights, plan: FloatArray) -> float:
        """The same with the ground's points, and more perhaps, at places (n, 2) in plan."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Terms:
    """What the doubt of a ground's volumes rests on.

    Args:
        errors: what the survey is said to err by.
        plan: (n, 2), all points of the ground in plan.
        between: what the ground does between them, None if that can't be told.
    """

    errors: SurveyErrors
    plan: FloatArray
    between: BetweenShots | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """Half widths of a volume's 95 % intervals by what makes them; None where that isn't known.

    Args:
        random: shots' elevations, each for itself.
        horizontal: shots' places in plan, each for itself, through the slope of the ground.
        datum: what all elevations share.
        correlated: what elevations of shots near one another share.
        terrain: what the ground does between shots.
    """

    random: float | None = None
    horizontal: float | None = None
    datum: float | None = None
    correlated: float | None = None
    terrain: float | None = None

    @property
    def survey(self) -> float | None:
        """What the errors said of the survey make, without terrain; None if nothing is said."""
        said = (self.random, self.horizontal, self.datum, self.correlated)
        if all(part is None for part in said):
            return None
        return math.hypot(*(part or 0.0 for part in said))

    @property
    def together(self) -> float | None:
        """All of it, terrain too; None if nothing is said of how the survey errs.

        The parts have nothing to do with one another, so their squares add. What isn't known counts
        as 0: the figure is then the least it can be.
        """
        survey = self.survey
        return None if survey is None else math.hypot(survey, self.terrain or 0.0)

    def times(self, factor: float) -> "Doubt":
        """The doubt of the volume times a factor, such as one to another unit."""
        return _each(lambda parts: None if parts[0] is None else abs(factor) * parts[0], [self])


def doubt_of(weights: Weights, terms: Terms) -> Doubt:
    """The doubt of a volume, or of a sum or difference of volumes of one ground, in cubic units.

    Shots that volumes share are right if the volumes' weights are added or subtracted first.

    random: accuracy x root of sum(w^2); datum: datum_accuracy x |sum(w)|: eq. 11 and 19 of
    Anderson 2019, Earth Surf. Process. Landforms 44:1015, for a grid of n cells of side L
    sqrt(n) L^2 s and n L^2 s_sys.
    """
    errors, up = terms.errors, weights.by_elevation
    moved = weights.change[:, :2]
    return Doubt(
        random=_random(weights, errors),
        horizontal=_at_95(errors.horizontal_accuracy, float(np.linalg.norm(moved))),
        datum=_at_95(errors.datum_accuracy, abs(float(up.sum()))),
        correlated=_correlated(weights, terms),
        terrain=None
        if terms.between is None
        else NSSDA_95 * math.sqrt(terms.between.variance(weights)),
    )


def combined(doubts: Sequence[Doubt]) -> Doubt:
    """The doubt of a sum or difference of volumes of surveys that share no error, in their unit.

    Surveys that hang on one and the same mark do share an error of that mark: their datum parts
    then add as they are, or cancel, and this is not the function for them.
    """

    def joined(parts: list[float | None]) -> float | None:
        known = [part for part in parts if part is not None]
        return math.hypot(*known) if known else None

    return _each(joined, doubts)


def significant(difference: float, doubt: Doubt | float | None) -> bool | None:
    """Whether a difference is larger than its own doubt at 95 %; None if the doubt isn't known.

    Args:
        difference: of two volumes.
        doubt: of the difference (not of either volume): from `doubt_of` the weights subtracted.
    """
    half_width = doubt.together if isinstance(doubt, Doubt) else doubt
    return None if half_width is None else bool(abs(difference) > half_width)


def _random(weights: Weights, errors: SurveyErrors) -> float | None:
    up = weights.by_elevation
    if errors.each is None:
        return _at_95(errors.accuracy, float(np.linalg.norm(up)))
    return _at_95(1.0, float(np.linalg.norm(errors.each[weights.shot] * up)))


def _at_95(deviation: float | None, weight: float) -> float | None:
    return None if deviation is None else NSSDA_95 * deviation * weight


def _correlated(weights: Weights, terms: Terms) -> float | None:
    deviation, reach = terms.errors.correlated_accuracy, terms.errors.correlation_range
    if deviation is None or reach is None:
        return None
    share = correlated_variance(terms.plan[weights.shot], weights.by_elevation, reach)
    return _at_95(deviation, math.sqrt(share))


def _each(joined: Callable[[list[float | None]], float | None], doubts: Iterable[Doubt]) -> Doubt:
    """The doubt whose every part is joined from the same part of others."""
    every = list(doubts)
    return Doubt(
        **{
            field.name: joined([getattr(doubt, field.name) for doubt in every])
            for field in fields(Doubt)
        }
    )
