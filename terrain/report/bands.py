"""Bands of cut depth for the plan drawing: where each lies and the lines between them."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from contourpy import FillType, LineType, contour_generator
from scipy.ndimage import distance_transform_edt
from shapely import LineString, MultiPolygon, Polygon, polygonize, union_all

from terrain.base.arrays import BoolArray, FloatArray
from terrain.job.answer import CutGrid, Plan

MOST_BANDS = 6
STEPS = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0)
PADDING = 2

# Clay, from pale to dark: one hue, so lightness alone tells the depth to any eye or printer.
CLAY = ((247, 234, 214), (240, 212, 174), (229, 186, 134), (211, 156, 98), (186, 124, 69),
        (152, 92, 47))  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Bands:
    """Depth bands between neighbouring `levels`: rings and lines in the local frame.

    `rings[k]` fill the band from `levels[k]` down to `levels[k + 1]` (even-odd); `lines[k]` are
    where the cut is `levels[k + 1]` deep. `region` is the area of cut that they are shown in.
    """

    levels: FloatArray
    rings: tuple[tuple[FloatArray, ...], ...]
    lines: tuple[tuple[FloatArray, ...], ...]
    region: MultiPolygon


def depth_levels(deepest: float) -> FloatArray:
    """Round depths from 0 to past the deepest, at most `MOST_BANDS` apart; empty for no cut."""
    if not deepest > 0:
        return np.zeros(0)
    step = next((s for s in STEPS if deepest <= s * MOST_BANDS), deepest / MOST_BANDS)
    count = max(int(np.ceil(deepest / step - 1e-9)), 1)
    return step * np.arange(count + 1, dtype=np.float64)


def band_colours(count: int) -> list[str]:
    """One colour a band from pale to dark; a single band is in between."""
    places = np.array([2.0]) if count == 1 else np.linspace(0, len(CLAY) - 1, count)
    stops = np.arange(len(CLAY))
    mixed = [np.interp(places, stops, channel) for channel in zip(*CLAY, strict=True)]
    return ["#{:02x}{:02x}{:02x}".format(*map(round, each)) for each in zip(*mixed, strict=True)]


def depth_bands(plan: Plan) -> Bands:
    """The bands of the plan's cut grid, filled out to the daylight line."""
    depth = np.pad(plan.cut.depth, PADDING, constant_values=np.nan)
    cut = np.isfinite(depth)
    levels = depth_levels(float(depth[cut].max())) if cut.any() else np.zeros(0)
    if not len(levels):
        return Bands(levels=levels, rings=(), lines=(), region=MultiPolygon())
    rows, columns = depth.shape
    easting = plan.cut.easting + (np.arange(columns) - PADDING + 0.5) * plan.cut.cell
    northing = plan.cut.northing + (np.arange(rows) - PADDING + 0.5) * plan.cut.cell
    contours = contour_generator(
        easting,
        northing,
        _filled_out(depth, cut),
        fill_type=FillType.OuterOffset,
        line_type=LineType.Separate,
    )
    edges = np.concatenate([[-levels[1]], levels[1:-1], [2 * levels[-1]]])
    rings = tuple(
        tuple(
            points[start:end]
            for points, offsets in zip(*contours.filled(low, high), strict=True)
            for start, end in pairwise(offsets)
        )
        for low, high in pairwise(edges)
    )
    lines = tuple(
        tuple(np.asarray(line, dtype=np.float64) for line in contours.lines(level))
        for level in levels[1:-1]
    )
    return Bands(levels=levels, rings=rings, lines=lines, region=cut_region(plan))


def cut_region(plan: Plan) -> MultiPolygon:
    """The areas between the plan's lines in which the grid has a cut, or all its cut cells.

    The dig line and the pits bound the cut too where a vertical side meets the ground.
    """
    drawn = (*plan.daylight, *plan.dig_line, *(r for e in plan.extras for r in e.rings))
    lines = [LineString(line) for line in drawn if len(line) > 1]
    areas = polygonize([union_all(lines)]).geoms if lines else []
    kept = [area for area in areas if _has_cut(plan.cut, area)]
    merged = union_all(kept) if kept else _cells(plan.cut)
    return MultiPolygon([merged]) if isinstance(merged, Polygon) else MultiPolygon(merged)


def _has_cut(grid: CutGrid, area: Polygon) -> bool:
    point = area.representative_point()
    column = int((point.x - grid.easting) // grid.cell)
    row = int((point.y - grid.northing) // grid.cell)
    rows, columns = grid.depth.shape
    inside = 0 <= row < rows and 0 <= column < columns
    return inside and bool(np.isfinite(grid.depth[row, column]))


def _cells(grid: CutGrid) -> MultiPolygon | Polygon:
    """The union of the cells that have a cut, run by run along the rows."""
    strips = []
    for row, cut in enumerate(np.isfinite(grid.depth)):
        turns = np.flatnonzero(np.diff(np.concatenate([[False], cut, [False]])))
        south = grid.northing + row * grid.cell
        for first, last in turns.reshape(-1, 2):
            west, east = grid.easting + np.array([first, last]) * grid.cell
            ring = [(west, south), (east, south), (east, south + grid.cell)]
            strips.append(Polygon([*ring, (west, south + grid.cell)]))
    return union_all(strips)


def _filled_out(depth: FloatArray, cut: BoolArray) -> FloatArray:
    """The depth, with that of the nearest cut cell where nothing is cut.

    The drawing shows bands only within the daylight line; filled out they reach it even where a
    side is vertical and the depth ends in a step.
    """
    nearest = distance_transform_edt(~cut, return_distances=False, return_indices=True)
    filled: FloatArray = depth[tuple(nearest)]
    return filled
