"""The ring of a hole from the shots along it: whose wall each is, and how they go round."""

from dataclasses import dataclass

import numpy as np
import shapely

from terrain.base.arrays import FloatArray, IntArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Sides:
    """The straight sides of a dig line in the local frame, counter-clockwise.

    `start`, `end` (k, 2) of each, and the wall that each is of; walls that vanished have none.
    """

    start: FloatArray
    end: FloatArray
    wall: IntArray

    def __len__(self) -> int:
        return len(self.wall)

    @property
    def length(self) -> FloatArray:
        """Of each side."""
        return np.asarray(np.hypot(*(self.end - self.start).T))


def away_from(sides: Sides, plan: FloatArray) -> FloatArray:
    """How far spots (n, 2) lie from each side, (n, sides)."""
    steps = sides.end - sides.start
    away = plan[:, None, :] - sides.start
    along = np.clip((away * steps).sum(axis=2) / sides.length**2, 0.0, 1.0)
    return np.asarray(np.hypot(*np.moveaxis(away - along[:, :, None] * steps, 2, 0)))


def along_sides(sides: Sides, plan: FloatArray) -> tuple[IntArray, FloatArray, FloatArray]:
    """The nearest side of each spot (n, 2), how far round the ring it lies, how far away it is."""
    steps = sides.end - sides.start
    length = sides.length
    away = plan[:, None, :] - sides.start
    along = np.clip((away * steps).sum(axis=2) / length**2, 0.0, 1.0)
    apart = np.hypot(*np.moveaxis(away - along[:, :, None] * steps, 2, 0))
    nearest = apart.argmin(axis=1)
    every = np.arange(len(plan))
    before = np.concatenate([[0.0], np.cumsum(length)[:-1]])
    position = before[nearest] + along[every, nearest] * length[nearest]
    return nearest.astype(np.int32), position, apart[every, nearest]


def corner_shots(sides: Sides, plan: FloatArray, reach: float) -> IntArray:
    """The shot (k,) nearest to the first corner of each side, -1 where none is within `reach`."""
    if not len(plan):
        return np.full(len(sides), -1, dtype=np.int32)
    apart = np.hypot(*np.moveaxis(plan[None, :, :] - sides.start[:, None, :], 2, 0))
    nearest = apart.argmin(axis=1)
    held = apart[np.arange(len(sides)), nearest] <= reach
    return np.where(held, nearest, -1).astype(np.int32)


def ring_order(sides: Sides, plan: FloatArray) -> IntArray | None:
    """The shots (n,) in order round the ring, or as they were written; None if neither is a ring.

    Of shots at one spot the first is kept.
    """
    _, first = np.unique(plan, axis=0, return_index=True)
    kept = np.sort(first).astype(np.int32)
    if len(kept) < 3:
        return None
    _, position, _ = along_sides(sides, plan[kept])
    # what lies at the very end of the ring is at its beginning
    whole = float(sides.length.sum())
    position = np.where(position >= whole, 0.0, position)
    for order in (np.argsort(position, kind="stable"), np.arange(len(kept))):
        ring = shapely.Polygon(plan[kept[order]])
        if ring.is_valid and ring.area > 0.0:
            found: IntArray = kept[order]
            return found if ring.exterior.is_ccw else found[::-1]
    return None
