"""Ground as rough as a power of distance, and the variance of what shots miss of it.

Model: two places of the ground at distance d differ by a height whose variance grows as d^(2H),
0 < H < 1; for 1 < H < 2 the same holds of its slopes. Small H is rubble, 1 to 2 smooth ground. What
is left of such ground once the plane through shots is taken off is a contrast: masses m_i at places
that sum to nought and hold no tilt. Its variance is c s sum(m_i m_j d_ij^(2H)), s = -1 for H < 1
and +1 above (generalised covariances of geostatistics, from memory), so one number c fits all gaps
between shots, wide or narrow, and all volumes.
"""

from dataclasses import dataclass

import numpy as np

from terrain.base.arrays import FloatArray
from terrain.ledger.weights import Spots, Weights, summed_by_shot
from terrain.surface.hilbert import hilbert_order

POWERS = (0.3, 0.5, 0.7, 0.9, 1.1, 1.3, 1.5, 1.7, 1.9)
"""The H that are looked at; 1 itself is left out, where the formula has no value."""

WHOLE_UP_TO = 1200
"""Spots of a volume up to which all pairs are summed; above that blocks of spots are."""
BLOCK = 256
MOST_BLOCKS = 256
BLOCKS_TRIED = 8
ARM = 0.25
"""Of a block's radius: how far apart the few masses stand that stand for it from afar."""
LEAST_APART = 0.52
"""Mean distance of two places in a square of side 1 (from memory: 0.5214)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Masses:
    """A contrast: masses (n,) at places (n, 2), `side` (n,) of the square each is spread over."""

    at: FloatArray
    mass: FloatArray
    side: FloatArray


def leave_out_spread(at: FloatArray, share: FloatArray, power: float) -> FloatArray:
    """Variance (n,), for c = 1, of what a plane through three shots misses at a place.

    Args:
        at: (n, 4, 2), the place and the three shots.
        share: (n, 3), what each shot counts there.
        power: H.
    """
    mass = np.column_stack([np.ones(len(at)), -share])
    gap = at[:, :, None, :] - at[:, None, :, :]
    held = _to_the_power(np.sum(gap * gap, axis=3), power)
    spread = _sign(power) * np.einsum("ni,nij,nj->n", mass, held, mass)
    return np.asarray(np.maximum(spread, 0.0))


def volume_spread(weights: Weights, plan: FloatArray, power: float) -> float:
    """Variance, for c = 1, of a volume by what the ground does between shots.

    Exact for the spots up to WHOLE_UP_TO of them. With more they are parted into blocks along a
    Hilbert curve: within a block all pairs count, by up to BLOCKS_TRIED of the blocks; between
    blocks each is taken for five masses of the same second moments.

    Args:
        weights: of the volume.
        plan: (n, 2), all points of the ground.
        power: H.
    """
    spots = weights.spots
    if len(spots) <= WHOLE_UP_TO:
        return _energy(masses_of(spots, plan), power)
    size = max(BLOCK, -(-len(spots) // MOST_BLOCKS))
    order = hilbert_order(spots.at)
    blocks = [spots.picked(order[k : k + size]) for k in range(0, len(order), size)]
    tried = np.unique(np.linspace(0, len(blocks) - 1, BLOCKS_TRIED).astype(np.int64)).tolist()
    expected = [_expected(block, plan, power) for block in blocks]
    seen = sum(_energy(masses_of(blocks[k], plan), power) for k in tried)
    of_them = sum(expected[k] for k in tried)
    within = seen * sum(expected) / of_them if of_them > 0 else 0.0
    return max(within + _between_blocks(blocks, plan, power), 0.0)


def masses_of(spots: Spots, plan: FloatArray) -> Masses:
    """The ground over spots less the planes through the shots round them."""
    shot, held = summed_by_shot(
        spots.shots.ravel(), (spots.area[:, None] * spots.share).reshape(-1, 1)
    )
    return Masses(
        at=np.concatenate([spots.at, plan[shot]]),
        mass=np.concatenate([spots.area, -held[:, 0]]),
        side=np.concatenate([np.sqrt(np.abs(spots.area)), np.zeros(len(shot))]),
    )


def _energy(masses: Masses, power: float) -> float:
    east, north = masses.at.T
    squared = (east[:, None] - east) ** 2 + (north[:, None] - north) ** 2
    if power < 1:
        # rough ground differs within a spot too
        own = LEAST_APART**2 * masses.side[:, None] * masses.side
        np.maximum(squared, own, out=squared)
    held = masses.mass @ _to_the_power(squared, power) @ masses.mass
    return max(_sign(power) * float(held), 0.0)


def _expected(spots: Spots, plan: FloatArray, power: float) -> float:
    """What the block's own variance is taken to be in proportion to."""
    gap = plan[spots.shots] - spots.at[:, None]
    squared = np.sum(spots.share * np.sum(gap * gap, axis=2), axis=1)
    return float(np.sum(spots.area**2 * np.maximum(squared, 0.0) ** power))


def _between_blocks(blocks: list[Spots], plan: FloatArray, power: float) -> float:
    """Twice the sum over unlike blocks, each as five masses."""
    stood = [_stand_in(block, plan) for block in blocks]
    at, mass = np.concatenate([s[0] for s in stood]), np.concatenate([s[1] for s in stood])
    squared = (at[:, :1] - at[:, 0]) ** 2 + (at[:, 1:] - at[:, 1]) ** 2
    held = mass[:, None] * _to_the_power(squared, power) * mass
    each = len(at) // len(blocks)
    by_block = held.reshape(len(blocks), each, len(blocks), each).sum(axis=(1, 3))
    return _sign(power) * float(by_block.sum() - np.trace(by_block))


def _stand_in(spots: Spots, plan: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Five places and masses with the second moments of a block; lower moments are nought."""
    masses = masses_of(spots, plan)
    middle = masses.at.mean(axis=0)
    off = masses.at - middle
    second = (off * masses.mass[:, None]).T @ off
    strength, axes = np.linalg.eigh(second)
    arm = ARM * float(np.sqrt(np.mean(np.sum(off * off, axis=1)))) or 1.0
    one, two = strength / (2 * arm * arm)
    steps = np.array([[0.0, 0.0], axes[:, 0], -axes[:, 0], axes[:, 1], -axes[:, 1]]) * arm
    return middle + steps, np.array([-2 * (one + two), one, one, two, two])


def _to_the_power(squared: FloatArray, power: float) -> FloatArray:
    """Distances squared to d^(2H)."""
    return np.asarray(np.power(squared, power))


def _sign(power: float) -> float:
    return -1.0 if power < 1 else 1.0
