"""The ground, the machine and the site that stands are measured against."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
import shapely

from terrain.base.arrays import FloatArray
from terrain.haul.cells import Cells, lay_of
from terrain.haul.machine import Machine
from terrain.haul.stands import Site, front_of
from terrain.haul.walk import Walk
from terrain.surface.moves import Side

Heights: TypeAlias = Callable[[FloatArray], FloatArray]
"""Elevations (m,) of the existing ground at plan points (m, 2)."""

SHOVELFUL = 0.1
"""Share of a bucket below which what is left is for a shovel: no stand is made for it. Common
practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """All that stands are measured against: cells, machine, site and ground.

    `corners` (n, k, 2) are the cells' corners, `shapes` (n,) their plans as an array; `lay` (n,) is
    how far a face runs for its height at each cell's depth, as the sides are drawn or the soil
    asks; `walk` is the way round outside; `walls` is how many rows of the ledger are walls.
    """

    cells: Cells
    machine: Machine
    site: Site
    heights: Heights
    walk: Walk
    corners: FloatArray
    shapes: FloatArray
    lay: FloatArray
    walls: int

    @property
    def front(self) -> float:
        """How far ahead of the middle of its tracks the machine begins to dig."""
        return front_of(self.machine, self.site.setback)

    @property
    def shovelful(self) -> float:
        """The bank volume below which no stand is made."""
        return SHOVELFUL * self.machine.bucket_capacity


def work_of(
    cells: Cells, machine: Machine, site: Site, ground: tuple[Heights, tuple[Side, ...], float],
    walk: Walk,
) -> Work:  # fmt: skip
    """The same, its tables made.

    `ground` is its heights, the walls' sides as drawn, and the run per rise its soil asks for.
    """
    heights, sides, soil = ground
    lay = lay_of(cells, heights(cells.middle) - cells.bottom, sides)
    rings = [shapely.get_coordinates(shape) for shape in cells.shape]
    most = max(len(ring) for ring in rings)
    corners = np.array([np.vstack([r, np.tile(r[:1], (most - len(r), 1))]) for r in rings])
    shapes = np.array(cells.shape, dtype=object)
    return Work(
        cells=cells, machine=machine, site=site, heights=heights, walk=walk, corners=corners,
        shapes=shapes, lay=np.maximum(lay, soil),
        walls=len(sides),
    )  # fmt: skip
