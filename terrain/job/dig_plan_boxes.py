"""Ground told as few boxes along an axis and square to it."""

from itertools import combinations, pairwise
from typing import TypeAlias

import numpy as np
import shapely

from terrain.base.arrays import FloatArray
from terrain.job.dig_plan_record import DigPlan

TOUCH, NEXT, THIN = 1e-3, 0.1, 0.08
"""Length units within which ground is one; and shares of a bucket's width under which two measures
along the axis are one, and a spur of a piece is not measured."""

BOXES, SQUARE, GAIN = 4, 0.85, 0.03
"""Boxes that a piece is told in at most, the last only if it is whole with it; the share of them it
must fill to be whole, and how much better one more must fill."""

SHORT = 0.25
"""Bucket widths that a box is long at least, if it is not the only one: less reads as nothing."""

AT_PAINT = 0.5
"""Share of a box's length along the edge of the cut from which it reaches to the paint."""

Box: TypeAlias = tuple[float, float, float, float]
"""From where to where along the first axis and across it: low, outer, high, inner."""


def turned_to(
    plan: DigPlan, part: shapely.Polygon, axes: tuple[FloatArray, FloatArray, FloatArray]
) -> tuple[shapely.Geometry, shapely.Geometry, shapely.Geometry]:
    """A piece without spurs as seen along axes, a point and two ways square to each other; what of
    its outline is the edge of the cut; and the cut.
    """
    start, along, across = axes

    def turned(points: FloatArray) -> FloatArray:
        off = points - start
        return np.column_stack([off @ along, off @ across])

    own = _without_spurs(shapely.transform(part, turned), THIN * plan.machine.bucket_width / 2)
    cut = shapely.transform(plan.site.daylight, turned)
    paint = cut.boundary.buffer(10 * TOUCH)
    return own, own.boundary.intersection(paint), cut


def boxes_of(own: shapely.Geometry, width: float) -> tuple[list[Box], float]:
    """The fewest boxes across that a piece nearly fills, in order, and the share it does; `width`
    is a bucket's.
    """
    cuts = _cuts(own, NEXT * width)
    slices = [_slice(own, *ends, NEXT * width) for ends in pairwise(cuts)]
    best: tuple[float, tuple[int, ...]] = (0.0, ())
    for count in range(min(BOXES, len(slices))):
        found = max(
            (
                _filled(slices, inner)
                for inner in combinations(range(1, len(slices)), count)
                if not count or min(np.diff([cuts[k] for k in (0, *inner, -1)])) >= SHORT * width
            ),
            default=best,
        )
        if count == BOXES - 1 and found[0] < SQUARE:
            break
        best = found if found[0] > best[0] + GAIN else best
        if best[0] >= SQUARE:
            break
    boxes = []
    for first, last in pairwise([0, *best[1], len(slices)]):
        bounds = np.array([each.bounds for each in slices[first:last] if not each.is_empty])
        low, high = float(bounds[:, 1].min()), float(bounds[:, 3].max())
        boxes.append((cuts[first], low, cuts[last], high))
    return boxes, best[0]


def runs_along(edge: shapely.Geometry, ends: tuple[float, float]) -> bool:
    """Whether an edge runs along most of a stretch of the first axis."""
    low, high = ends
    if edge.is_empty:
        return False
    _, bottom, _, top = edge.bounds
    run = _run(edge.intersection(shapely.box(low, bottom - 1, high, top + 1)))
    return run >= AT_PAINT * (high - low)


def _without_spurs(own: shapely.Polygon, half: float) -> shapely.Geometry:
    """A piece without what is narrower than twice `half`; itself if that is all of it."""
    opened = own.buffer(-half, join_style="mitre").buffer(half, join_style="mitre")
    return own if opened.is_empty else opened


def _run(lines: shapely.Geometry) -> float:
    """How far lines run along the first axis in all."""
    runs = [
        float(np.abs(np.diff(shapely.get_coordinates(line)[:, 0])).sum())
        for line in shapely.get_parts(lines)
    ]
    return sum(runs)


def _cuts(own: shapely.Geometry, least: float) -> list[float]:
    """Where along the first axis a piece has corners, ends with them."""
    found = sorted(shapely.get_coordinates(own)[:, 0].tolist())
    cuts = [found[0]]
    for value in found:
        if value - cuts[-1] > least and found[-1] - value > least:
            cuts.append(value)
    return [*cuts, found[-1]]


def _across(own: shapely.Geometry, low: float, high: float) -> shapely.Polygon:
    _, outer, _, inner = own.bounds
    return shapely.box(low, outer - 1, high, inner + 1)


def _slice(own: shapely.Geometry, low: float, high: float, least: float) -> shapely.Geometry:
    """A piece between two cuts, without corners so near a cut that they made none of their own."""
    return own.intersection(_across(own, low + 0.9 * least, high - 3 * TOUCH))


def _filled(
    slices: list[shapely.Geometry], inner: tuple[int, ...]
) -> tuple[float, tuple[int, ...]]:
    """Which share of its boxes a piece fills that is cut at some of its corners."""
    ends = [0, *inner, len(slices)]
    taken = had = 0.0
    for first, last in pairwise(ends):
        bounds = np.array([one.bounds for one in slices[first:last] if not one.is_empty])
        wide = bounds[:, 2] - bounds[:, 0]
        taken += float(wide.sum() * (bounds[:, 3].max() - bounds[:, 1].min()))
        had += sum(float(one.area) for one in slices[first:last])
    return had / max(taken, TOUCH), inner
