"""What a dig plan starts from: the design in whole ground, or a day's ground and its piles."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import shapely

from terrain.job.volumes import Worked
from terrain.surface.overlay import overlay, overlay_faces
from terrain.surface.patches import Surface, lifted, picked
from terrain.surface.rim import cut_region

DUG_FROM = {"ft": 0.5, "ftUS": 0.5, "m": 0.15}
"""Ground that lies this far below the existing counts as dug: no machine is stood on it. Common
practice, no source."""

SAME_PLACE = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Start:
    """The ground a plan starts from, in the local frame.

    Args:
        told: in words, "the design" or "the survey of DATE".
        ground: its faces.
        dug: what of the plan is dug already.
        already: loose volume in cubic length units that lies beside each wall, by name.
        topsoil: depth of topsoil that is still to be stripped.
    """

    told: str
    ground: Surface
    dug: shapely.Geometry
    already: Mapping[str, float] = field(default_factory=dict)
    topsoil: float = 0.0


def from_design(worked: Worked) -> Start:
    """The ground before the dig."""
    return Start(
        told="the design",
        ground=worked.existing.ground.surface,
        dug=shapely.Polygon(),
        topsoil=worked.job.dig.topsoil_strip,
    )


def from_survey(worked: Worked, date: str, ground: Surface, already: Mapping[str, float]) -> Start:
    """A day's ground, over all of the existing ground's plan, and the piles of that day.

    Its topsoil is taken to be stripped.
    """
    least = DUG_FROM[worked.job.unit.name]
    dug = region_above(lifted(worked.existing.ground.surface, -least), ground)
    return Start(told=f"the survey of {date}", ground=ground, dug=dug, already=already)


def to_dig(worked: Worked, start: Start) -> tuple[Surface, shapely.Geometry]:
    """The faces of the start's ground with anything to dig, and the plan of all there is."""
    if start.dug.is_empty:
        existing, whole = worked.existing, worked.figures.whole
        ground = existing.ground.surface
        cut = cut_region(ground, existing.tin.neighbours, worked.dig.surface, whole)
        return picked(ground, np.unique(whole.a[whole.area_above > 0])), cut
    pairs = overlay(start.ground, worked.dig.surface)
    near = picked(start.ground, np.unique(pairs.a[pairs.area_above > 0]))
    return near, region_above(near, worked.dig.surface)


def region_above(one: Surface, other: Surface) -> shapely.Geometry:
    """The plan where one surface is above another, to draw and to stand by."""
    parts = overlay_faces(one, other)
    above = np.flatnonzero((parts.side > 0) & (np.diff(parts.start) > 2))
    polygons = [
        shapely.Polygon(parts.ring[parts.start[k] : parts.start[k + 1]]).buffer(0) for k in above
    ]
    return shapely.union_all([p for p in polygons if p.area > 0], grid_size=SAME_PLACE)
