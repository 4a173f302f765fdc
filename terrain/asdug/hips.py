"""The edges of a hole that leans: from the toe at a corner up to the top where two faces meet."""

import math

import numpy as np
import shapely

from terrain.asdug.ring import Sides, corner_shots
from terrain.base.arrays import FloatArray, IntArray

WIDEST = 30.0
"""Degrees off the bisector of a corner within which a top is taken for the corner's. Our choice."""


def hips(
    sides: Sides, plan: FloatArray, rings: tuple[IntArray, IntArray], reach: float
) -> list[tuple[int, int]]:
    """Pairs of shots, toe and top, that an edge between two faces joins.

    A corner's top is the one nearest to the bisector of its two sides, seen from its toe. An edge
    that would run over the floor, out of the rim or across another is none.

    Args:
        sides: of the design's dig line.
        plan: (n, 2) of all shots.
        rings: shots of the toe ring and of the rim.
        reach: how near a corner of the dig line its toe lies.
    """
    toes, rim = rings
    tops = np.setdiff1d(rim, toes)
    if not len(tops):
        return []
    floor, whole = shapely.Polygon(plan[toes]), shapely.Polygon(plan[rim])
    found, lines = list[tuple[int, int]](), list[shapely.LineString]()
    for k, place in enumerate(corner_shots(sides, plan[toes], reach).tolist()):
        if place < 0:
            continue
        toe = int(toes[place])
        top = _top_of(sides, k, plan[toe], plan[tops])
        if top < 0:
            continue
        line = shapely.LineString([plan[toe], plan[tops[top]]])
        is_clear = whole.covers(line) and line.intersection(floor).length <= 1e-9 * line.length
        if is_clear and not any(line.intersects(other) for other in lines):
            found.append((toe, int(tops[top])))
            lines.append(line)
    return found


def _top_of(sides: Sides, k: int, toe: FloatArray, tops: FloatArray) -> int:
    """The top of the corner where side `k` begins, -1 where none is near its bisector."""
    along = (sides.end - sides.start) / sides.length[:, None]
    normal = np.column_stack([along[:, 1], -along[:, 0]])
    way = normal[k - 1] + normal[k]
    size = math.hypot(*way)
    away = tops - toe
    far = np.hypot(*away.T)
    if size < 1e-9:
        return -1
    ahead = away @ way / size
    off = np.degrees(np.arccos(np.clip(ahead / np.maximum(far, 1e-12), -1.0, 1.0)))
    best = int(np.argmin(np.where(far > 1e-9, off, np.inf)))
    return best if off[best] <= WIDEST else -1
