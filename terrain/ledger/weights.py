"""How a volume changes with the shots it rests on.

With its faces fixed, a volume is linear in the shot elevations: V = V0 + sum(w z), where w is the
integral of the shot's hat function (1 at the shot, 0 at its neighbours, linear between) over the
cut. The line of no cut moves with the shots, but the depth there is nought, so it adds nothing at
first order. A shot that moves in plan drags its hat along: the ground under it changes by minus
hat x slope x move, so the weight of a move is minus the sum of hat integrals x the slope of each
triangle.
"""

from dataclasses import dataclass, replace

import numpy as np

from terrain.base.arrays import FloatArray, IntArray
from terrain.ledger.hats import Hats, shares_and_slope, spots_of

EASTING, NORTHING, ELEVATION = range(3)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Spots:
    """Places that stand for the area a volume is taken over.

    Args:
        at: (m, 2), in plan.
        area: (m,), how much area each stands for, negative where it is taken off.
        shots: (m, 3), the points of the ground's triangle it lies in.
        share: (m, 3), what each of these counts in the ground's height there; sums to 1.
    """

    at: FloatArray
    area: FloatArray
    shots: IntArray
    share: FloatArray

    def __len__(self) -> int:
        return len(self.area)

    def picked(self, which: IntArray) -> "Spots":
        """Some of the spots."""
        return Spots(
            at=self.at[which],
            area=self.area[which],
            shots=self.shots[which],
            share=self.share[which],
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Weights:
    """What one volume is made of, all of it signed: add and subtract volumes by these.

    Args:
        shot: (k,) numbers of the ground's points, ascending, each once.
        change: (k, 3), change of the volume, in square length units, by one unit of the shot's
            easting, northing and elevation.
        spots: the area that the volume is taken over.
    """

    shot: IntArray
    change: FloatArray
    spots: Spots

    @classmethod
    def nothing(cls) -> "Weights":
        """The weights of no volume."""
        none, three = np.zeros(0, dtype=np.int64), np.zeros((0, 3))
        spots = Spots(at=np.zeros((0, 2)), area=np.zeros(0), shots=none.reshape(0, 3), share=three)
        return cls(shot=none, change=three, spots=spots)

    @property
    def by_elevation(self) -> FloatArray:
        """(k,), square length units: what a unit of each shot's elevation adds."""
        return self.change[:, ELEVATION]

    @property
    def plan_area(self) -> float:
        """The sum of the elevations' weights: the plan area of the cut, in square length units."""
        return float(self.by_elevation.sum())

    def __add__(self, other: "Weights") -> "Weights":
        return total_of([self, other])

    def __sub__(self, other: "Weights") -> "Weights":
        return total_of([self, other * -1.0])

    def __mul__(self, factor: float) -> "Weights":
        spots = replace(self.spots, area=factor * self.spots.area)
        return Weights(shot=self.shot, change=factor * self.change, spots=spots)


def total_of(every: list[Weights]) -> Weights:
    """The weights of a sum of volumes of one ground; shots that they share count once."""
    if not every:
        return Weights.nothing()
    spots = Spots(
        at=np.concatenate([w.spots.at for w in every]),
        area=np.concatenate([w.spots.area for w in every]),
        shots=np.concatenate([w.spots.shots for w in every]),
        share=np.concatenate([w.spots.share for w in every]),
    )
    shot, change = summed_by_shot(
        np.concatenate([w.shot for w in every]), np.concatenate([w.change for w in every])
    )
    return Weights(shot=shot, change=change, spots=spots)


def summed_by_shot(shot: IntArray, values: FloatArray) -> tuple[IntArray, FloatArray]:
    """Each shot once, ascending, and the sums (k, c) of values (n, c) that are on it."""
    own, place = np.unique(shot, return_inverse=True)
    summed = [np.bincount(place, column, len(own)) for column in values.T]
    return own, np.asarray(np.stack(summed, axis=1), dtype=np.float64)


def weights_of(hats: Hats, sign: float = 1.0) -> dict[int, Weights]:
    """The weights of every label's volume, `sign` -1 for what is taken off.

    A hat function is linear on a triangle, so its integral over a face within that triangle is
    the face's area times its value at the face's centroid: exact, no sampling.
    """
    shots = hats.shots
    shares, slope = shares_and_slope(hats.points, shots, hats.centroid)
    held = sign * shares * hats.area[:, None]
    change = np.stack([-held * slope[:, :1], -held * slope[:, 1:], held], axis=2)
    order = np.argsort(hats.label, kind="stable")
    own, first = np.unique(hats.label[order], return_index=True)
    found = {}
    for label, faces in zip(own.tolist(), np.split(order, first[1:]), strict=False):
        at = spots_of(hats, faces)
        each = at.shape[1]
        corners, at = np.repeat(shots[faces], each, axis=0), at.reshape(-1, 2)
        spots = Spots(
            at=at,
            area=np.repeat(
                sign * hats.area[faces] / (len(at) // len(faces)), len(at) // len(faces)
            ),
            shots=corners,
            share=shares_and_slope(hats.points, corners, at)[0],
        )
        shot, summed = summed_by_shot(shots[faces].ravel(), change[faces].reshape(-1, 3))
        found[label] = Weights(shot=shot, change=summed, spots=spots)
    return found
