"""Earth out and earth needed by wall, from ground, dig and finished lot: sums of overlays only.

Every figure is the earth between the ground and one surface of the design, or a difference of two
such. With finished ground held between `lower` and `upper`, the lower of ground and finished ground
is the lower of ground and `upper`, and the higher of both the higher of ground and `lower`.
"""

from dataclasses import dataclass

import numpy as np

from terrain.base.arrays import FloatArray
from terrain.base.errors import SurfaceError
from terrain.ledger.account import Ground
from terrain.ledger.lot_dug import Dug, Sides, dug_of, volume_and_area
from terrain.lot.finish import Finished
from terrain.lot.structure import Structure, Top, footing_top, stone_top
from terrain.pit.dig import Dig
from terrain.surface.minimum import highest_of, lowest_of, within
from terrain.surface.patches import Surface
from terrain.surface.screen import screen_of, screened

CLOSES_WITHIN = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class LotAccount:
    """Figures (rows,) by side of the house, in cubic and square length units.

    Args:
        earth_out: existing less the lower of dig and finished ground, in bank, counted once.
        backfill: from the dig up to the lower of existing and finished ground, less footing and
            stone, in place. Under house that is not pit, up to existing ground.
        stone: drain stone outside the walls.
        footing: of the footing, what stands out into the backfill.
        wall: of the foundation wall itself.
        grade_fill: finished ground above existing ground, over the hole too.
        cut: existing ground above finished ground.
        area_out: plan area where earth is taken out.
        area_core: of it, inside the foundation.
        area_house: of it, under house that is not pit.
        area_cut: of it, outside the dig: cut to finished ground only.
        area_fill: plan area that is only filled.
        area_slab: plan area of house that is not pit.
    """

    earth_out: FloatArray
    backfill: FloatArray
    stone: FloatArray
    footing: FloatArray
    wall: FloatArray
    grade_fill: FloatArray
    cut: FloatArray
    area_out: FloatArray
    area_core: FloatArray
    area_house: FloatArray
    area_cut: FloatArray
    area_fill: FloatArray
    area_slab: FloatArray


def lot_account(
    ground: Ground, dig: Dig, lot: Finished, structure: Structure, sides: Sides
) -> LotAccount:
    """The earth that the dig and the finished lot take out and need, by side of the house.

    Raises:
        SurfaceError: earth out is not what dig, cut and backfill make it, or does not lie where
            they do, which is a fault of ours.
    """
    dug = dug_of(screen_of(ground.surface), dig, lot, structure, sides)
    account = account_of(dug, lot)
    check_closed(dug, lot, account)
    return account


def account_of(dug: Dug, lot: Finished) -> LotAccount:
    """The account of a finished lot round a dig that is known already.

    The house must be that of the dug one; its grades, pads, swales and areas kept are free.
    """
    cut, area_cut = volume_and_area(
        screened(dug.screen, lot.upper, "above"), dug.rows(lot.upper), "above"
    )
    fill, area_below = volume_and_area(
        screened(dug.screen, lot.lower, "below"), dug.rows(lot.lower), "below"
    )
    over, area_over = dug.in_hole(over_in_hole(dug, lot), "above")
    gross = dug.out - over
    footing = _under(dug, lot, footing_top(dug.structure))
    stone = np.maximum(_under(dug, lot, stone_top(dug.structure)), footing) - footing
    return LotAccount(
        earth_out=gross + cut + dug.core,
        backfill=gross - footing - stone,
        stone=stone,
        footing=footing,
        wall=np.bincount(
            dug.sides.of_foundation, dug.structure.wall_volumes, len(dug.sides.names)
        ).astype(np.float64),
        grade_fill=fill,
        cut=cut,
        area_out=dug.area_out + area_cut - area_over + dug.area_core,
        area_core=dug.area_core,
        area_house=dug.area_house,
        area_cut=area_cut - area_over,
        area_fill=area_below - _area_filled_in_hole(dug, lot),
        area_slab=dug.area_slab,
    )


def over_in_hole(dug: Dug, lot: Finished) -> Surface:
    """The higher of dig and upper limit, where there are both."""
    shared = dug.outside.intersection(lot.region)
    return within(highest_of(dug.surface, lot.upper, dug.outside, lot.region), shared)


def _area_filled_in_hole(dug: Dug, lot: Finished) -> FloatArray:
    """The area where ground is dug and ends up higher than it was."""
    shared = dug.outside.intersection(lot.region)
    lower, surface = within(lot.lower, shared), within(dug.surface, shared)
    neither = within(lowest_of(lower, surface, shared, shared).lowest, shared)
    return dug.in_hole(lower, "below")[1] - dug.in_hole(neither, "below")[1]


def _under(dug: Dug, lot: Finished, top: Top | None) -> FloatArray:
    """Volume in the dig up to a top, but not above the ground, existing or finished."""
    if top is None:
        return np.zeros(len(dug.sides.names))
    own, filled = surfaces_under(dug, lot, top)
    return dug.in_hole(own, "above")[0] - dug.in_hole(filled, "above")[0]


def surfaces_under(dug: Dug, lot: Finished, top: Top) -> tuple[Surface, Surface]:
    """The dig where a top covers it, and the same filled up to the top."""
    band = top.covered.intersection(dug.outside)
    held = lowest_of(top.surface, lot.upper, top.covered, lot.region).lowest
    own = within(dug.surface, band)
    return own, within(highest_of(own, within(held, band), band, band), band)


def check_closed(dug: Dug, lot: Finished, account: LotAccount) -> None:
    """Hold earth out against one overlay of the ground with the lower of dig and finished ground.

    Earth out less backfill, stone and footing is then the cut from existing to finished ground, so
    that with the fill it makes the whole change of the lot.

    Raises:
        SurfaceError: they differ, which is a fault of ours.
    """
    removed = lowest_of(dug.surface, lot.upper, dug.outside, lot.region).lowest
    out, area = volume_and_area(screened(dug.screen, removed, "above"), dug.rows(removed), "above")
    gross = float(account.earth_out.sum() + account.backfill.sum() + account.grade_fill.sum())
    apart = float(np.abs(out + dug.core - account.earth_out).max())
    apart = max(apart, abs(float(area.sum() + (dug.area_core - account.area_out).sum())))
    if apart > CLOSES_WITHIN * (gross + float(account.area_out.sum())):
        raise SurfaceError(
            f"earth out and backfill are {apart:.3g} units apart from the change of the ground; "
            "please report this job"
        )
