"""The rim of a hole: tops where faces lean, toes where they are plumb or it runs out level."""

import numpy as np
import shapely

from terrain.asdug.ring import Sides, away_from, ring_order
from terrain.asdug.told_apart import Kind
from terrain.base.arrays import BoolArray, FloatArray, IntArray

MOST_ROUNDS, SAME = 5, 1e-7


def rim_of(points: FloatArray, kind: IntArray, sides: Sides, toes: IntArray) -> IntArray | None:
    """The outer ring: the tops round the toes, and where the hole runs out level, or tops lie in by
    the noise of their shots, the toes themselves. The toes alone where faces are plumb or no top
    was shot; None where the tops can't be brought round the toes.
    """
    top = np.flatnonzero(kind == Kind.TOP).astype(np.int32)
    inner = shapely.Polygon(points[toes, :2])
    shared = {tuple(spot) for spot in points[toes, :2].tolist()}
    own = np.array([tuple(spot) in shared for spot in points[top, :2].tolist()], dtype=np.bool_)
    # a top in or on the toe ring, but at no toe's spot, says nothing of the rim
    top = top[own | ~shapely.intersects_xy(inner, points[top, 0], points[top, 1])]
    if not len(top):
        return toes
    every = np.concatenate([top, toes[_at_bare_sides(sides, points[top, :2], points[toes, :2])]])
    order = ring_order(sides, points[every, :2])
    ring = None if order is None else every[order]
    for _ in range(MOST_ROUNDS):
        if ring is None:
            return None
        outer = shapely.Polygon(points[ring, :2])
        left = toes[_not_within(outer, points[toes, :2])]
        if not len(left):
            same = outer.symmetric_difference(inner).area <= 1e-9 * inner.area
            return toes if same else ring if outer.covers(inner) else None
        every = np.concatenate([ring, left]).astype(np.int32)
        order = ring_order(sides, points[every, :2])
        ring = _inserted(points, ring, left) if order is None else every[order]
    return None


def _inserted(points: FloatArray, ring: IntArray, more: IntArray) -> IntArray | None:
    """The ring with more shots, each in the side of it that is nearest; None if it crosses itself.

    At a corner of a plumb wall and a leaning one toe and top lie at one place along the dig line.
    """
    line = shapely.Polygon(points[ring, :2]).exterior
    steps = np.hypot(*np.diff(np.asarray(line.coords), axis=0).T)
    own = np.concatenate([[0.0], np.cumsum(steps)[:-1]])
    place = np.concatenate([own, line.project(shapely.points(points[more, :2]))])
    every = np.concatenate([ring, more]).astype(np.int32)
    found: IntArray = every[np.argsort(place, kind="stable")]
    whole = shapely.Polygon(points[found, :2])
    return found if whole.is_valid and whole.area > 0.0 else None


def _at_bare_sides(sides: Sides, tops: FloatArray, toes: FloatArray) -> BoolArray:
    """Which toes lie at a side that has no top; a top off a corner is both its sides'."""
    apart = away_from(sides, tops)
    has_top = (apart <= apart.min(axis=1)[:, None] + SAME).any(axis=0)
    found: BoolArray = ~has_top[away_from(sides, toes).argmin(axis=1)]
    return found


def _not_within(ring: shapely.Polygon, plan: FloatArray) -> BoolArray:
    """Which spots are neither well within a ring nor corners of it."""
    within = shapely.contains_xy(ring, plan[:, 0], plan[:, 1])
    within &= shapely.distance(ring.exterior, shapely.points(plan)) > SAME
    corners = shapely.MultiPoint(ring.exterior.coords)
    found: BoolArray = ~within & (shapely.distance(corners, shapely.points(plan)) > SAME)
    return found
