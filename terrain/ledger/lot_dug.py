"""What of a dig's account with the lot does not change with the finished grade: worked out once."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely

from terrain.base.arrays import FloatArray, IntArray
from terrain.lot.finish import Finished
from terrain.lot.structure import Structure
from terrain.pit.dig import Dig
from terrain.surface.minimum import shared_out, within
from terrain.surface.outline import ring_area
from terrain.surface.overlay import overlay, overlay_sums
from terrain.surface.patches import Surface, labelled, picked
from terrain.surface.screen import Screen, screened
from terrain.surface.shares import core_faces

Where = Literal["above", "below"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sides:
    """Which side of the house owns what: the row of each house wall and each foundation wall."""

    names: tuple[str, ...]
    of_house: tuple[int, ...]
    of_foundation: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Dug:
    """A dig in its ground, seen from the sides of one house.

    Args:
        screen: the ground, ready to be compared with a finished lot.
        hole: those faces of the ground that the dig takes anything from outside the foundation.
        surface: the dig outside the foundation, over `outside`.
        owners: the ground in and round the house by house wall.
        out, core: (rows,) taken out by the dig alone, outside and inside the foundation.
        area_out, area_core: (rows,) plan areas of the two; `area_house` of the first, under house
            that is not pit, and `area_slab` all of that house.
    """

    screen: Screen
    hole: Surface
    surface: Surface
    outside: shapely.Geometry
    owners: Surface
    structure: Structure
    sides: Sides
    out: FloatArray
    area_out: FloatArray
    core: FloatArray
    area_core: FloatArray
    area_house: FloatArray
    area_slab: FloatArray

    def rows(self, surface: Surface) -> tuple[Surface, int]:
        """A surface outside the foundation labelled by row, and how many rows there are."""
        return _by_row(surface, self.owners, self.sides.of_house), len(self.sides.names)

    def in_hole(self, surface: Surface, where: Where) -> tuple[FloatArray, FloatArray]:
        """Volume and area by row of the ground above (below) a surface, where anything is dug."""
        return volume_and_area(self.hole, self.rows(surface), where)


def dug_of(screen: Screen, dig: Dig, lot: Finished, structure: Structure, sides: Sides) -> Dug:
    """What is dug in a screened ground; of the finished lot only house and owners matter."""
    count = len(sides.names)
    inside = shapely.Polygon(structure.corners)
    house = shapely.Polygon(lot.design.house).difference(inside)
    outside = dig.covered.difference(inside)
    surface = within(dig.surface, outside)
    owned = _by_row(surface, lot.owners, sides.of_house)
    near = screened(screen, owned, "above")
    pairs = overlay(near, owned)
    hole = picked(near, np.unique(pairs.a[pairs.area_above > 0]))
    row = owned.label[pairs.b]
    walls = core_faces(structure.corners)
    core = _by_row(within(dig.surface, inside), walls, sides.of_foundation)
    of_core = volume_and_area(screened(screen, core, "above"), (core, count), "above")
    under_house = _by_row(within(surface, house), lot.owners, sides.of_house)
    slab = _by_row(within(core_faces(lot.design.house), house), lot.owners, sides.of_house)
    return Dug(
        screen=screen,
        hole=hole,
        surface=surface,
        outside=outside,
        owners=lot.owners,
        structure=structure,
        sides=sides,
        out=_sums(row, pairs.volume_above, count),
        area_out=_sums(row, pairs.area_above, count),
        core=of_core[0],
        area_core=of_core[1],
        area_house=volume_and_area(hole, (under_house, count), "above")[1],
        area_slab=area_by_row(slab, count),
    )


def volume_and_area(
    ground: Surface, surface: tuple[Surface, int], where: Where
) -> tuple[FloatArray, FloatArray]:
    """Volume and area, by label of a surface, of the ground above or below it.

    Args:
        ground: the existing ground, or what of it matters.
        surface: labelled by row, and how many rows there are.
        where: on which side of the surface.
    """
    sums = overlay_sums(ground, surface[0], "b", surface[1])
    if where == "above":
        return sums.volume_above, sums.area_above
    return sums.volume_below, sums.area_below


def area_by_row(surface: Surface, count: int) -> FloatArray:
    """Plan area of the faces of a surface, by label."""
    areas = [ring_area(surface.corners(face)) for face in range(len(surface))]
    return _sums(surface.label, np.array(areas), count)


def _by_row(surface: Surface, owners: Surface, row: tuple[int, ...]) -> Surface:
    shared = shared_out(surface, owners)
    return labelled(shared, np.array(row)[shared.label])


def _sums(row: IntArray, values: FloatArray, count: int) -> FloatArray:
    return np.asarray(np.bincount(row, values, count), dtype=np.float64)
