"""The ledger face by face: what each plane face of the dig takes out, and where, to be drawn."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely

from terrain.base.arrays import FloatArray, IntArray
from terrain.pit.dig import Dig
from terrain.surface.facets import areas
from terrain.surface.overlay import Overlay, overlay
from terrain.surface.patches import Surface, picked
from terrain.surface.rim import cut_region

WHOLE = 1e-9
"""A face is drawn whole if no more than this share of it is not below ground."""

SAME_PLACE = 1e-7
"""Length units to which outlines are joined; for drawing only, volumes never pass through it."""

LEAST = 1e-9
"""Pieces of a drawn face smaller than this share of it are noise and are left out."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DugFace:
    """One plane face of the dig as far as it takes earth out.

    Args:
        label: row and part, as `pit.dig` says.
        shape: in plan, local frame.
        plane: (5,) as of `patches.Surface`.
        area: plan area in square length units.
        bank: volume in cubic length units: up to the ground, or to the dig so far for what a
            footing trench or an extra adds.
    """

    label: int
    shape: shapely.MultiPolygon
    plane: FloatArray
    area: float
    bank: float

    def lifted(self, plan: FloatArray) -> FloatArray:
        """Plan points (m, 2) with the face's height, (m, 3)."""
        rise = (plan - self.plane[:2]) @ self.plane[3:]
        return np.column_stack([plan, self.plane[2] + rise])


@dataclass(frozen=True, slots=True, kw_only=True)
class DugPart:
    """All that one row takes out in one part; `shape`, `area` and `bank` as of `DugFace`."""

    label: int
    shape: shapely.MultiPolygon
    area: float
    bank: float


def dug_faces(
    ground: Surface, neighbours: IntArray, dig: Dig, whole: Overlay
) -> tuple[DugFace, ...]:
    """Every face of the main dig, then of what each solid adds, that takes earth out.

    Their volumes by label are those of the ledger: the main dig's faces go down to its floor, and
    what footing trench and extras add below lies under them.

    Args:
        ground: the existing ground, a face a triangle.
        neighbours: (n, 3) of its triangles, -1 at the edge.
        dig: the whole dig.
        whole: the overlay of the ground with `dig.surface`.
    """
    near = np.unique(whole.a[whole.area_above > 0])
    place = np.full(len(ground) + 1, -1, dtype=np.int64)
    place[near] = np.arange(len(near))
    ground, neighbours = picked(ground, near), place[neighbours[near]]
    found = [*_faces_of(ground, neighbours, dig.main, None)]
    for step in dig.taken:
        found += _faces_of(ground, neighbours, step.after, step.before)
    return tuple(found)


def dug_parts(faces: tuple[DugFace, ...]) -> tuple[DugPart, ...]:
    """The faces joined by label, in the order of labels."""
    by_label: dict[int, list[DugFace]] = {}
    for face in faces:
        by_label.setdefault(face.label, []).append(face)
    return tuple(
        DugPart(
            label=label,
            shape=_polygons(
                shapely.union_all([face.shape for face in own], grid_size=SAME_PLACE), 0.0
            ),
            area=sum(face.area for face in own),
            bank=sum(face.bank for face in own),
        )
        for label, own in sorted(by_label.items())
    )


def _faces_of(
    ground: Surface, neighbours: IntArray, after: Surface, before: Surface | None
) -> Iterator[DugFace]:
    """The faces of a surface that lie below the ground, less what was dug `before` over them."""
    pairs = overlay(ground, after)
    area = np.bincount(pairs.b, pairs.area_above, len(after))
    bank = np.bincount(pairs.b, pairs.volume_above, len(after))
    if before is not None:
        # the faces of `before` are the first of `after`, with the planes of the dig so far
        so_far = overlay(ground, before)
        bank -= np.bincount(so_far.b, so_far.volume_above, len(after))
    region = cut_region(ground, neighbours, after, pairs)
    shapely.prepare(region)
    drawn_whole = area >= areas(after) * (1 - WHOLE)
    for face in np.flatnonzero(area > 0).tolist():
        shape = shapely.Polygon(after.corners(face))
        if not drawn_whole[face]:
            shape = shapely.intersection(shape, region)
        polygons = _polygons(shape, LEAST * float(area[face]))
        if not polygons.is_empty:
            yield DugFace(
                label=int(after.label[face]),
                shape=polygons,
                plane=after.plane[face],
                area=float(area[face]),
                bank=float(bank[face]),
            )


def _polygons(shape: shapely.Geometry, least: float) -> shapely.MultiPolygon:
    """The polygons of a shape that are larger than `least`, outer rings counter-clockwise."""
    return shapely.MultiPolygon(
        [
            part
            for part in shapely.get_parts(shapely.orient_polygons(shape))
            if part.geom_type == "Polygon" and part.area > least
        ]
    )
