"""Which shots of a hole are floor, toe, top of a face, on a face, or ground beside it."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import IntEnum

import numpy as np
import shapely

from terrain.base.arrays import FloatArray, IntArray


class Kind(IntEnum):
    """What a shot of a hole stands on."""

    FLOOR = 0
    TOE = 1
    TOP = 2
    FACE = 3
    GROUND = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Codes:
    """The codes of each kind, capitals not minded; all empty where shots have none."""

    floor: tuple[str, ...] = ()
    toe: tuple[str, ...] = ()
    top: tuple[str, ...] = ()
    face: tuple[str, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.floor or self.toe or self.top or self.face)


LOW, HIGH = 0.25, 0.75
"""Shares of the depth: below the first a shot near the dig line is a toe, above the second a top,
between them on the face. Common practice, no source."""
DRIFT = 0.25
"""How far beside the design a leaning face may meet the ground, as a share of how far that is out
of the dig line. Our choice."""


def by_codes(codes: Sequence[str], asked: Codes) -> IntArray:
    """The kind (n,) of shots from their codes; those of no kind are ground."""
    kinds = {
        code.strip().casefold(): kind
        for kind, every in (
            (Kind.FLOOR, asked.floor),
            (Kind.TOE, asked.toe),
            (Kind.TOP, asked.top),
            (Kind.FACE, asked.face),
        )
        for code in every
    }
    told = [kinds.get(code.strip().casefold(), Kind.GROUND) for code in codes]
    return np.array(told, dtype=np.int32)


@dataclass(frozen=True, slots=True, kw_only=True)
class Design:
    """What shots without codes are told apart by, in the local frame.

    Args:
        line: the design's dig line.
        daylight: where the design is below the ground.
        floor: elevation of the design's floor.
        near: how near the dig line a shot counts as on it.
        clods: how far off the ground a shot may be and still stand on it.
    """

    line: shapely.Polygon
    daylight: shapely.Geometry
    floor: float
    near: float
    clods: float


def by_place(points: FloatArray, above: FloatArray, design: Design) -> IntArray:
    """The kind (n,) of shots from where they lie, in the local frame.

    A shot near the dig line is toe, face or top by its height between floor and ground; one farther
    in is floor in the lower half of the depth, face in the upper. One farther out is face if it
    lies below the ground within what is to be dug, or by more than a quarter of the depth; top if
    it stands on the ground about where the design meets it; else ground.

    Args:
        points: (n, 3).
        above: (n,) how far each lies above the existing ground, NaN beside it.
        design: what is asked for.
    """
    spots = shapely.points(points[:, :2])
    away = shapely.distance(shapely.get_exterior_ring(design.line), spots)
    inside = shapely.contains(design.line, spots)
    over_ground = np.nan_to_num(above, nan=0.0)
    over = points[:, 2] - design.floor
    share = over / np.maximum(over - over_ground, 1e-9)
    kind = np.full(len(points), Kind.GROUND, dtype=np.int32)
    on_line = away <= design.near
    kind[on_line & (share < LOW)] = Kind.TOE
    kind[on_line & (share >= LOW) & (share <= HIGH)] = Kind.FACE
    kind[on_line & (share > HIGH)] = Kind.TOP
    deep_in = inside & ~on_line
    kind[deep_in & (share < 0.5)] = Kind.FLOOR
    kind[deep_in & (share >= 0.5)] = Kind.FACE
    out = ~inside & ~on_line
    reach = design.near + DRIFT * away
    at_rim = shapely.distance(shapely.boundary(design.daylight), spots) <= reach
    dug = at_rim | shapely.contains(design.daylight, spots)
    kind[out & ((share < HIGH) | (dug & (over_ground < -design.clods)))] = Kind.FACE
    kind[out & at_rim & (np.abs(over_ground) <= design.clods)] = Kind.TOP
    return kind
