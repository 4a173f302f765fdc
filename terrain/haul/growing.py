"""An order of digging in the making, stand by stand."""

from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np

from terrain.base.arrays import BoolArray, FloatArray
from terrain.haul.reach import Table
from terrain.haul.stands import Stands

Kind: TypeAlias = Literal["wall", "out", "extra", "floor", "rim"]


@dataclass(slots=True, kw_only=True)
class Growing:
    """An order in the making.

    `reached` is what is in a stand's reach and in front, the faces' rule left out but on the floor;
    `room` what must be gone before: on the floor, for its tracks, its tail and its way.
    """

    kind: list[Kind]
    of: list[int]
    spot: list[FloatArray]
    facing: list[FloatArray]
    way: list[FloatArray]
    digs: list[BoolArray]
    reached: list[BoolArray]
    room: list[BoolArray]

    def add(self, kind: Kind, of: int, table: Table, k: int, way: FloatArray) -> None:
        """One more stand, the k-th of a table, that so far digs nothing and needs nothing gone."""
        self.kind.append(kind)
        self.of.append(of)
        self.spot.append(table.stands.spot[k])
        self.facing.append(table.stands.facing[k])
        self.way.append(way)
        self.digs.append(np.zeros(table.digs.shape[1], dtype=bool))
        self.reached.append(table.digs[k])
        self.room.append(np.zeros(table.digs.shape[1], dtype=bool))

    def dug(self) -> BoolArray:
        """(n,): what all stands so far may dig."""
        return np.asarray(np.any(self.digs, axis=0))

    @property
    def stands(self) -> Stands:
        """Those so far."""
        return Stands(spot=np.array(self.spot), facing=np.array(self.facing))

    @property
    def here(self) -> tuple[FloatArray, FloatArray]:
        """Where the machine is, and the way straight back from there."""
        return self.spot[-1], -self.facing[-1]
