"""Stands on the floor of the dig, come in by a ramp, and the ways between them on ground dug."""

from dataclasses import dataclass

import numpy as np
import shapely

from terrain.base.arrays import BoolArray, FloatArray
from terrain.haul.reach import Table
from terrain.haul.stands import WITHIN
from terrain.haul.work import Work

TURNS_ALONG = 7
"""Spots a side of the dig's box by which a way on the floor may turn."""


class FloorWays:
    """Ways on the floor that keep clear of ground not dug yet."""

    def __init__(self, work: Work, left: BoolArray) -> None:
        half = work.machine.track_width / 2 - WITHIN
        whole = shapely.union_all(work.shapes[left], grid_size=1e-6)
        self._barred = whole.buffer(half)
        self._room = work.site.dig.buffer(-half, join_style="mitre").difference(self._barred)
        self._turns = _lattice(self._room)
        shapely.prepare(self._barred)

    def between(self, start: FloatArray, end: FloatArray) -> FloatArray | None:
        """The shortest way (m, 2) with at most one turn; None if there is none."""
        straight = np.array([start, end])
        if self._clear(straight[None])[0]:
            return straight
        if not len(self._turns):
            return None
        count = len(self._turns)
        ways = np.stack([np.tile(start, (count, 1)), self._turns, np.tile(end, (count, 1))], axis=1)
        clear = np.flatnonzero(self._clear(ways))
        if not len(clear):
            return None
        length = np.hypot(*np.diff(ways[clear], axis=1).transpose(2, 0, 1)).sum(axis=1)
        return np.asarray(ways[clear[int(length.argmin())]])

    def _clear(self, ways: FloatArray) -> BoolArray:
        lines = shapely.linestrings(ways)
        return ~np.asarray(shapely.intersects(self._barred, lines), dtype=bool)


def _lattice(room: shapely.Geometry) -> FloatArray:
    """Spots spread over a region."""
    if room.is_empty:
        return np.zeros((0, 2))
    west, south, east, north = room.bounds
    at = (np.arange(TURNS_ALONG) + 0.5) / TURNS_ALONG
    plan = np.stack(np.meshgrid(west + at * (east - west), south + at * (north - south)), axis=-1)
    spots = plan.reshape(-1, 2)
    return np.asarray(spots[shapely.contains_xy(room, spots[:, 0], spots[:, 1])])


@dataclass(frozen=True, slots=True, kw_only=True)
class OnFloor:
    """A stand of a table, the way (m, 2) to it on the floor, and the cells (n,) dug from it."""

    stand: int
    way: FloatArray
    digs: BoolArray


def floor_stands(
    work: Work, given: tuple[Table, FloatArray], left: BoolArray, here: FloatArray
) -> tuple[list[OnFloor], BoolArray]:
    """Stands on the floor as long as they dig anything of what is left, and what is left then.

    `given` is their table and what earth dug from each (m,) counts.
    """
    found: list[OnFloor] = []
    while left.any() and len(given[0]):
        one = _next_on_floor(work, given, left, here)
        if one is None:
            break
        found.append(one)
        here = given[0].stands.spot[one.stand]
        left = left & ~one.digs
    return found, left


def _next_on_floor(
    work: Work, given: tuple[Table, FloatArray], left: BoolArray, here: FloatArray
) -> OnFloor | None:
    """The floor stand whose earth of what is left counts most.

    None where no stand on ground all dug, to which there is a way, digs more than a shovelful.
    """
    table, worth = given
    standing = ~np.any(table.needs & left[None, :], axis=1)
    gain = np.where(standing, (table.digs & left[None, :]) @ work.cells.bank, 0.0)
    ways = FloorWays(work, left)
    for k in np.argsort(-gain * worth, kind="stable").tolist():
        if gain[k] <= work.shovelful:
            continue
        way = ways.between(here, table.stands.spot[k])
        if way is not None:
            return OnFloor(stand=k, way=way, digs=table.digs[k] & left)
    return None
