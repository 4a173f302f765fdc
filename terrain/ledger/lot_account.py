"""Earth out and earth needed by wall, from ground, dig and finished lot: sums of overlays only.

Every figure is the earth between the ground and one surface of the design, or a difference of two
such. With finished ground held between `lower` and `upper`, the lower of ground and finished ground
is the lower of ground and `upper`, and the higher of both the higher of ground and `lower`.
"""

from dataclasses import dataclass

import numpy as np
import shapely

from terrain.base.arrays import FloatArray, IntArray
from terrain.base.errors import SurfaceError
from terrain.ledger.account import Ground
from terrain.lot.finish import Finished
from terrain.lot.structure import Structure, Top, footing_top, stone_top
from terrain.pit.dig import Dig
from terrain.surface.minimum import highest_of, lowest_of, shared_out, within
from terrain.surface.outline import ring_area
from terrain.surface.overlay import overlay
from terrain.surface.patches import Surface
from terrain.surface.shares import core_faces

CLOSES_WITHIN = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Sides:
    """Which side of the house owns what: the row of each house wall and each foundation wall."""

    names: tuple[str, ...]
    of_house: tuple[int, ...]
    of_foundation: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LotAccount:
    """Figures (rows,) by side of the house, in cubic and square length units.

    Args:
        earth_out: existing less the lower of dig and finished ground, in bank, counted once.
        backfill: from the dig up to the lower of existing and finished ground, less footing and
            stone, in place.
        stone: drain stone outside the walls.
        footing: of the footing, what stands out into the backfill.
        grade_fill: finished ground above existing ground, over the hole too.
        cut: existing ground above finished ground.
        area_out: plan area where earth is taken out.
        area_core: of it, inside the foundation.
        area_cut: of it, outside the dig: cut to finished ground only.
        area_fill: plan area that is only filled.
        area_slab: plan area of house that is not pit.
    """

    earth_out: FloatArray
    backfill: FloatArray
    stone: FloatArray
    footing: FloatArray
    grade_fill: FloatArray
    cut: FloatArray
    area_out: FloatArray
    area_core: FloatArray
    area_cut: FloatArray
    area_fill: FloatArray
    area_slab: FloatArray


def lot_account(
    ground: Ground, dig: Dig, lot: Finished, structure: Structure, sides: Sides
) -> LotAccount:
    """The earth that the dig and the finished lot take out and need, by side of the house.

    Raises:
        SurfaceError: cut, fill and backfill do not make the change from existing to finished
            ground, which is a fault of ours.
    """
    sums = _Sums(ground=ground.surface, lot=lot, sides=sides)
    inside, house = shapely.Polygon(structure.corners), lot.design.house
    outside = dig.covered.difference(inside)
    dug = within(dig.surface, outside)
    removed = lowest_of(dug, lot.upper, outside, lot.region).lowest
    out, area_out = sums.above(removed)
    core, area_core = sums.above_core(within(dig.surface, inside), core_faces(structure.corners))
    over, area_over = sums.above(_over(dug, lot.upper, (outside, lot.region)))
    gross = sums.above(dug)[0] - over
    footing = sums.under(dug, outside, footing_top(structure))
    stone = np.maximum(sums.under(dug, outside, stone_top(structure)), footing) - footing
    cut, area_cut = sums.above(lot.upper)
    fill = sums.below(lot.lower)[0]
    filled = lowest_of(lot.lower, dug, lot.region, outside.intersection(lot.region)).lowest
    _check_closed(out - gross, cut, out.sum() + gross.sum() + fill.sum())
    return LotAccount(
        earth_out=out + core,
        backfill=gross - footing - stone,
        stone=stone,
        footing=footing,
        grade_fill=fill,
        cut=cut,
        area_out=area_out + area_core,
        area_core=area_core,
        area_cut=area_cut - area_over,
        area_fill=sums.below(within(filled, lot.region))[1],
        area_slab=sums.area(core_faces(house), shapely.Polygon(house).difference(inside)),
    )


def _over(
    dug: Surface, upper: Surface, grounds: tuple[shapely.Geometry, shapely.Geometry]
) -> Surface:
    """The higher of dig and upper limit, where there are both."""
    return within(highest_of(dug, upper, *grounds), grounds[0].intersection(grounds[1]))


def _check_closed(taken: FloatArray, cut: FloatArray, gross: float) -> None:
    """Earth out less what goes back must be what finished ground lies below the existing."""
    apart = float(np.abs(taken - cut).max())
    if apart > CLOSES_WITHIN * gross:
        raise SurfaceError(
            f"cut and backfill are {apart:.3g} cubic units apart from the change of the ground; "
            "please report this job"
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sums:
    """Sums by side of the house between the ground and surfaces of the design."""

    ground: Surface
    lot: Finished
    sides: Sides

    def above(self, surface: Surface) -> tuple[FloatArray, FloatArray]:
        """Volume and area of the ground above a surface outside the foundation."""
        shared = shared_out(surface, self.lot.owners)
        row = np.array(self.sides.of_house)[shared.label]
        pairs = overlay(self.ground, shared)
        return self._by(row[pairs.b], pairs.volume_above), self._by(row[pairs.b], pairs.area_above)

    def below(self, surface: Surface) -> tuple[FloatArray, FloatArray]:
        """Volume and area of the ground below a surface outside the foundation."""
        shared = shared_out(surface, self.lot.owners)
        row = np.array(self.sides.of_house)[shared.label]
        pairs = overlay(self.ground, shared)
        return self._by(row[pairs.b], pairs.volume_below), self._by(row[pairs.b], pairs.area_below)

    def above_core(self, surface: Surface, core: Surface) -> tuple[FloatArray, FloatArray]:
        """Volume and area of the ground above a surface inside the foundation."""
        shared = shared_out(surface, core)
        row = np.array(self.sides.of_foundation)[shared.label]
        pairs = overlay(self.ground, shared)
        return self._by(row[pairs.b], pairs.volume_above), self._by(row[pairs.b], pairs.area_above)

    def under(self, dug: Surface, outside: shapely.Geometry, top: Top | None) -> FloatArray:
        """Volume in the dig up to a top, but not above the ground, existing or finished."""
        if top is None:
            return np.zeros(len(self.sides.names))
        band = top.covered.intersection(outside)
        held = lowest_of(top.surface, self.lot.upper, top.covered, self.lot.region).lowest
        own = within(dug, band)
        filled = within(highest_of(own, within(held, band), band, band), band)
        return self.above(own)[0] - self.above(filled)[0]

    def area(self, faces: Surface, region: shapely.Geometry) -> FloatArray:
        """Plan area of faces labelled by house wall, as far as they lie in a region."""
        held = within(faces, region)
        areas = [ring_area(held.corners(face)) for face in range(len(held))]
        return self._by(np.array(self.sides.of_house)[held.label], np.array(areas))

    def _by(self, row: IntArray, values: FloatArray) -> FloatArray:
        return np.asarray(np.bincount(row, values, len(self.sides.names)), dtype=np.float64)
