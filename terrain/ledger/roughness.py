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

from terrain.base.arrays import FloatArray, IntArray
from terrain.ledger.weights import Spots, Weights, summed_by_shot
from terrain.surface.hilbert import hilbert_order

POWERS = (0.3, 0.6, 0.9, 1.2, 1.5, 1.8)
"""The H that are looked at; 1 itself is left out, where the formula has no value."""

WHOLE_UP_TO = 1200
"""Spots of a volume up to which all pairs are summed; above that blocks of spots are."""
BLOCK = 192
BLOCKS_TRIED = 8
BLOCKS_CROSSED = 48
ARM = 0.25
"""Of a block's radius: how far apart the few masses stand that stand for it from afar."""
LEAST_APART = 0.52
"""Mean distance of two places in a square of side 1 (from memory: 0.5214)."""

SMALLEST = 1e-30
"""Of distances squared, so that a logarithm can be taken of each."""


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


def volume_spreads(weights: Weights, plan: FloatArray, powers: tuple[float, ...]) -> FloatArray:
    """Variance, for c = 1 and each H, of a volume by what the ground does between shots.

    Exact for the spots up to WHOLE_UP_TO of them. With more they are parted into blocks along a
    Hilbert curve: within a block all pairs count, but only BLOCKS_TRIED of the blocks are looked
    at; between blocks each is taken for five masses of the same second moments.

    Args:
        weights: of the volume.
        plan: (n, 2), all points of the ground.
        powers: the H.
    """
    spots = weights.spots
    if len(spots) <= WHOLE_UP_TO:
        return _energies(masses_of(spots, plan), powers)
    spots = spots.picked(hilbert_order(spots.at))
    blocks = _Blocks.of(spots, plan)
    tried = np.unique(np.linspace(0, len(blocks) - 1, BLOCKS_TRIED).astype(np.int64))
    seen = np.sum([_energies(masses_of(blocks.spots(k), plan), powers) for k in tried], axis=0)
    size = blocks.sizes(powers)
    with np.errstate(invalid="ignore", divide="ignore"):
        within = np.nan_to_num(seen / size[:, tried].sum(axis=1)) * size.sum(axis=1)
    between = [_between_blocks(blocks, power) for power in powers]
    return np.asarray(np.maximum(within + between, 0.0))


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


def _energies(masses: Masses, powers: tuple[float, ...]) -> FloatArray:
    east, north = masses.at.T
    squared = (east[:, None] - east) ** 2 + (north[:, None] - north) ** 2
    # rough ground differs within a spot too
    rough = np.maximum(squared, LEAST_APART**2 * masses.side[:, None] * masses.side)
    found = []
    for power in powers:
        held = _to_the_power(rough if power < 1 else squared, power)
        energy = np.sum(np.einsum("ij,j->i", held, masses.mass) * masses.mass)
        found.append(max(_sign(power) * float(energy), 0.0))
    return np.array(found)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Blocks:
    """Spots in blocks of neighbours.

    `second` (b, 3) are the blocks' moments of e^2, e n and n^2, lower ones being nought; `middle`
    (b, 2) and `radius` (b,) where they lie. `gap` (m,) is how far a spot's shots are, squared.
    """

    every: Spots
    start: IntArray
    second: FloatArray
    middle: FloatArray
    radius: FloatArray
    gap: FloatArray

    def __len__(self) -> int:
        return len(self.start)

    @classmethod
    def of(cls, spots: Spots, plan: FloatArray) -> "_Blocks":
        start = np.arange(0, len(spots), BLOCK)
        count = np.diff(np.append(start, len(spots)))
        off = plan[spots.shots] - spots.at[:, None]
        held = -spots.area[:, None] * spots.share
        products = [off[..., i] * off[..., j] for i, j in ((0, 0), (0, 1), (1, 1))]
        second = np.stack([np.sum(held * product, axis=1) for product in products], axis=1)
        middle = np.add.reduceat(spots.at, start) / count[:, None]
        away = np.sum((spots.at - np.repeat(middle, count, axis=0)) ** 2, axis=1)
        return cls(
            every=spots,
            start=start,
            second=np.add.reduceat(second, start),
            middle=middle,
            radius=np.sqrt(np.add.reduceat(away, start) / count),
            gap=np.maximum(np.sum(spots.share * (products[0] + products[2]), axis=1), 0.0),
        )

    def spots(self, block: int) -> Spots:
        """The spots of one block."""
        first = int(self.start[block])
        return self.every.picked(np.arange(first, min(first + BLOCK, len(self.every))))

    def sizes(self, powers: tuple[float, ...]) -> FloatArray:
        """What each block's own variance is taken to be in proportion to, (powers, b)."""
        square = self.every.area**2
        return np.array([np.add.reduceat(square * self.gap**power, self.start) for power in powers])

    def stand_ins(self) -> tuple[FloatArray, FloatArray]:
        """Places (b, 5, 2) and masses (b, 5) with the second moments of each block."""
        ee, en, nn = self.second.T
        turn = 0.5 * np.arctan2(2 * en, ee - nn)
        along = np.stack([np.cos(turn), np.sin(turn)], axis=1)
        across = np.stack([-along[:, 1], along[:, 0]], axis=1)
        half, apart = (ee + nn) / 2, np.hypot((ee - nn) / 2, en)
        arm = np.where(self.radius > 0, ARM * self.radius, 1.0)[:, None]
        one, two = np.stack([half + apart, half - apart], axis=0) / (2 * arm[:, 0] ** 2)
        steps = np.stack([0 * along, along, -along, across, -across], axis=1) * arm[:, None]
        return self.middle[:, None] + steps, np.stack([-2 * (one + two), one, one, two, two], 1)


def _between_blocks(blocks: _Blocks, power: float) -> float:
    """The sum over unlike blocks, each as five masses, by up to BLOCKS_CROSSED with all others."""
    at, mass = blocks.stand_ins()
    crossed = np.unique(np.linspace(0, len(blocks) - 1, BLOCKS_CROSSED).astype(np.int64))
    gap = at[crossed].reshape(-1, 1, 2) - at.reshape(1, -1, 2)
    held = _to_the_power(gap[..., 0] ** 2 + gap[..., 1] ** 2, power)
    held *= mass[crossed].reshape(-1, 1) * mass.reshape(1, -1)
    by_block = held.reshape(len(crossed), 5, len(blocks), 5).sum(axis=(1, 3))
    apart = by_block.sum() - by_block[np.arange(len(crossed)), crossed].sum()
    return _sign(power) * float(apart) * len(blocks) / len(crossed)


def _to_the_power(squared: FloatArray, power: float) -> FloatArray:
    """Distances squared to d^(2H); by logarithms, which is several times faster than a power."""
    return np.asarray(np.exp(power * np.log(np.maximum(squared, SMALLEST))))


def _sign(power: float) -> float:
    return -1.0 if power < 1 else 1.0
