"""Surfaces joined by minimum or maximum, and cut to a region or to owners."""

from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import Polygon, box

from terrain.base.arrays import BoolArray, FloatArray, IntArray
from terrain.surface.outline import Ring, ring_area
from terrain.surface.overlay import OverlayFaces, overlay_faces
from terrain.surface.patches import Surface, flipped, join_faces, labelled
from terrain.surface.pieces import level_floor

ROUNDING = 1e-13
"""Lengths below this share of the extent of what is joined are rounding."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Joined:
    """`lowest` of both surfaces, and where the second one took over.

    `taken` are the faces where the second is lower or alone; `before` are those of them where
    the first was there too, with the first one's planes.
    """

    lowest: Surface
    taken: Surface
    before: Surface


def lowest_of(
    first: Surface,
    second: Surface,
    first_footprint: shapely.Geometry,
    second_footprint: shapely.Geometry,
) -> Joined:
    """The lower of two surfaces wherever either is; they may cover different ground.

    Args:
        first: a surface; its labels are kept.
        second: the surface that joins it, labels kept.
        first_footprint: polygons, the ground that the first covers.
        second_footprint: the same of the second.
    """
    low, high = span(first, second)
    shared = overlay_faces(first, second)
    first_alone = overlay_faces(first, around(second_footprint, low, high))
    second_alone = overlay_faces(second, around(first_footprint, low, high))
    taken = shared.side > 0
    gained = sound_parts(shared, taken, second, shared.b)
    alone = sound_parts(
        second_alone, np.ones(len(second_alone), dtype=bool), second, second_alone.a
    )
    kept = sound_parts(shared, ~taken, first, shared.a)
    own = sound_parts(first_alone, np.ones(len(first_alone), dtype=bool), first, first_alone.a)
    return Joined(
        lowest=join_faces(own, kept, gained, alone),
        taken=join_faces(gained, alone),
        before=sound_parts(shared, taken, first, shared.a),
    )


def highest_of(
    first: Surface,
    second: Surface,
    first_footprint: shapely.Geometry,
    second_footprint: shapely.Geometry,
) -> Surface:
    """The higher of two surfaces wherever either is; arguments as for `lowest_of`."""
    turned = lowest_of(flipped(first), flipped(second), first_footprint, second_footprint)
    return flipped(turned.lowest)


def within(surface: Surface, region: shapely.Geometry) -> Surface:
    """The part of a surface over a region of the plan, labels kept."""
    held = overlay_faces(surface, level_floor(region, 0))
    return sound_parts(held, np.ones(len(held), dtype=bool), surface, held.a)


def shared_out(surface: Surface, owners: Surface) -> Surface:
    """The faces of a surface where `owners` has any, each with the label of its owner."""
    held = overlay_faces(surface, owners)
    parts = sound_parts(held, np.ones(len(held), dtype=bool), surface, held.a)
    own = sound_parts(held, np.ones(len(held), dtype=bool), owners, held.b)
    return labelled(parts, own.label)


def sound_parts(faces: OverlayFaces, keep: BoolArray, source: Surface, parent: IntArray) -> Surface:
    """The kept parts of an overlay as faces of one of its surfaces, sound enough to cut with.

    A corner that only repeats the one before it would give an edge whose direction is rounding,
    and a part thinner than rounding has no inside: both go.
    """
    owner = np.repeat(np.arange(len(faces)), np.diff(faces.start))
    before = np.roll(faces.ring, 1, axis=0)
    filled = np.diff(faces.start) > 0
    before[faces.start[:-1][filled]] = faces.ring[faces.start[1:][filled] - 1]
    away = np.abs(faces.ring - before).max(axis=1)
    extent = float(np.ptp(faces.ring, axis=0).max()) if len(faces.ring) else 0.0
    kept = keep[owner] & (away > ROUNDING * extent)
    ring, owner = faces.ring[kept], owner[kept]
    doubled: FloatArray = np.zeros(len(faces))
    if len(ring):
        first = ring[np.searchsorted(owner, owner)]
        one, two = ring - first, np.roll(ring, -1, axis=0) - first
        same = owner == np.roll(owner, -1)
        cross = np.where(same, one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0], 0.0)
        doubled = np.asarray(np.bincount(owner, cross, len(faces)), dtype=np.float64)
    around = np.bincount(owner, away[kept], len(faces))
    sound = doubled > ROUNDING * extent * around
    ring = ring[sound[owner]]
    counts = np.bincount(owner, minlength=len(faces))[sound]
    parents = parent[sound]
    return Surface(
        start=np.concatenate([[0], np.cumsum(counts)]).astype(np.int64),
        ring=ring,
        plane=source.plane[parents],
        label=source.label[parents],
    )


def span(*surfaces: Surface) -> tuple[FloatArray, FloatArray]:
    """A box well outside all surfaces; some box where none of them has a face."""
    corners = np.concatenate([s.ring for s in surfaces])
    if not len(corners):
        return np.zeros(2), np.ones(2)
    low, high = corners.min(axis=0), corners.max(axis=0)
    margin = float((high - low).max()) + 1.0
    return low - margin, high + margin


def footprint(rings: list[Ring]) -> shapely.Geometry:
    """The ground that an outline goes round, as polygons."""
    outer = [Polygon(r.corners) for r in rings if ring_area(r.corners) > 0]
    islands = [Polygon(r.corners) for r in rings if ring_area(r.corners) < 0]
    return shapely.union_all(outer).difference(shapely.union_all(islands))


def around(covered: shapely.Geometry, low: FloatArray, high: FloatArray) -> Surface:
    """The ground in a box that is not covered, as triangles at height 0."""
    bare = box(*low, *high).difference(covered)
    triangles = shapely.get_parts(shapely.constrained_delaunay_triangles(shapely.get_parts(bare)))
    triangles = shapely.get_parts(triangles)
    corners = shapely.get_coordinates(triangles).reshape(-1, 4, 2)[:, :3]
    a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
    area = (b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]
    corners = np.where(area[:, None, None] < 0, corners[:, ::-1], corners)[area != 0]
    plane = np.zeros((len(corners), 5))
    plane[:, :2] = corners[:, 0]
    return Surface(
        start=3 * np.arange(len(corners) + 1, dtype=np.int64),
        ring=np.ascontiguousarray(corners.reshape(-1, 2)),
        plane=plane,
        label=np.zeros(len(corners), dtype=np.int32),
    )
