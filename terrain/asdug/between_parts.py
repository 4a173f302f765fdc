"""What a hole does between its shots: its floor and its faces, each by its own shots left out.

A floor is far smoother than benches and torn faces: told from both together, how far faces miss
would count on the floor too, and make a level floor look doubtful.
"""

from dataclasses import dataclass, replace

import numpy as np

from terrain.base.arrays import BoolArray, FloatArray, IntArray
from terrain.ledger.between import Between, between_shots
from terrain.ledger.ground import Ground
from terrain.ledger.weights import Spots, Weights


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BetweenParts:
    """The floor's and the faces'; None of each where too few shots can be left out.

    `on_face` (n,) says which points of the ground stand on a face or on top of one: whatever lies
    between three shots is floor if none of them does.
    """

    on_face: BoolArray
    floor: Between | None
    faces: Between | None

    def variance(self, weights: Weights) -> float:
        """The variance of a volume, in cubic length units squared."""
        return sum(part.variance(own) for part, own in self._apart(weights))

    def variance_on(self, weights: Weights, plan: FloatArray) -> float:
        """The same with the ground's points, and more perhaps, at places (n, 2) in plan."""
        return sum(part.variance_on(own, plan) for part, own in self._apart(weights))

    def _apart(self, weights: Weights) -> list[tuple[Between, Weights]]:
        is_face = _is_face(self.on_face, weights.spots.shots)
        told = ((self.floor, ~is_face), (self.faces, is_face))
        return [
            (part, replace(weights, spots=weights.spots.picked(np.flatnonzero(own))))
            for part, own in told
            if part is not None
        ]


def between_parts(ground: Ground, spots: Spots, on_face: BoolArray) -> BetweenParts:
    """What the ground of a hole does between its shots.

    Args:
        ground: of the hole alone.
        spots: that stand for all of it.
        on_face: (n,) which of its points stand on a face or on top of one.
    """
    low = np.flatnonzero(~_is_face(on_face, ground.triangles))
    level = spots.picked(np.flatnonzero(~_is_face(on_face, spots.shots)))
    floor = None
    if len(low):
        floor = between_shots(replace(ground, triangles=ground.triangles[low]), level)
    faces = _faces(ground, spots, on_face) if on_face[ground.triangles].any() else None
    return BetweenParts(on_face=on_face, floor=floor, faces=faces)


def _faces(ground: Ground, spots: Spots, on_face: BoolArray) -> Between | None:
    """The faces as all of the hole has it, but as rough as the misses of their own shots are.

    How misses grow with the gap is not told by faces alone: they go round the floor in a strip, and
    thinned out they are joined across it.
    """
    whole = between_shots(ground, spots)
    kept = np.flatnonzero(~on_face)
    if ground.on_line is not None:
        kept = np.union1d(kept, ground.on_line)
    own = between_shots(replace(ground, on_line=kept), spots)
    if whole is None or own is None or whole.typical_miss == 0.0:
        return whole
    rougher = (own.typical_miss / whole.typical_miss) ** 2
    return replace(
        whole,
        roughness=tuple(rougher * each for each in whole.roughness),
        left_out=own.left_out,
        typical_miss=own.typical_miss,
    )


def _is_face(on_face: BoolArray, shots: IntArray) -> BoolArray:
    return np.asarray(on_face[shots].any(axis=1))
