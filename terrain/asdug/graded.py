"""The lot as graded, from shots: its ground, and how far it is from the finished surface asked for.

Errors are as graded less finished: high positive. The ground ends at the house: triangles between
shots on two sides of it are no ground.
"""

from dataclasses import dataclass, replace

import numpy as np
import shapely

from terrain.base.arrays import FloatArray, IntArray
from terrain.ledger.doubt import NSSDA_95, Doubt, Terms, doubt_of
from terrain.ledger.ground import Ground
from terrain.ledger.hats import hats_between
from terrain.ledger.weights import Weights, weights_of
from terrain.lot.finish import Finished
from terrain.lot.ground import finished_ground
from terrain.surface.minimum import shared_out
from terrain.surface.overlay import overlay
from terrain.surface.patches import Surface, labelled, lifted
from terrain.surface.segments import segments_over
from terrain.surface.tin import Tin
from terrain.surface.triangulate import keep_triangles

THIN_CUT = 0.4
"""What noise of one standard deviation s makes above a surface that is right, as a share of s times
area: the mean of the positive part of a normal error, 1 / sqrt(2 pi)."""

DEEPEST, BARELY = 0.5, 0.1
"""Shares of what counts as at the wall: no triangle reaches so deep into the house; a side that
reaches no deeper than the second only leans on a shot that stands a little on the wrong side."""

BESIDE = 1e-6
"""Length units by which a shot is looked at sideways to find the face under it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SideCheck:
    """One side of the house against the finished surface, in length, square and cubic units.

    Args:
        area: that is both surveyed and the side's.
        area_within: of it, no further off than the tolerance.
        high: all earth above the finished surface, `low` all that lacks below it.
        to_trim: of `high`, where it is off by more than the tolerance; `to_fill` likewise of `low`.
        net: high less low; noise of the shots leaves it true, but not high and low: each of these
            gains about `thin_cut` from it on ground that is right.
        doubt: of the net, from the shots of the graded ground.
    """

    area: float
    area_within: float
    high: float
    low: float
    to_trim: float
    to_fill: float
    net: float
    thin_cut: float | None
    doubt: Doubt


@dataclass(frozen=True, slots=True, kw_only=True)
class ShotErrors:
    """Shots (k, 3) against the finished surface, their errors (k,) and what they come to.

    `mean` and `deviation` (of k - 1) and `rmse` are in length units; `at_95` is 1.96 RMSE, as NSSDA
    reckons it.
    """

    shot: FloatArray
    error: FloatArray
    mean: float
    deviation: float
    rmse: float
    at_95: float


@dataclass(frozen=True, slots=True, kw_only=True)
class GradeCheck:
    """A graded lot against the finished surface: each wall's side in order, all, the shots."""

    sides: tuple[SideCheck, ...]
    whole: SideCheck
    shots: ShotErrors


def round_house(tin: Tin, house: FloatArray, near: float) -> Tin:
    """The ground as graded: a TIN without the triangles that run through the house.

    Shots at the wall may stand a little on its wrong side, and across a corner of the house a side
    may run between two of them; but no side runs through it between shots that are not at it.

    Args:
        tin: through all shots as graded.
        house: (m, 2), the ring that the ground goes round.
        near: how far from the wall a shot may be and still be at it, in length units.
    """
    outline, plan = shapely.Polygon(house), tin.points[:, :2]
    deep, inside = (
        outline.buffer(-share * near, join_style="mitre") for share in (DEEPEST, BARELY)
    )
    shapely.prepare(deep)
    through = shapely.intersects(deep, shapely.polygons(plan[tin.triangles]))
    is_far = shapely.distance(outline, shapely.points(plan)) > near
    for k in range(3):
        ends = tin.triangles[:, [k, (k + 1) % 3]]
        far = np.flatnonzero(is_far[ends].any(axis=1) & ~through)
        crossing = shapely.intersects(inside, shapely.linestrings(plan[ends[far]]))
        through[far[crossing]] = True
    return keep_triangles(tin, ~through)


def check_grade(graded: Ground, finished: Surface, count: int, tolerance: float) -> GradeCheck:
    """The graded ground against the finished surface, over what is surveyed of the lot.

    Args:
        graded: as graded.
        finished: the finished surface asked for, labelled by side, from 0.
        count: how many sides there are.
        tolerance: how far off the ground may be, in length units.
    """
    return GradeCheck(
        sides=_sides(graded, finished, count, tolerance),
        whole=_sides(graded, _one_label(finished), 1, tolerance)[0],
        shots=shot_errors(graded, finished),
    )


def finished_by_side(ground: Surface, lot: Finished, side_of_wall: IntArray) -> Surface:
    """The finished surface of a lot outside the house, labelled by side.

    `ground` is the existing ground, which it is where nothing changes; `side_of_wall` (n,) gives
    the side of each wall of the house.
    """
    shared = shared_out(finished_ground(ground, lot).whole, lot.owners)
    return labelled(shared, side_of_wall[shared.label])


def _one_label(surface: Surface) -> Surface:
    return labelled(surface, np.zeros_like(surface.label))


def _sides(
    graded: Ground, finished: Surface, count: int, tolerance: float
) -> tuple[SideCheck, ...]:
    """The check by label of the finished surface."""
    pairs = overlay(graded.surface, finished)
    over = overlay(graded.surface, lifted(finished, tolerance))
    under = overlay(graded.surface, lifted(finished, -tolerance))

    def by_side(parent: IntArray, amount: FloatArray) -> FloatArray:
        return np.bincount(finished.label[parent], amount, count).astype(np.float64)

    area = by_side(pairs.b, pairs.area)
    high, low = by_side(pairs.b, pairs.volume_above), by_side(pairs.b, pairs.volume_below)
    area_over, area_under = by_side(over.b, over.area_above), by_side(under.b, under.area_below)
    trim = by_side(over.b, over.volume_above) + tolerance * area_over
    fill = by_side(under.b, under.volume_below) + tolerance * area_under
    weights = area_weights(graded, finished)
    terms = Terms(errors=graded.errors, plan=graded.points[:, :2])
    scatter = graded.errors.accuracy
    return tuple(
        SideCheck(
            area=float(area[k]),
            area_within=float(area[k] - area_over[k] - area_under[k]),
            high=float(high[k]),
            low=float(low[k]),
            to_trim=float(trim[k]),
            to_fill=float(fill[k]),
            net=float(high[k] - low[k]),
            thin_cut=None if scatter is None else THIN_CUT * scatter * float(area[k]),
            doubt=doubt_of(weights.get(k, Weights.nothing()), terms),
        )
        for k in range(count)
    )


def area_weights(ground: Ground, over: Surface) -> dict[int, Weights]:
    """What each shot of a ground weighs in its net volume over every label of a surface."""
    level = replace(ground, surface=_level(ground.surface, 1.0))
    return weights_of(hats_between(level, _level(over, 0.0), "above"))


def _level(surface: Surface, height: float) -> Surface:
    """The same faces, all at one height: what is above the other is all that both cover."""
    plane = surface.plane.copy()
    plane[:, 2], plane[:, 3:] = height, 0.0
    return surface.with_plane(plane)


def shot_errors(graded: Ground, finished: Surface) -> ShotErrors:
    """Shots less the finished surface under them; those beside it are left out.

    At a jump of the finished surface a shot is held against the nearer height.
    """
    error = heights_above(graded.points, finished)
    shot = np.flatnonzero(~np.isnan(error))
    known = error[shot]
    mean = float(known.mean()) if len(known) else 0.0
    rmse = float(np.sqrt(np.mean(known**2))) if len(known) else 0.0
    return ShotErrors(
        shot=graded.points[shot],
        error=known,
        mean=mean,
        deviation=float(known.std(ddof=1)) if len(known) > 1 else 0.0,
        rmse=rmse,
        at_95=NSSDA_95 * rmse,
    )


def heights_above(points: FloatArray, surface: Surface) -> FloatArray:
    """How far (n,) points (n, 3) are above a surface, the nearer way at a jump; NaN beside it."""
    every = [points + np.array([BESIDE * e, BESIDE * n, 0.0])
             for e, n in ((1, 0), (-1, 0), (0, 1), (0, -1))]  # fmt: skip
    found = np.full(len(points), np.nan)
    for there in every:
        pieces = segments_over(surface, np.stack([points, there], axis=1))
        first = np.flatnonzero(pieces.start == 0.0)
        first = first[np.argsort(-np.abs(pieces.depth_start[first]))]  # the nearest is put last
        own, depth = pieces.segment[first], pieces.depth_start[first]
        nearer = ~(np.abs(found[own]) <= np.abs(depth))
        found[own[nearer]] = depth[nearer]
    return found
