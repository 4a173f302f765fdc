"""What shots' errors in plan do to upright faces, and a hole made larger or smaller all round."""

import numpy as np

from terrain.asdug.hole import Hole
from terrain.asdug.ring import Sides, along_sides
from terrain.asdug.told_apart import Kind
from terrain.base.arrays import FloatArray
from terrain.ledger.doubt import NSSDA_95
from terrain.surface.locate import heights_at
from terrain.surface.tin import Tin


def face_doubts(hole: Hole, sides: Sides, ground: Tin, sigma: float | None) -> FloatArray | None:
    """Half widths (walls,) at 95 % of what is dug along each wall, in cubic units, from the errors
    in plan of the shots that its upright faces stand on; None without a ring or a sigma.

    Where a side of length l, between depths d and e, moves its first end out by a little, it adds
    l (2d + e) / 6 times that: the integral of the end's share times the depth.
    """
    if hole.ring is None or hole.sheet is None or sigma is None:
        return None
    spots, inner = hole.plan_of(hole.ring), hole.points[hole.ring, 2]
    lowest = _lowest_at(hole, spots, inner)
    deep = np.maximum(np.nan_to_num(heights_at(ground, spots) - lowest), 0.0)
    ends, deep_end = np.roll(spots, -1, axis=0), np.roll(deep, -1)
    step = ends - spots
    normal = np.column_stack([step[:, 1], -step[:, 0]])  # of the side's own length
    first = normal * ((2.0 * deep + deep_end) / 6.0)[:, None]
    last = normal * ((deep + 2.0 * deep_end) / 6.0)[:, None]
    nearest, _, _ = along_sides(sides, (spots + ends) / 2)
    wall = sides.wall[nearest]
    found = np.zeros(1 + int(sides.wall.max()))
    for row in range(len(found)):
        own = (wall == row)[:, None]
        moved = np.where(own, first, 0.0) + np.roll(np.where(own, last, 0.0), 1, axis=0)
        found[row] = NSSDA_95 * sigma * float(np.linalg.norm(moved))
    return found


def _lowest_at(hole: Hole, spots: FloatArray, height: FloatArray) -> FloatArray:
    """The lower of toe and top where both stand on one spot."""
    if hole.toes is None:
        return height
    low = {
        tuple(spot): z
        for spot, z in zip(
            hole.plan_of(hole.toes).tolist(), hole.points[hole.toes, 2].tolist(), strict=True
        )
    }
    return np.array([low.get(tuple(s), z) for s, z in zip(spots.tolist(), height, strict=True)])


def moved_out(hole: Hole, sides: Sides, by: tuple[float, float]) -> FloatArray:
    """The hole's shots (n, 3), toes, tops and faces moved out from their walls and all but ground
    moved up, by so much; at a corner out from both walls.
    """
    out, up = by
    step = sides.end - sides.start
    normal = np.column_stack([step[:, 1], -step[:, 0]]) / sides.length[:, None]
    corner = np.array(
        [_mitre(before, after) for before, after in zip(np.roll(normal, 1, 0), normal, strict=True)]
    )
    plan = hole.points[:, :2]
    nearest, _, _ = along_sides(sides, plan)
    start, length = sides.start[nearest], sides.length[nearest]
    along = ((plan - start) * step[nearest]).sum(axis=1) / length**2
    way = normal[nearest]
    after = (nearest + 1) % len(sides)
    way = np.where((along <= NEAR_CORNER)[:, None], corner[nearest], way)
    way = np.where((along >= 1.0 - NEAR_CORNER)[:, None], corner[after], way)
    moved = hole.points.copy()
    on_side = np.isin(hole.kind, (Kind.TOE, Kind.TOP, Kind.FACE))
    moved[on_side, :2] += out * way[on_side]
    moved[np.isin(hole.kind, (Kind.FLOOR, Kind.TOE, Kind.FACE)), 2] += up
    return moved


NEAR_CORNER = 0.02
"""So near the end of a side, as a share of it, a shot is of the corner."""


def _mitre(before: FloatArray, after: FloatArray) -> FloatArray:
    """How a corner moves while both its sides go out by one."""
    together = before + after
    return np.asarray(2.0 * together / max(float(together @ together), 0.1))
