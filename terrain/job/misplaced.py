"""Pads and swales that lie where the lot may not change: told, since they do nothing there."""

from collections.abc import Iterator

import shapely

from terrain.base.units import LengthUnit
from terrain.ledger.entries import Caution
from terrain.lot.design import LotDesign, Pad

LEAST_AREA = 1e-6
"""Shapes that share less only touch, in square length units."""


def misplaced(design: LotDesign, unit: LengthUnit) -> Iterator[Caution]:
    """Those wholly off the lot or under the house, and pads on ground that must not change."""
    house = shapely.Polygon(design.house)
    open_ground = shapely.Polygon(design.boundary).difference(house)
    things = [(f"Pad {pad.name}", shapely.Polygon(pad.corners)) for pad in design.pads]
    for swale in design.swales:
        bottom = shapely.LineString(swale.line).buffer(swale.width / 2, cap_style="flat")
        things.append((f"Swale {swale.name}", bottom))
    for what, shape in things:
        if shape.intersection(open_ground).area <= LEAST_AREA:
            yield Caution(
                code="off-the-lot",
                message=f"{what} lies outside the lot line or under the house: it is not "
                "made, only such of its slopes as reach the lot. Correct its place, or leave it "
                "out.",
            )
    for pad in design.pads:
        yield from _on_kept(pad, design, unit)


def _on_kept(pad: Pad, design: LotDesign, unit: LengthUnit) -> Iterator[Caution]:
    shape = shapely.Polygon(pad.corners)
    for keep in design.keeps:
        shared = shape.intersection(shapely.Polygon(keep.corners)).area
        if shared > LEAST_AREA:
            yield Caution(
                code="pad-on-kept-area",
                message=f"{shared:.0f} {unit.area_sign} of pad {pad.name} lie on area {keep.name}, "
                "which must not change: the ground stays as it is there.",
            )
