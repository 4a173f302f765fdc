"""What the ground does between the shots of a survey, and what that makes of a volume."""

from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

from terrain.base.arrays import FloatArray
from terrain.ledger.correlated import spherical
from terrain.ledger.errors_said import SurveyErrors
from terrain.ledger.ground import Ground
from terrain.ledger.leave_out import LeftOut, left_out
from terrain.ledger.roughness import POWERS, leave_out_spread, volume_spreads
from terrain.ledger.weights import Spots, Weights

FEWEST = 8
"""Shots that have to be left out one by one for anything to be said."""
SCALES = np.geomspace(0.1, 3.0, 18)
OWN_SHOTS = 0.5
"""What a left-out shot counts as: neighbours share shots, so each tells less than all of itself."""
LEAST_SHARE = 0.03


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Between:
    """How rough a ground is, from shots left out.

    Args:
        plan: (n, 2), all points of the ground.
        powers: the H (see `roughness`) that the survey does not rule out.
        roughness: for each, c times how likely it is.
        left_out: how many shots were left out one by one.
        typical_miss: root mean square of how far they lay off the others' triangles.
    """

    plan: FloatArray
    powers: tuple[float, ...]
    roughness: tuple[float, ...]
    left_out: int
    typical_miss: float

    def variance(self, weights: Weights) -> float:
        """The variance of a volume, in cubic length units squared.

        It is widened as Student's t is over the normal at 95 %, as few shots left out tell the
        roughness itself none too well.
        """
        return self.variance_on(weights, self.plan)

    def variance_on(self, weights: Weights, plan: FloatArray) -> float:
        """The same with the ground's points, and more perhaps, at places (n, 2) in plan."""
        if not self.powers or len(weights.spots) == 0:
            return 0.0
        spread = float(volume_spreads(weights, plan, self.powers) @ np.array(self.roughness))
        freedom = max(OWN_SHOTS * self.left_out, 1.0)
        return spread * float(stdtrit(freedom, 0.975) / stdtrit(np.inf, 0.975)) ** 2


def between_shots(ground: Ground, spots: Spots) -> Between | None:
    """What the ground near a cut does between shots; None if too few shots can be left out.

    What the survey itself is said to err by is taken off; with no accuracy said, scatter of the
    shots counts as ground. For each H the roughness is what makes the mean square of the misses of
    shots left out alone; how they grow with the gap tells how likely each H is.
    """
    if len(spots) == 0:
        return None
    alone, *thinned = left_out(ground, spots)
    if len(alone) < FEWEST:
        return None
    typical = float(np.sqrt(np.mean(alone.miss**2)))
    sets = [_Set.of(each, ground, len(alone)) for each in (alone, *thinned) if len(each)]
    found, likely = np.zeros(len(POWERS)), np.zeros(len(POWERS))
    for place, power in enumerate(POWERS):
        spreads = [leave_out_spread(each.at, each.share, power) for each in sets]
        found[place] = sets[0].roughness(spreads[0])
        likely[place] = _likelihood(sets, spreads, found[place])
    held = np.exp(likely - likely.max())
    held /= held.sum()
    kept = (held > LEAST_SHARE) & (found > 0)
    return Between(
        plan=ground.points[:, :2],
        powers=tuple(np.array(POWERS)[kept].tolist()),
        roughness=tuple((held * found)[kept].tolist()),
        left_out=len(alone),
        typical_miss=typical,
    )


def _likelihood(sets: list["_Set"], spreads: list[FloatArray], roughness: float) -> float:
    """Logarithm of how likely the misses of all sets are, at the best scale.

    Ground has its rough spots: the misses are taken to be as Student's t of 4 degrees, so that a
    few large ones say little of how misses grow with the gap.
    """
    total = np.zeros(len(SCALES))
    for each, spread in zip(sets, spreads, strict=True):
        least = 1e-12 * float(np.mean(each.miss**2)) + 1e-300  # far less than a miss, and not 0
        variance = SCALES[:, None] * (roughness * spread + each.error) + least
        terms = 0.5 * np.log(variance) + 2.5 * np.log1p(each.miss**2 / (4 * variance))
        total -= each.counts * terms.sum(axis=1)
    return float(total.max())


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Set:
    """Shots left out in one way: places (n, 4, 2), shares (n, 3), misses, what of them is error."""

    at: FloatArray
    share: FloatArray
    miss: FloatArray
    error: FloatArray
    counts: float

    @classmethod
    def of(cls, out: LeftOut, ground: Ground, alone: int) -> "_Set":
        shots = np.column_stack([out.shot, out.others])
        at = ground.points[shots][:, :, :2]
        return cls(
            at=at,
            share=out.share,
            miss=out.miss,
            error=error_variance(out, at, ground.errors),
            counts=OWN_SHOTS * min(1.0, alone / len(out)),
        )

    def roughness(self, spread: FloatArray) -> float:
        """The c that makes the mean square of the misses, as far as it isn't error.

        What the errors said explain, within the scatter that so many misses have by chance, is the
        survey's and not the ground's: it counts fully from 1.5 deviations of that scatter on, not
        at all below half of one.
        """
        missed, error = float(np.mean(self.miss**2)), float(np.mean(self.error))
        unit = float(np.mean(spread))
        if error == 0.0:
            return missed / unit
        scatter = float(np.sqrt(2.0 / (OWN_SHOTS * len(self.miss)))) * error
        own = min(max((missed - error) / scatter - 0.5, 0.0), 1.0)
        return own * (missed - error) / unit


def error_variance(out: LeftOut, at: FloatArray, errors: SurveyErrors) -> FloatArray:
    """What of the misses (n,) is the survey's own error: variances in square length units.

    Args:
        out: shots left out.
        at: (n, 4, 2), places of the shot and of the three others.
        errors: what the survey is said to err by; the datum cancels.
    """
    own, others = errors.of_elevations(out.shot) ** 2, errors.of_elevations(out.others) ** 2
    moved = (errors.horizontal_accuracy or 0.0) ** 2 * np.sum(out.slope**2, axis=1)
    found = own + moved + np.sum(out.share**2 * (others + moved[:, None]), axis=1)
    if errors.correlated_accuracy is not None and errors.correlation_range is not None:
        mass = np.column_stack([np.ones(len(out)), -out.share])
        gap = at[:, :, None, :] - at[:, None, :, :]
        rho = spherical(np.hypot(gap[..., 0], gap[..., 1]), errors.correlation_range)
        shared = np.einsum("ni,nij,nj->n", mass, rho, mass)
        found = found + errors.correlated_accuracy**2 * np.maximum(shared, 0.0)
    return np.asarray(found)
