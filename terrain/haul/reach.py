"""What each stand can dig and what ground it needs, as tables over all cells made once."""

from dataclasses import dataclass

import numpy as np
import shapely

from terrain.base.arrays import BoolArray, FloatArray, IntArray
from terrain.haul.stands import WITHIN, Stands
from terrain.haul.work import Work
from terrain.haul.working_face import working_faces

_TURN = np.linspace(0.0, 2.0 * np.pi, 49)[:-1]
ROUND = np.column_stack([np.sin(_TURN), np.cos(_TURN)]) / np.cos(_TURN[1] / 2)
"""Corners (48, 2) of a ring about a circle of radius one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """Some stands over all cells.

    Args:
        digs: (m, n) whether the cell is ahead of the machine and within reach at its depth.
        well: (m, n) whether it is besides as far ahead as its depth asks.
        needs: (m, n) whether the stand needs the cell's ground to stand on; on the floor, whether
            the cell must be gone before, to make room for tracks and tail.
    """

    stands: Stands
    digs: BoolArray
    well: BoolArray
    needs: BoolArray

    def __len__(self) -> int:
        return len(self.stands)

    def of(self, chosen: IntArray) -> "Table":
        """Some of them."""
        stands = Stands(spot=self.stands.spot[chosen], facing=self.stands.facing[chosen])
        return Table(
            stands=stands, digs=self.digs[chosen], well=self.well[chosen], needs=self.needs[chosen]
        )


def table_of(work: Work, stands: Stands, floor: float | None = None) -> Table:
    """The table of some stands, on existing ground or at the elevation `floor`."""
    count, cells = len(stands), work.cells
    if count == 0:
        none = np.zeros((0, len(cells)), dtype=bool)
        return Table(stands=stands, digs=none, well=none, needs=none)
    level = work.heights(stands.spot) if floor is None else np.full(count, floor)
    faces = working_faces(work, stands, level)
    away = np.hypot(*(cells.middle[None, :] - stands.spot[:, None]).transpose(2, 0, 1))
    digs = away <= work.machine.reach_at(faces.below)
    digs &= faces.ahead >= work.site.setback - WITHIN
    if floor is None:
        room = stands.tracks(work.machine, work.site.setback)
    else:
        room = [spot + work.machine.swings_in * ROUND for spot in stands.spot]
    well = digs & (faces.steep == 0.0)
    return Table(stands=stands, digs=digs, well=well, needs=touched(work, room))


def touched(work: Work, rings: list[FloatArray]) -> BoolArray:
    """(m, n): which cells share ground with each of some rings (k, 2)."""
    areas = np.array([shapely.Polygon(ring).buffer(-WITHIN) for ring in rings], dtype=object)
    shapely.prepare(areas)
    return np.asarray(shapely.intersects(areas[:, None], work.shapes[None, :]))


def way_needs(work: Work, way: FloatArray) -> BoolArray:
    """(n,): which cells' ground a way (m, 2) needs, the tracks and the setback wide."""
    if len(way) < 2 or float(np.abs(np.diff(way, axis=0)).max()) < WITHIN:
        return np.zeros(len(work.cells), dtype=bool)
    half = work.machine.track_width / 2 + work.site.setback - WITHIN
    corridor = shapely.LineString(way).buffer(half, cap_style="flat", join_style="mitre")
    shapely.prepare(corridor)
    return np.asarray(shapely.intersects(corridor, work.shapes))


def too_deep(work: Work) -> BoolArray:
    """(n,): cells whose bottom is below the digging depth even under their own ground."""
    ground = work.heights(work.cells.middle)
    return np.asarray(ground - work.cells.bottom > work.machine.digging_depth)
