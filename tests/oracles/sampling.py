"""Volumes by looking at random points: an estimate and how far it may be off."""

from collections.abc import Callable

import numpy as np

Heights = Callable[[np.ndarray], np.ndarray]


def volume(
    ground: Heights, dig: Heights, box: tuple[float, float, float, float], count: int
) -> tuple[float, float]:
    """Cubic units of ground above dig over a box, and their standard error.

    The box is (west, south, east, north). Two points fall in each of `count` x `count` cells; the
    spread within cells gives the error.
    """
    west, south, east, north = box
    random = np.random.default_rng(20240229)
    row, column = np.divmod(np.arange(count * count), count)
    depths = []
    for _ in range(2):
        plan = np.column_stack(
            [
                west + (column + random.random(count * count)) * (east - west) / count,
                south + (row + random.random(count * count)) * (north - south) / count,
            ]
        )
        depth = ground(plan) - dig(plan)
        depths.append(np.where(np.isfinite(depth), np.maximum(depth, 0.0), 0.0))
    area = (east - west) * (north - south)
    mean = (depths[0] + depths[1]) / 2
    spread = np.sqrt(((depths[0] - depths[1]) ** 2).sum()) / 2
    return float(mean.mean() * area), float(spread / count**2 * area)
