"""What a TIN is made of and what it is: plain records in the local frame."""

from dataclasses import dataclass
from enum import Enum

from terrain.base.arrays import FloatArray, IntArray

SNAP = 1e-6
"""Length units in plan within which a line counts as passing through a point."""


class LineKind(Enum):
    """What a line does to the ground."""

    BREAKLINE = "breakline"
    """No triangle side crosses it: the ground bends only along it."""
    BOUNDARY = "boundary"
    """A breakline that closes on itself; there is no ground outside."""
    HOLE = "hole"
    """A breakline that closes on itself; there is no ground inside."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A line from shot to shot: `shots` are indices of the input points, in order."""

    name: str
    shots: IntArray
    kind: LineKind = LineKind.BREAKLINE

    @property
    def label(self) -> str:
        """The line's kind and name as messages give them."""
        return f'{self.kind.value} "{self.name}"'


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanLine:
    """A line without elevations, `plan` (k, 2) in the local frame; it is laid on the ground."""

    name: str
    plan: FloatArray
    kind: LineKind = LineKind.BREAKLINE

    @property
    def label(self) -> str:
        """The line's kind and name as messages give them."""
        return f'{self.kind.value} "{self.name}"'


@dataclass(frozen=True, slots=True, kw_only=True)
class TinOptions:
    """Choices of the builder, in length units.

    Args:
        max_edge: no triangle keeps a side longer than this; None: all of the hull is ground.
        height_tolerance: lines that meet may differ by so much in height; the meeting point then
            gets the mean. The default is common practice, no source.
    """

    max_edge: float | None = None
    height_tolerance: float = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class GroundNote:
    """Something about the ground its reader should know: a code to tell notes apart, a sentence."""

    code: str
    message: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Tin:
    """Triangles over points, each triangle counter-clockwise.

    Args:
        points: (n, 3) easting, northing in the local frame and elevation, in Hilbert order.
        triangles: (m, 3) int32, corners of each triangle, ordered by their first point in `points`.
        neighbours: (m, 3) int32; neighbour k lies across the side from corner k to corner k + 1;
            -1 where the ground ends there. Where ground that a file brings ready made jumps, the
            neighbour has points of its own on the same spots.
        shot: (n,) int32, which input point each point is; -1 for one made where lines cross or
            where a line without elevations was laid on the ground.
        fixed: (k, 2) int32, pairs of points whose edge lines ask for, lower index first. Where
            the ground was cut away such an edge may have no triangle.
        notes: what the builder has to say.
    """

    points: FloatArray
    triangles: IntArray
    neighbours: IntArray
    shot: IntArray
    fixed: IntArray
    notes: tuple[GroundNote, ...] = ()

    def __len__(self) -> int:
        return len(self.triangles)
