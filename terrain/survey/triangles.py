"""A surface that a file brings ready made: its triangles, where each was written, its size."""

from dataclasses import dataclass, replace

import numpy as np

from terrain.base.arrays import FloatArray, IntArray
from terrain.base.errors import Fault, SurveyError
from terrain.base.units import LengthUnit
from terrain.survey.merge import count

# What the ground of a building lot can be, in metres; no source, chosen wide.
WIDEST, NARROWEST = 5_000.0, 1.0
HIGHEST, LOWEST = 9_000.0, -1_500.0
TALLEST = 10.0
"""What is taller than this must be wider than it is tall."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Triangles:
    """The triangles of one file in the job's unit and on the site's grid, as the file has them.

    Args:
        name: the file as the user wrote it.
        kind: `landxml`, or the kind of mesh by its extension.
        points: (n, 3) easting, northing, elevation.
        corners: (m, 3) int32, the points of each triangle, in the order of the file.
        point_row: (n,) what each point is called in the file: line number in LandXML, number of
            the vertex from 1 in a mesh.
        face_row: (m,) the same of each triangle.
        notes: plain sentences on what was converted, left out or assumed.
    """

    name: str
    kind: str
    points: FloatArray
    corners: IntArray
    point_row: IntArray
    face_row: IntArray
    notes: tuple[str, ...] = ()

    def __len__(self) -> int:
        return len(self.corners)


def check_size(name: str, points: FloatArray, unit: LengthUnit, stated: str) -> None:
    """Whether points (n, 3) in the job's unit can be the ground of a lot.

    Args:
        name: the file.
        points: its points.
        unit: the job's unit.
        stated: who says what unit the file is in, for the message.

    Errors: `SurveyError` for a surface too wide, too small, too high or too low, which is mostly
    one in another unit.
    """
    metres = float(unit.metres)
    low, high = points.min(axis=0), points.max(axis=0)
    wide = float((high - low)[:2].max())
    if wide == 0.0:
        place = f"{low[0]:.3f}, {low[1]:.3f}"
        raise SurveyError(
            Fault(
                file=name,
                message=f"all its points stand at one place in plan ({place} in {unit.name}), "
                "which is no lot: export the file again.",
            )
        )
    if not WIDEST >= wide * metres >= NARROWEST:
        word = "wide" if wide * metres > WIDEST else "small"
        raise SurveyError(
            Fault(
                file=name,
                message=f"its surface is {_told(wide)} {unit.name} across, too {word} for a lot: "
                f"{stated}. Is it in another unit?",
            )
        )
    if high[2] * metres > HIGHEST or low[2] * metres < LOWEST:
        raise SurveyError(
            Fault(
                file=name,
                message=f"its elevations run from {_told(float(low[2]))} to "
                f"{_told(float(high[2]))} {unit.name}, which no ground has: {stated}. Is it in "
                "another unit, or is another axis up?",
            )
        )
    tall = float((high - low)[2])
    if tall > wide and tall * metres > TALLEST:
        raise SurveyError(
            Fault(
                file=name,
                message=f"it is {_told(tall)} {unit.name} tall and only {_told(wide)} across, as "
                f"no lot is: {stated}. Is another axis up, or are heights in another unit?",
            )
        )


def _told(length: float) -> str:
    return f"{length:,.0f}" if abs(length) >= 100 else f"{length:.3g}"


def one_a_place(points: FloatArray) -> tuple[IntArray, IntArray]:
    """The first point (k,) at each place, and for each point (n,) which of those it shares."""
    order = np.lexsort(points.T[::-1])
    ranked = points[order]
    new = np.concatenate([[True], (ranked[1:] != ranked[:-1]).any(axis=1)])
    place = np.empty(len(points), dtype=np.int32)
    place[order] = np.cumsum(new) - 1
    return np.minimum.reduceat(order, np.flatnonzero(new)), place


def trimmed(triangles: Triangles) -> Triangles:
    """The same triangles without the points that none of them has, and a note on those."""
    used = np.zeros(len(triangles.points), dtype=np.bool_)
    used[triangles.corners] = True
    if used.all():
        return triangles
    left = int((~used).sum())
    number = np.cumsum(used) - 1
    note = f"{triangles.name}: {count(left, 'point')} that no face has left out."
    return replace(
        triangles,
        points=triangles.points[used],
        corners=number[triangles.corners].astype(np.int32),
        point_row=triangles.point_row[used],
        notes=(*triangles.notes, note),
    )
