"""Sides that climb from an outline until they stand above all ground."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from terrain.base.arrays import FloatArray
from terrain.base.errors import DesignError, Fault
from terrain.surface.chunks import box_of
from terrain.surface.moves import Side, moves
from terrain.surface.outline import Ring
from terrain.surface.patches import Surface
from terrain.surface.sweep import Swept, advance

MOST_MOVES = 20_000
ABOVE_GROUND = 0.01
"""Sides are carried above the highest ground by this share of the climb, so that they cross it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reach:
    """How far sides must go: up to `height` above the floor, or out over the whole `extent`."""

    height: float
    extent: shapely.Geometry


def reach_of(ground: FloatArray, floor: FloatArray | float) -> Reach:
    """The reach above all of some ground (n, 3) from a floor at one height, or at (n,) heights."""
    height = float(np.max(ground[:, 2] - floor))
    return Reach(
        height=height + ABOVE_GROUND * abs(height), extent=shapely.box(*box_of(ground)).buffer(1e-6)
    )


def climb(ring: Ring, sides: Sequence[Side], reach: Reach, key: str) -> tuple[Surface, list[Ring]]:
    """What sides sweep from a ring at height 0 as far as the reach, labelled by owner.

    Returns:
        The surface, and the rings where it ends.

    Raises:
        DesignError: at `key`, where the sides make steps without end.
    """
    swept = Swept()
    rings = [ring]
    for count, move in enumerate(moves(sides, max(reach.height, 0.0))):
        if count > MOST_MOVES:
            raise DesignError(
                Fault(
                    key=key,
                    message=f"the side has made {MOST_MOVES} steps and is still below the highest "
                    f"ground, {reach.height:g} above the floor; make its steps taller, or look "
                    "for a shot that is far too high",
                )
            )
        rings = advance(rings, move.runs, move.low, move.rise, swept)
        if any(shapely.Polygon(r.corners).contains(reach.extent) for r in rings):
            break
    return swept.surface(), rings
