"""Which shots carry most of a volume's doubt, and where one more would take most of it away."""

import math
from dataclasses import dataclass

import numpy as np

from terrain.base.arrays import BoolArray, FloatArray, IntArray
from terrain.ledger.doubt import NSSDA_95, Doubt, Terms
from terrain.ledger.ground import Ground
from terrain.ledger.weights import Spots, Weights, summed_by_shot

TRIANGLES_TRIED = 8
SPOTS_AROUND = 150
"""So many spots of a volume nearest to a new shot are worked out anew; the rest stay."""
MANY_TRIANGLES = 20_000
"""Of so many only those that touch the shots of the spots are looked at."""
ON_EDGE = 1e-9
WORTH_TELLING = 0.005
"""A new shot that narrows the plus-or-minus by less than this share of it isn't told."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CarryingShot:
    """One point of the ground: its weight in square length units, its share of the variance that
    shots make each for itself, in elevation and in plan.
    """

    point: int
    weight: float
    share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class NextShot:
    """Where one more shot narrows the plus-or-minus most, in the local frame, and what is left."""

    at: tuple[float, float]
    together: float


def carrying_shots(weights: Weights, terms: Terms, most: int) -> tuple[CarryingShot, ...]:
    """The shots that carry most of what shots make each for itself, most first.

    Where accuracies are not said, or nought, by the squares of the weights alone.
    """
    up, across = terms.errors.of_elevations(weights.shot), terms.errors.horizontal_accuracy or 0.0
    if across == 0.0 and not up.any():
        up = np.ones(len(up))
    own = np.sum((weights.change[:, :2] * across) ** 2, axis=1) + (weights.by_elevation * up) ** 2
    total = float(own.sum())
    if total == 0.0:
        return ()
    order = np.argsort(-own, kind="stable")[:most]
    return tuple(
        CarryingShot(
            point=int(weights.shot[k]),
            weight=float(weights.by_elevation[k]),
            share=float(own[k]) / total,
        )
        for k in order
    )


def next_shot(weights: Weights, doubt: Doubt, terms: Terms, ground: Ground) -> NextShot | None:
    """Where one more shot, as good as the others, narrows a volume's plus-or-minus most.

    Tried are the middles of the triangles that are widest open under the volume. The ground is
    joined anew round the new shot; what changes is the part of the shots' own elevations and that
    of the ground between them, while datum and shared errors stay.

    Returns:
        The best, or None if nothing is known of the ground between shots or none is worth it.
    """
    if terms.between is None or doubt.together is None or not len(weights.spots):
        return None
    best: NextShot | None = None
    least = (1.0 - WORTH_TELLING) * doubt.together
    if doubt.together**2 - (doubt.random or 0.0) ** 2 - (doubt.terrain or 0.0) ** 2 > least**2:
        return None
    for at in _open_places(weights.spots, terms.plan):
        gained = _gained(weights, terms, ground, at)
        together = math.sqrt(max(doubt.together**2 - NSSDA_95**2 * gained, 0.0))
        if together < least:
            best, least = NextShot(at=(float(at[0]), float(at[1])), together=together), together
    return best


def _open_places(spots: Spots, plan: FloatArray) -> FloatArray:
    """The middles (n, 2) of what is taken of the triangles that are widest open, widest first."""
    count, group = _by_triangle(spots)
    area = np.bincount(group, spots.area, count)
    off = plan[spots.shots] - spots.at[:, None]
    gap = np.sum(spots.share * np.sum(off * off, axis=2), axis=1)
    wide = area * np.bincount(group, np.abs(spots.area) * gap, count)
    order = np.argsort(-wide, kind="stable")[:TRIANGLES_TRIED]
    order = order[area[order] > 0]
    middle = [np.bincount(group, spots.area * column, count) for column in spots.at.T]
    return np.stack(middle, axis=1)[order] / area[order, None]


def _by_triangle(spots: Spots) -> tuple[int, IntArray]:
    """How many triangles spots lie in, and which of them each does."""
    own, place = np.unique(spots.shots, return_inverse=True)
    one, two, three = np.sort(place.reshape(-1, 3).astype(np.int64), axis=1).T
    key, group = np.unique((one * len(own) + two) * len(own) + three, return_inverse=True)
    return len(key), group


def _gained(weights: Weights, terms: Terms, ground: Ground, at: FloatArray) -> float:
    """The variance that a new shot takes away, in cubic length units squared."""
    near = weights.spots
    if len(near) > SPOTS_AROUND:
        away = np.sum((near.at - at) ** 2, axis=1)
        near = near.picked(np.argpartition(away, SPOTS_AROUND)[:SPOTS_AROUND])
    joined = _joined_anew(near, ground, at)
    if joined is None or terms.between is None:
        return 0.0
    plan = np.concatenate([terms.plan, at[None]])
    before, after = _variances(near, terms, plan), _variances(joined, terms, plan)
    return before - after


def _variances(spots: Spots, terms: Terms, plan: FloatArray) -> float:
    """What shots make each for itself and the ground between them; the point past the ground's own
    errs as its neighbours do.
    """
    shot, held = summed_by_shot(
        spots.shots.ravel(), (spots.area[:, None] * spots.share).reshape(-1, 1)
    )
    change = np.column_stack([np.zeros((len(held), 2)), held])
    weights = Weights(shot=shot, change=change, spots=spots)
    known = shot < len(terms.plan)
    errs = terms.errors.of_elevations(shot[known])
    each = np.full(len(shot), np.sqrt(np.mean(errs**2)))
    each[known] = errs
    own = float(np.sum((each * held[:, 0]) ** 2))
    return own + (0.0 if terms.between is None else terms.between.variance_on(weights, plan))


def _joined_anew(spots: Spots, ground: Ground, at: FloatArray) -> Spots | None:
    """The spots with the shots that carry them once a point more is joined in; None if none is.

    Triangles whose circumcircle holds the new point give way to a fan round it (Bowyer and Watson,
    from memory). Lines are not looked at: near one the picture is a little too good.
    """
    rim = _rim_of_gap(ground, at, spots)
    new = len(ground.points)
    shots, share = spots.shots.copy(), spots.share.copy()
    gives_way = _holds(ground.points[spots.shots, :2], at)
    best = np.full(len(spots), -ON_EDGE)
    for one, two in rim:
        corners = np.array([ground.points[one, :2], ground.points[two, :2], at])
        counted = _shares(corners, spots.at)
        better = gives_way & (counted.min(axis=1) > best)
        best[better] = counted[better].min(axis=1)
        shots[better], share[better] = (one, two, new), counted[better]
    if not (best > -ON_EDGE).any():
        return None
    return Spots(at=spots.at, area=spots.area, shots=shots, share=share)


def _rim_of_gap(ground: Ground, at: FloatArray, spots: Spots) -> list[tuple[int, int]]:
    """The sides, counter-clockwise, round the triangles that give way to a new point."""
    triangles = ground.triangles
    if len(triangles) > MANY_TRIANGLES:
        near = np.zeros(len(ground.points), dtype=np.bool_)
        near[spots.shots] = True
        triangles = triangles[near[triangles].any(axis=1)]
    gone = triangles[_holds(ground.points[triangles, :2], at)]
    sides = {(int(t[k]), int(t[(k + 1) % 3])) for t in gone for k in range(3)}
    return [(a, b) for a, b in sorted(sides) if (b, a) not in sides]


def _holds(corners: FloatArray, at: FloatArray) -> BoolArray:
    """Whether the circle round each triangle (t, 3, 2) holds a point."""
    off = corners - at
    square = np.sum(off * off, axis=2)
    (ae, be, ce), (an, bn, cn) = off[..., 0].T, off[..., 1].T
    turn = (be - ae) * (cn - an) - (bn - an) * (ce - ae)
    inside = (
        square[:, 0] * (be * cn - bn * ce)
        - square[:, 1] * (ae * cn - an * ce)
        + square[:, 2] * (ae * bn - an * be)
    )
    return np.asarray(inside * turn > 0)


def _shares(corners: FloatArray, at: FloatArray) -> FloatArray:
    """What the corners (3, 2) of one triangle count at places (n, 2)."""
    ab, ac, to = corners[1] - corners[0], corners[2] - corners[0], at - corners[0]
    twice = ab[0] * ac[1] - ab[1] * ac[0]
    if twice <= 0:
        return np.full((len(at), 3), -1.0)
    of_b = (to[:, 0] * ac[1] - to[:, 1] * ac[0]) / twice
    of_c = (ab[0] * to[:, 1] - ab[1] * to[:, 0]) / twice
    return np.column_stack([1.0 - of_b - of_c, of_b, of_c])
