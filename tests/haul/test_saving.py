"""Forty made lots: no order is dearer than casting every cell to its nearest side."""

import numpy as np
import pytest
import shapely

from tests.haul.made_lot import RECTANGLE, Asked, jogged, made

LOTS = 40


def lot_of(seed):
    """A made lot: outline, depth, sides, needs and room all vary."""
    rng = np.random.default_rng(seed)
    width, height = rng.uniform(34, 60), rng.uniform(28, 44)
    corners = RECTANGLE * [width / 48, height / 36]
    if seed % 2:
        corners = jogged(rng.uniform(8, 16), rng.uniform(8, 14), width, height)
    share = rng.random(len(corners)) ** 2
    share = share / share.sum() * rng.uniform(0.2, 0.9)
    free = None
    if seed % 3 == 0:
        low, high = corners.min(axis=0) - rng.uniform(14, 40, 2), corners.max(axis=0)
        free = shapely.box(*low, *(high + rng.uniform(14, 40, 2)))
    return Asked(
        corners=corners,
        weight=float(rng.choice([8.0, 14.0, 20.0])),
        depth=rng.uniform(5, 9),
        side=float(rng.choice([0.0, 0.75, 1.0])),
        size=5.0,
        free=free,
        needs=tuple(share),
        bare=(int(rng.integers(len(corners))),) if seed % 4 == 0 else (),
    )


@pytest.mark.parametrize("tens", range(LOTS // 10))
def test_no_order_is_dearer_than_casting_to_the_nearest_side(tens):
    saved = []
    for seed in range(10 * tens, 10 * tens + 10):
        for one in made(lot_of(seed)).orders():
            assert one.hours <= one.nearest * (1 + 1e-9)
            cast = one.shipped.cast.sum(axis=0)[:-1]
            assert (cast <= one.asked.capacity * (1 + 1e-12)).all()
            moved = np.abs(one.shipped.cast.sum(axis=1) - one.asked.supply).max()
            assert moved <= 1e-12 * one.asked.supply.sum()
            saved.append(1 - one.hours / one.nearest)
    print(f"saved {np.mean(saved):.1%} of the hours on average, {max(saved):.1%} at most")
    assert max(saved) > 0.01
