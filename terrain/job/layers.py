"""What the solid and the layers are written from: everything drawn of a job, in one record."""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np

from terrain.base.arrays import FloatArray
from terrain.base.frame import LocalFrame
from terrain.base.units import LengthUnit
from terrain.job.answer import Volumes
from terrain.job.volumes import Worked
from terrain.ledger.entries import BankVolume, PitRow, Quantity, WallRow
from terrain.ledger.faces import DugFace, DugPart, dug_faces, dug_parts
from terrain.pit.dig import PARTS, part_of, row_of
from terrain.pit.solid import Solid, dig_solid
from terrain.surface.contours import Contours, contours, usual_interval
from terrain.surface.drape import Draped, drape
from terrain.surface.facets import Facets, faces_below, facets
from terrain.surface.locate import TriangleGrid, heights_at, triangle_grid
from terrain.surface.patches import picked
from terrain.surface.tin_record import SNAP, Tin
from terrain.survey.shots import Shots

RowKind: TypeAlias = Literal["wall", "pit", "ramp", "trench"]

LEAST_INTERVAL = {"ft": 0.1, "ftUS": 0.1, "m": 0.05}
"""No contours nearer than this in height, by unit; common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One row of the ledger: a wall, or a pit, ramp or trench; volumes in the job's volume unit."""

    name: str
    kind: RowKind
    quantity: Quantity
    topsoil: BankVolume
    bank_plus_minus_95: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnLine:
    """A line in space, `points` (m, 3) in the local frame; one that closes repeats its first."""

    name: str
    kind: str
    points: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Layers:
    """Everything that is drawn of a job, in the local frame `frame` and the job's length unit.

    Args:
        crs: as the job gives it, None for a local grid.
        date: of the answer, year-month-day.
        rows: by the numbers that labels hold.
        floor: elevation of the dig's floor.
        shots: in site coordinates, as read.
        existing: the ground before the dig.
        dug: the dig as triangles, only where it is below the ground.
        solid: the earth between the two, closed.
        walls: the outside faces along the floor, in the order of the job.
        breaklines: as they lie on the ground; boundary and holes among them.
        dig_lines: round the floor of the main dig, and of each piece of the extras.
        daylight: where the cut meets the ground, the cut on its left.
        contours: of the existing ground.
        faces: of the dig, each plane.
        parts: those faces by row and part.
    """

    title: str
    unit: LengthUnit
    crs: str | None
    date: str
    frame: LocalFrame
    rows: tuple[Row, ...]
    floor: float
    shots: Shots
    existing: Tin
    dug: Facets
    solid: Solid
    walls: tuple[DrawnLine, ...]
    breaklines: tuple[DrawnLine, ...]
    dig_lines: tuple[DrawnLine, ...]
    daylight: tuple[DrawnLine, ...]
    contours: Contours
    faces: tuple[DugFace, ...]
    parts: tuple[DugPart, ...]

    def row(self, label: int) -> Row:
        """The row that a label of the dig names."""
        return self.rows[int(row_of(np.array(label)))]

    def part(self, label: int) -> str:
        """The part that a label names; empty for a pit, ramp or trench, which have none."""
        return PARTS[int(part_of(np.array(label)))] if self.row(label).kind == "wall" else ""

    def bank(self, cubic_units: float) -> float:
        """A volume in place in the job's volume unit."""
        return self.unit.volume(cubic_units)

    @property
    def solid_origin(self) -> FloatArray:
        """Whole units (3,) near the middle of the solid's plan and its lowest point."""
        if len(self.solid.vertices) == 0:
            return np.array([0.0, 0.0, math.floor(self.floor)])
        low, high = self.solid.vertices.min(axis=0), self.solid.vertices.max(axis=0)
        middle = np.round((low + high) / 2)
        return np.array([middle[0], middle[1], math.floor(low[2])]) + 0.0

    @property
    def solid_place(self) -> tuple[float, float, float]:
        """Easting, northing and elevation of that origin on the site."""
        easting, northing, upward = self.solid_origin.tolist()
        return easting + self.frame.easting, northing + self.frame.northing, upward


def layers_of(worked: Worked, answer: Volumes) -> Layers:
    """All that is drawn of a job that is worked out; `answer` is what was told of it."""
    job, design, existing = worked.job, worked.layout.design, worked.existing
    ground, dig, whole = existing.ground.surface, worked.dig, worked.figures.whole
    faces = dug_faces(ground, existing.tin.neighbours, dig, whole)
    near = np.unique(whole.a[whole.area_above > 0])
    grid = triangle_grid(existing.tin)
    interval = usual_interval(existing.tin, LEAST_INTERVAL[job.unit.name])
    return Layers(
        title=job.title,
        unit=job.unit,
        crs=answer.crs,
        date=answer.date,
        frame=worked.layout.frame,
        rows=_rows(worked, answer),
        floor=design.floor,
        shots=existing.shots,
        existing=existing.tin,
        dug=facets(faces_below(ground, dig.surface, whole)),
        solid=dig_solid(picked(ground, near), dig.surface),
        walls=_walls(answer, design.floor),
        breaklines=tuple(_breaklines(worked, grid)),
        dig_lines=tuple(_dig_lines(worked)),
        daylight=tuple(_on_ground(existing.tin, grid, answer.plan.daylight)),
        contours=contours(existing.tin, interval),
        faces=faces,
        parts=dug_parts(faces),
    )


def _rows(worked: Worked, answer: Volumes) -> tuple[Row, ...]:
    """The rows of the ledger in the order of the design."""
    figures: dict[tuple[str, str], WallRow | PitRow] = {
        ("wall", wall.wall): wall for wall in answer.ledger.walls
    }
    figures |= {(pit.kind, pit.name): pit for pit in answer.ledger.pits}
    design = worked.layout.design
    named: list[tuple[RowKind, str]] = [("wall", wall.name) for wall in design.walls]
    named += [(extra.kind, extra.name) for extra in design.extras]
    return tuple(
        Row(
            name=name,
            kind=kind,
            quantity=figures[kind, name].quantity,
            topsoil=figures[kind, name].topsoil,
            bank_plus_minus_95=figures[kind, name].bank_plus_minus_95,
        )
        for kind, name in named
    )


def _walls(answer: Volumes, floor: float) -> tuple[DrawnLine, ...]:
    corners = np.column_stack([answer.plan.corners, np.full(len(answer.plan.corners), floor)])
    ends = np.stack([corners, np.roll(corners, -1, axis=0)], axis=1)
    return tuple(
        DrawnLine(name=name, kind="wall", points=points)
        for name, points in zip(answer.plan.walls, ends, strict=True)
    )


def _breaklines(worked: Worked, grid: TriangleGrid) -> Iterator[DrawnLine]:
    """Lines from shot to shot, then those laid on the ground, in pieces where there is none."""
    existing = worked.existing
    points = np.column_stack(
        [worked.layout.frame.to_local(existing.shots.plan), existing.shots.elevation]
    )
    for line in existing.lines:
        shots = line.shots if line.kind.value == "breakline" else [*line.shots, line.shots[0]]
        yield DrawnLine(name=line.name, kind=line.kind.value, points=points[shots])
    for drawn in existing.draped:
        for piece in _pieces(drape(existing.tin, drawn.plan, grid)):
            yield DrawnLine(name=drawn.name, kind=drawn.kind.value, points=piece)


def _pieces(laid: Draped) -> Iterator[FloatArray]:
    """The chains of a draped line's edges."""
    chain: list[FloatArray] = []
    for start, end in laid.points[laid.edges]:
        if chain and np.abs(start[:2] - chain[-1][:2]).max() > SNAP:
            yield np.array(chain)
            chain = []
        chain += [end] if chain else [start, end]
    if chain:
        yield np.array(chain)


def _dig_lines(worked: Worked) -> Iterator[DrawnLine]:
    design, dig = worked.layout.design, worked.dig
    ring = dig.line.ring.corners
    floor = np.full(len(ring), design.floor)
    yield DrawnLine(name="", kind="main", points=_closed(np.column_stack([ring, floor])))
    pieces = [(extra, piece) for extra in design.extras for piece in extra.pieces]
    for (extra, piece), (_, line) in zip(pieces, dig.extra_lines, strict=True):
        ring, plane = line.ring.corners, piece.plane
        upward = plane[2] + (ring - plane[:2]) @ plane[3:]
        points = _closed(np.column_stack([ring, upward]))
        yield DrawnLine(name=extra.name, kind=extra.kind, points=points)


def _closed(ring: FloatArray) -> FloatArray:
    return np.concatenate([ring, ring[:1]])


def _on_ground(tin: Tin, grid: TriangleGrid, lines: tuple[FloatArray, ...]) -> Iterator[DrawnLine]:
    """Lines of the plan at the height of the ground under each corner."""
    for line in lines:
        points = np.column_stack([line, heights_at(tin, line, grid)])
        points = points[np.isfinite(points[:, 2])]
        if len(points) > 1:
            yield DrawnLine(name="", kind="daylight", points=points)
