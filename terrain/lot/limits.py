"""The highest and lowest ground allowed round the house and round pads, swept out at unit speed.

Finished ground is the existing ground held between the two: `min(max(g, lower), upper)`. Two pairs
of limits laid one over the other are again one pair, so the lot never needs the ground to be known.
"""

from dataclasses import dataclass

import numpy as np
import shapely

from terrain.base.arrays import FloatArray
from terrain.lot.design import Apron, Pad
from terrain.surface.minimum import highest_of, lowest_of
from terrain.surface.outline import ring_through
from terrain.surface.patches import Surface, from_polygons, join_faces, labelled, tilted
from terrain.surface.pieces import level_floor
from terrain.surface.sweep import Swept, advance


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """`upper` and `lower` over the same ground, `covered`; labels say whose limit holds."""

    upper: Surface
    lower: Surface
    covered: shapely.Geometry


def held_between(first: Limits, second: Limits) -> Limits:
    """The limits of ground that is held between the first and then between the second.

    Where only one pair reaches, it alone holds.
    """
    both = (first.covered, second.covered)
    covered = first.covered.union(second.covered)
    lower = lowest_of(
        highest_of(first.lower, second.lower, *both), second.upper, covered, second.covered
    ).lowest
    upper = highest_of(
        lowest_of(first.upper, second.upper, *both).lowest, second.lower, covered, second.covered
    )
    return Limits(upper=upper, lower=lower, covered=covered)


def reach_over(outline: FloatArray, region: shapely.Geometry) -> float:
    """How far an outline must move out at unit speed to be past all of a region."""
    spots = shapely.points(shapely.get_coordinates(region))
    return float(shapely.distance(shapely.Polygon(outline), spots).max()) + 1.0


def house_limits(house: FloatArray, apron: Apron, reach: float) -> Limits:
    """The limits round a house as far as `reach`: the apron, then the cut and the fill slope.

    In an inside corner the nearest wall rules; past the end of a wall its grade goes on level.
    Labels are house walls.
    """
    n = len(house)
    swept = Swept()
    rings = [ring_through(house, range(n))]
    rings = advance(rings, [apron.fall_distance] * n, 0.0, apron.fall_distance, swept)
    near = len(swept.polygons)
    if reach > apron.fall_distance:
        further = reach - apron.fall_distance
        rings = advance(rings, [further] * n, apron.fall_distance, further, swept)
    upper: list[FloatArray] = []
    lower: list[FloatArray] = []
    polygons: list[FloatArray] = []
    walls: list[int] = []
    for index, (polygon, plane, wall) in enumerate(
        zip(swept.polygons, swept.planes, swept.owners, strict=True)
    ):
        for piece, grade in _graded(polygon, house, wall, apron.grades[wall]):
            away = np.array(plane)
            polygons.append(piece)
            walls.append(wall)
            if index < near:
                fallen = _combined(grade, away, -apron.fall)
                upper.append(fallen)
                lower.append(fallen)
            else:
                edge = grade.copy()
                edge[2] -= apron.fall * apron.fall_distance
                beyond = away.copy()
                beyond[2] -= apron.fall_distance
                upper.append(_combined(edge, beyond, 1.0 / apron.cut_slope))
                lower.append(_combined(edge, beyond, -1.0 / apron.fill_slope))
    label = np.array(walls, dtype=np.int32)
    outer = [shapely.Polygon(r.corners) for r in rings]
    covered = shapely.union_all(outer).difference(shapely.Polygon(house))
    return Limits(
        upper=from_polygons(polygons, np.array(upper), label),
        lower=from_polygons(polygons, np.array(lower), label),
        covered=covered,
    )


def _graded(
    polygon: FloatArray, house: FloatArray, wall: int, grades: FloatArray
) -> list[tuple[FloatArray, FloatArray]]:
    """The polygon in pieces, each with the plane (5,) of the wall's grade there."""
    start, end = house[wall], house[(wall + 1) % len(house)]
    length = float(np.hypot(*(end - start)))
    along = (end - start) / length
    first, last = float(grades[0]), float(grades[1])
    if first == last:
        return [(polygon, np.array([*start, first, 0.0, 0.0]))]
    slope = (last - first) / length
    planes = (
        np.array([*start, first, 0.0, 0.0]),
        np.array([*start, first, *(slope * along)]),
        np.array([*start, last, 0.0, 0.0]),
    )
    station = (polygon - start) @ along
    return [
        (piece, plane)
        for plane, low, high in zip(
            planes, (-np.inf, 0.0, length), (0.0, length, np.inf), strict=True
        )
        if (piece := _between(polygon, station, low, high)) is not None
    ]


def _between(
    polygon: FloatArray, station: FloatArray, low: float, high: float
) -> FloatArray | None:
    """The part of a convex polygon with its station from `low` to `high`, None without area."""
    for sign, bound in ((1.0, low), (-1.0, -high)):
        if not np.isfinite(bound):
            continue
        off = sign * station - bound
        if (off <= 0).all():
            return None
        if (off >= 0).all():
            continue
        corners, stations = [], []
        for i in range(len(polygon)):
            j = (i + 1) % len(polygon)
            if off[i] >= 0:
                corners.append(polygon[i])
                stations.append(station[i])
            if off[i] * off[j] < 0:
                share = off[i] / (off[i] - off[j])
                corners.append(polygon[i] + share * (polygon[j] - polygon[i]))
                stations.append(sign * bound)
        polygon, station = np.array(corners), np.array(stations)
    return polygon


def _combined(base: FloatArray, other: FloatArray, factor: float) -> FloatArray:
    """The plane `base + factor * other`, referred to the reference point of `other`."""
    here = base[2] + float(base[3:] @ (other[:2] - base[:2]))
    return np.array([*other[:2], here + factor * other[2], *(base[3:] + factor * other[3:])])


def pad_limits(pad: Pad, apron: Apron, reach: float, label: int) -> Limits:
    """The limits of a pad: its own plane inside, the cut and the fill slope round it."""
    n = len(pad.corners)
    swept = Swept()
    rings = advance([ring_through(pad.corners, range(n))], [reach] * n, 0.0, reach, swept)
    inside = level_floor(shapely.Polygon(pad.corners), label)
    away = swept.surface()
    sides = []
    for per_run in (1.0 / apron.cut_slope, -1.0 / apron.fill_slope):
        plane = away.plane.copy()
        plane[:, 2:] *= per_run
        sloped = labelled(away.with_plane(plane), np.full(len(away), label))
        sides.append(tilted(join_faces(inside, sloped), pad.plane))
    covered = shapely.union_all([shapely.Polygon(r.corners) for r in rings])
    return Limits(upper=sides[0], lower=sides[1], covered=covered)
