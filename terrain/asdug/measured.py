"""Amounts measured by several surveys, with what each shot of each survey weighs in them.

A difference of two surveys is as sure as what they do not share: shots that both rest on drop out,
and so does the error of a mark that both were set up from on one day.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from terrain.ledger.doubt import NSSDA_95, Doubt, Terms, combined, doubt_of
from terrain.ledger.weights import Weights, total_of


@dataclass(frozen=True, slots=True, kw_only=True)
class SurveyTerms:
    """What one survey errs by. Surveys of one `setup` share the error of the mark."""

    terms: Terms
    setup: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Measured:
    """An amount, in cubic length units or none, and the weights of each survey's shots in it.

    Args:
        amount: what was measured.
        weights: by survey, what a unit of each shot changes of the amount.
    """

    amount: float
    weights: Mapping[str, Weights]

    def __add__(self, other: "Measured") -> "Measured":
        return total([self, other])

    def __sub__(self, other: "Measured") -> "Measured":
        return self + other.times(-1.0)

    def times(self, factor: float) -> "Measured":
        """So many times the amount."""
        return Measured(
            amount=factor * self.amount,
            weights={name: weights * factor for name, weights in self.weights.items()},
        )

    def by(self, other: "Measured") -> "Measured":
        """This amount by another, with weights to first order: d(a/b) = da/b - a db/b^2."""
        ratio = self.amount / other.amount
        change = self.times(1.0 / other.amount) - other.times(ratio / other.amount)
        return replace(change, amount=ratio)


NOTHING = Measured(amount=0.0, weights={})
"""No amount of no survey."""


def total(every: Sequence[Measured]) -> Measured:
    """The sum of amounts; shots that they share count once."""
    surveys = dict.fromkeys(name for one in every for name in one.weights)
    return Measured(
        amount=math.fsum(one.amount for one in every),
        weights={
            name: total_of([one.weights[name] for one in every if name in one.weights])
            for name in surveys
        },
    )


def doubt_from(measured: Measured, surveys: Mapping[str, SurveyTerms]) -> Doubt:
    """The doubt of an amount, from all surveys it rests on.

    Errors of shots are each survey's own. That of the mark is shared by surveys of one set-up:
    there the areas are summed first, whatever their signs.
    """
    if not measured.weights:
        return Doubt()
    each = {
        name: doubt_of(weights, surveys[name].terms) for name, weights in measured.weights.items()
    }
    own = combined(list(each.values()))
    shared: dict[str, float] = {}
    known = False
    for name, weights in measured.weights.items():
        deviation = surveys[name].terms.errors.datum_accuracy
        if deviation is not None:
            known = True
            setup = surveys[name].setup
            shared[setup] = shared.get(setup, 0.0) + deviation * weights.plan_area
    datum = NSSDA_95 * math.hypot(*shared.values()) if known else None
    return replace(own, datum=datum)
