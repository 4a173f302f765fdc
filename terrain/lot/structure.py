"""What the foundation puts into the ground: footing, wall, drain stone, base under the slab."""

from dataclasses import dataclass

import numpy as np
import shapely

from terrain.base.arrays import FloatArray
from terrain.surface.outline import ring_area
from terrain.surface.patches import Surface, lifted
from terrain.surface.shares import band_faces


@dataclass(frozen=True, slots=True, kw_only=True)
class Structure:
    """The foundation's own volumes, all lengths in the job's unit; 0 where the job gives none.

    Args:
        corners: (n, 2) counter-clockwise, outside faces.
        footing_width, footing_depth, projection: of the footing; it stands on `underside`.
        wall_thickness: of the wall on it, `wall_height` high.
        beyond: how far drain stone reaches past the footing, `over` how far above its top.
        under_slab: depth of the base of stone inside the walls.
    """

    corners: FloatArray
    underside: float
    footing_width: float = 0.0
    footing_depth: float = 0.0
    projection: float = 0.0
    wall_thickness: float = 0.0
    wall_height: float = 0.0
    beyond: float = 0.0
    over: float = 0.0
    under_slab: float = 0.0

    @property
    def footing_volume(self) -> float:
        """The footing's volume in cubic length units, corners mitred."""
        if self.footing_width == 0.0:
            return 0.0
        band, _ = band_faces(self.corners, self.footing_width - self.projection, self.projection)
        return _area(band) * self.footing_depth

    @property
    def wall_volume(self) -> float:
        """The wall's volume in cubic length units."""
        return float(self.wall_volumes.sum())

    @property
    def wall_volumes(self) -> FloatArray:
        """Each wall's own volume (n,) in cubic length units, corners mitred."""
        volumes = np.zeros(len(self.corners))
        if self.wall_thickness > 0.0:
            band, _ = band_faces(self.corners, self.wall_thickness, 0.0)
            areas = [ring_area(band.corners(face)) for face in range(len(band))]
            np.add.at(volumes, band.label, areas)
        return volumes * self.wall_height

    @property
    def slab_base_volume(self) -> float:
        """The stone under the slab, inside the walls and the footing, in cubic length units."""
        inside = max(self.wall_thickness, self.footing_width - self.projection)
        inner = ring_area(self.corners)
        if inside > 0.0:
            inner -= _area(band_faces(self.corners, inside, 0.0)[0])
        return inner * self.under_slab


@dataclass(frozen=True, slots=True, kw_only=True)
class Top:
    """The top of something along the outside of the walls, and the ground it stands on."""

    surface: Surface
    covered: shapely.Geometry


def footing_top(structure: Structure) -> Top | None:
    """The top of the footing outside the walls, None where it does not stand out."""
    if structure.projection == 0.0:
        return None
    return _top(structure, structure.projection, structure.footing_depth)


def stone_top(structure: Structure) -> Top | None:
    """The top of the drain stone outside the walls, footing below it included; None without."""
    reach = structure.projection + structure.beyond
    if reach == 0.0 or (structure.beyond == 0.0 and structure.over == 0.0):
        return None
    return _top(structure, reach, structure.footing_depth + structure.over)


def _top(structure: Structure, reach: float, height: float) -> Top:
    band, covered = band_faces(structure.corners, 0.0, reach)
    covered = covered.difference(shapely.Polygon(structure.corners))
    return Top(surface=lifted(band, structure.underside + height), covered=covered)


def _area(surface: Surface) -> float:
    return sum(ring_area(surface.corners(face)) for face in range(len(surface)))
