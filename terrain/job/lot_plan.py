"""What the plan of the finished lot shows, in the local frame: a record, and how it is made."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely

from terrain.base.arrays import FloatArray
from terrain.base.frame import LocalFrame
from terrain.job.graded import Graded
from terrain.job.lot_areas import ChangedArea
from terrain.job.lot_layers import LotLayers
from terrain.job.lot_spots import Arrow, Change, arrows_of, changes_of
from terrain.lot.design import LotDesign
from terrain.lot.grids import lot_area
from terrain.lot.jumps import Jump
from terrain.surface.contours import INDEX_EVERY, Contours
from terrain.surface.strips import strip_pieces

SAME_HEIGHT = 1e-7
"""Elevations so near in length units are one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ContourLine:
    """A line (m, 2) of one elevation, higher ground on its left; `is_index` every fifth level."""

    upward: float
    is_index: bool
    line: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Grade:
    """The elevation of finished ground at a corner of the house."""

    place: FloatArray
    upward: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LotPlan:
    """The lines, areas and figures of the plan of a lot, all in the local frame `frame`.

    Args:
        design: lot line, house, pads, swales and areas kept.
        foundation: (n, 2) outside faces, with the names of its `walls`.
        dig_line: (m, 2) at the floor of the dig.
        swale_areas: the bottoms of each swale, ring by ring.
        interval: height from one contour to the next.
        before, after: contours of existing and finished ground over the lot outside the house.
        areas: what is cut and filled, by cause, an index into `causes`.
        untied: vertical faces that are left.
        grades: finished ground at the corners of the house.
        changes: finished less existing ground at spots, those that tell most first.
        arrows: which way finished ground falls.
    """

    frame: LocalFrame
    design: LotDesign
    foundation: FloatArray
    walls: tuple[str, ...]
    dig_line: FloatArray
    swale_areas: tuple[tuple[FloatArray, ...], ...]
    interval: float
    before: tuple[ContourLine, ...]
    after: tuple[ContourLine, ...]
    areas: tuple[ChangedArea, ...]
    causes: tuple[str, ...]
    untied: tuple[Jump, ...]
    grades: tuple[Grade, ...]
    changes: tuple[Change, ...]
    arrows: tuple[Arrow, ...]

    def place(self, spot: tuple[float, float]) -> FloatArray:
        """A spot on the site in the local frame."""
        return self.frame.to_local(np.array(spot))


def lot_plan_of(graded: Graded, layers: LotLayers) -> LotPlan:
    """The plan of a graded lot; `layers` are what else is drawn of it."""
    worked, design = graded.worked, graded.lot.design
    region = lot_area(graded.lot)
    ground, finished = worked.existing.ground.surface, layers.faces.whole
    return LotPlan(
        frame=layers.frame,
        design=design,
        foundation=worked.layout.design.corners,
        walls=tuple(wall.name for wall in worked.layout.design.walls),
        dig_line=worked.dig.line.ring.corners,
        swale_areas=tuple(tuple(strip_pieces(s.line, s.width)) for s in design.swales),
        interval=layers.before.interval,
        before=tuple(_lines(layers.before, region)),
        after=tuple(_lines(layers.after, region)),
        areas=layers.areas,
        causes=layers.causes,
        untied=graded.untied,
        grades=tuple(_grades(design)),
        changes=changes_of(ground, finished, design.boundary),
        arrows=arrows_of(finished, design.boundary),
    )


def _lines(drawn: Contours, region: shapely.Geometry) -> Iterator[ContourLine]:
    """The contours over a region."""
    shapely.prepare(region)
    for k in range(len(drawn)):
        if len(drawn.line(k)) < 2:
            continue
        held = shapely.intersection(shapely.LineString(drawn.line(k)), region)
        for line in shapely.get_parts(held):
            if line.geom_type == "LineString":
                yield ContourLine(
                    upward=float(drawn.upward[k]),
                    is_index=int(drawn.step[k]) % INDEX_EVERY == 0,
                    line=shapely.get_coordinates(line),
                )


def _grades(design: LotDesign) -> Iterator[Grade]:
    """Finished ground at each corner, twice where it steps there."""
    corners, grades = design.house, design.apron.grades
    for i in range(len(corners)):
        before, after = float(grades[i - 1, 1]), float(grades[i, 0])
        yield Grade(place=corners[i], upward=after)
        if abs(before - after) > SAME_HEIGHT:
            yield Grade(place=corners[i], upward=before)
