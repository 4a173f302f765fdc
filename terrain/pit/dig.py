"""The dig surface: main floor and sides by wall, then footing trench and extras joined by minimum.

A face's label is `row * 4 + part`: rows are the walls, then the extras in their order.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from terrain.base.arrays import FloatArray, IntArray
from terrain.base.errors import DesignError, Fault
from terrain.pit.design import VERTICAL, Design, Extra, Piece, Side
from terrain.pit.dig_line import DigLine, dig_line
from terrain.pit.floor import band_faces, core_faces, overdig_faces, whole_floor
from terrain.pit.side import moves
from terrain.surface.minimum import footprint, lowest_of
from terrain.surface.outline import Ring
from terrain.surface.patches import Surface, join_faces
from terrain.surface.sweep import Swept, advance

PARTS = ("core", "overdig", "side", "footing")
CORE, OVERDIG, SIDE, FOOTING = range(4)
MOST_MOVES = 20_000
ABOVE_GROUND = 0.01
"""Sides are carried above the highest ground by this share of the climb, so that they cross it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """What one more solid adds: `after` where it is lowest, `before` what was there until then."""

    after: Surface
    before: Surface


@dataclass(frozen=True, slots=True, kw_only=True)
class Dig:
    """The whole dig over plan.

    Args:
        main: floor and sides of the main dig, labelled by wall and part.
        taken: what footing trench and extras took over from the dig so far, in order.
        surface: the lowest of all; labels as the header of this module says.
        line: the dig line of the main floor.
        extra_lines: (row, dig line) of every piece of the extras.
        floors: by row, the height that its side climbs from: the lowest of its floor.
        outline: the rings where the swept sides end, at or above the highest ground.
    """

    main: Surface
    taken: tuple[Taken, ...]
    surface: Surface
    line: DigLine
    extra_lines: tuple[tuple[int, DigLine], ...]
    floors: tuple[float, ...]
    outline: tuple[Ring, ...]


def dig_of(design: Design, ground: FloatArray) -> Dig:
    """The dig surface of a design, its sides carried up to the highest ground.

    Args:
        design: the dig as asked for.
        ground: (n, 3), points of the existing ground in the local frame; only their spread and
            their heights above floors matter.

    Raises:
        DesignError: the dig line can't be drawn or a side never climbs out.
    """
    overdigs = [w.overdig for w in design.walls]
    line = dig_line(design.corners, overdigs, "dig.overdig")
    core = core_faces(design.corners)
    overdig = overdig_faces(design.corners, overdigs, line)
    sides = [w.side for w in design.walls]
    swept, outline = _climb(line.ring, sides, _levels_of(ground, design.floor), "dig.side")
    main = _lifted(
        join_faces(
            _labelled(core, core.label * 4 + CORE),
            _labelled(overdig, overdig.label * 4 + OVERDIG),
            _labelled(swept, swept.label * 4 + SIDE),
        ),
        design.floor,
    )
    surface, covered = main, footprint(outline)
    taken: list[Taken] = []
    if design.footing is not None:
        trench = design.footing
        band, area = band_faces(design.corners, trench.width - trench.projection, trench.projection)
        band = _lifted(_labelled(band, band.label * 4 + FOOTING), trench.bottom)
        surface, covered, step = _joined(surface, covered, band, area)
        taken.append(step)
    extra_lines = []
    for row, extra in enumerate(design.extras, start=len(design.walls)):
        for piece in extra.pieces:
            solid, rings, piece_line = _piece_surface(piece, extra, row * 4, ground)
            surface, covered, step = _joined(surface, covered, solid, footprint(rings))
            taken.append(step)
            extra_lines.append((row, piece_line))
    return Dig(
        main=main,
        taken=tuple(taken),
        surface=surface,
        line=line,
        extra_lines=tuple(extra_lines),
        floors=(
            *(design.floor for _ in design.walls),
            *(min(_lowest(piece) for piece in extra.pieces) for extra in design.extras),
        ),
        outline=tuple(outline),
    )


def _lowest(piece: Piece) -> float:
    easting, northing, upward, per_easting, per_northing = piece.plane
    rise = per_easting * (piece.corners[:, 0] - easting)
    rise += per_northing * (piece.corners[:, 1] - northing)
    return float(upward + rise.min())


def row_of(label: IntArray) -> IntArray:
    """The row of each label: walls, then extras."""
    return label // 4


def part_of(label: IntArray) -> IntArray:
    """The part of each label, an index into PARTS."""
    return label % 4


def _joined(
    surface: Surface, covered: shapely.Geometry, solid: Surface, area: shapely.Geometry
) -> tuple[Surface, shapely.Geometry, Taken]:
    joined = lowest_of(surface, solid, covered, area)
    return joined.lowest, covered.union(area), Taken(after=joined.taken, before=joined.before)


def _piece_surface(
    piece: Piece, extra: Extra, label: int, ground: FloatArray
) -> tuple[Surface, list[Ring], DigLine]:
    """Floor and sides of one piece of an extra, swept level and then tilted onto its floor."""
    edges = range(len(piece.corners))
    overdigs = [0.0 if i in piece.shared else extra.overdig for i in edges]
    sides = [VERTICAL if i in piece.shared else extra.side for i in edges]
    line = dig_line(piece.corners, overdigs, f"{extra.key}.overdig")
    easting, northing, upward, per_easting, per_northing = piece.plane
    floor_under = (
        upward + per_easting * (ground[:, 0] - easting) + per_northing * (ground[:, 1] - northing)
    )
    swept, rings = _climb(line.ring, sides, _levels_of(ground, floor_under), f"{extra.key}.side")
    level = join_faces(whole_floor(line, label), _labelled(swept, np.full(len(swept), label)))
    plane = level.plane.copy()
    plane[:, 2] += upward + per_easting * (plane[:, 0] - easting)
    plane[:, 2] += per_northing * (plane[:, 1] - northing)
    plane[:, 3] += per_easting
    plane[:, 4] += per_northing
    return level.with_plane(plane), rings, line


@dataclass(frozen=True, slots=True, kw_only=True)
class _Reach:
    """How far the sides must go: up to `height` above the floor, or over the whole `extent`."""

    height: float
    extent: shapely.Geometry


def _levels_of(ground: FloatArray, floor: FloatArray | float) -> _Reach:
    low, high = ground[:, :2].min(axis=0), ground[:, :2].max(axis=0)
    height = float(np.max(ground[:, 2] - floor))
    return _Reach(
        height=height + ABOVE_GROUND * abs(height), extent=shapely.box(*low, *high).buffer(1e-6)
    )


def _climb(
    ring: Ring, sides: Sequence[Side], reach: _Reach, key: str
) -> tuple[Surface, list[Ring]]:
    """What the sides sweep from a dig line at height 0 until they are above all ground."""
    swept = Swept()
    rings = [ring]
    for count, move in enumerate(moves(sides, max(reach.height, 0.0))):
        if count > MOST_MOVES:
            raise DesignError(
                Fault(
                    key=key,
                    message=f"the side has made {MOST_MOVES} steps and is still below the highest "
                    f"ground, {reach.height:g} above the floor; make its steps taller, or look "
                    "for a shot that is far too high",
                )
            )
        rings = advance(rings, move.runs, move.low, move.rise, swept)
        if any(shapely.Polygon(r.corners).contains(reach.extent) for r in rings):
            break
    return swept.surface(), rings


def _labelled(faces: Surface, label: IntArray) -> Surface:
    return Surface(
        start=faces.start, ring=faces.ring, plane=faces.plane, label=label.astype(np.int32)
    )


def _lifted(faces: Surface, floor: float) -> Surface:
    plane = faces.plane.copy()
    plane[:, 2] += floor
    return faces.with_plane(plane)
