"""Where a finished lot is cut and filled, and for what: areas to draw with exact figures."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np
import shapely

from terrain.lot.ground import FinishedGround, outline_of
from terrain.surface.overlay import overlay
from terrain.surface.patches import Surface, picked

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


def changed_areas(ground: Surface, finished: FinishedGround) -> tuple[ChangedArea, ...]:
    """Where the ground is cut, then where it is filled, cause by cause."""
    return (*_of_kind(ground, finished.cut, "cut"), *_of_kind(ground, finished.filled, "fill"))


def _of_kind(ground: Surface, surface: Surface, kind: Kind) -> Iterator[ChangedArea]:
    for cause in np.unique(surface.label).tolist():
        own = picked(surface, np.flatnonzero(surface.label == cause))
        pairs = overlay(ground, own) if kind == "cut" else overlay(own, ground)
        depth = float(pairs.depth_above.max(initial=0.0))
        if depth <= UNSEEN:
            continue
        parts = shapely.get_parts(outline_of(own))
        yield ChangedArea(
            kind=kind,
            cause=cause,
            shape=shapely.MultiPolygon([p for p in parts if p.geom_type == "Polygon"]),
            area=float(pairs.area_above.sum()),
            volume=float(pairs.volume_above.sum()),
            depth=depth,
        )
