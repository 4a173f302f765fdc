"""Where a finished lot is cut and filled, and for what: areas to draw with exact figures."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np
import shapely

from terrain.base.arrays import IntArray
from terrain.lot.finish import Finished
from terrain.lot.ground import FinishedGround, outline_of
from terrain.surface.overlay import overlay
from terrain.surface.patches import Surface, flipped, picked
from terrain.surface.rim import cut_region

Kind: TypeAlias = Literal["cut", "fill"]

UNSEEN = 1e-6
"""A part that is changed by no more than this, in length units, is drawn as unchanged."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangedArea:
    """Ground cut or filled for one cause, an index into the causes of the finished lot.

    `shape` is in plan, to be drawn; `area`, `volume` and the greatest depth are exact, in length
    units.
    """

    kind: Kind
    cause: int
    shape: shapely.MultiPolygon
    area: float
    volume: float
    depth: float


def changed_areas(
    ground: Surface, neighbours: IntArray, lot: Finished, finished: FinishedGround
) -> tuple[ChangedArea, ...]:
    """Where the ground is cut, then where it is filled, cause by cause.

    Args:
        ground: the existing ground, a face a triangle.
        neighbours: (n, 3) of its triangles, -1 at the edge.
        lot: the limits that it is held between.
        finished: the faces that this makes.
    """
    return (
        *_of_kind("cut", (ground, neighbours), lot.upper, finished.cut),
        *_of_kind("fill", (flipped(ground), neighbours), flipped(lot.lower),
                  flipped(finished.filled)),
    )  # fmt: skip


def _of_kind(
    kind: Kind, above: tuple[Surface, IntArray], limit: Surface, changed: Surface
) -> Iterator[ChangedArea]:
    """The areas where a ground, `above` with its neighbours, is cut down to a limit."""
    ground, neighbours = above
    region = cut_region(ground, neighbours, limit, overlay(ground, limit))
    shapely.prepare(region)
    for cause in np.unique(changed.label).tolist():
        own = picked(changed, np.flatnonzero(changed.label == cause))
        pairs = overlay(ground, own)
        depth = float(pairs.depth_above.max(initial=0.0))
        if depth <= UNSEEN:
            continue
        reach = outline_of(picked(limit, np.flatnonzero(limit.label == cause)))
        parts = shapely.get_parts(shapely.intersection(reach, region))
        yield ChangedArea(
            kind=kind,
            cause=cause,
            shape=shapely.MultiPolygon([p for p in parts if p.geom_type == "Polygon"]),
            area=float(pairs.area_above.sum()),
            volume=float(pairs.volume_above.sum()),
            depth=depth,
        )
