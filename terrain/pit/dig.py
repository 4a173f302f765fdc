"""The dig surface: main floor and sides by wall, then footing trench and extras joined by minimum.

A face's label is `row * 4 + part`: rows are the walls, then the extras in their order.
"""

from dataclasses import dataclass

import numpy as np
import shapely

from terrain.base.arrays import FloatArray, IntArray
from terrain.pit.design import Design, Extra, Piece
from terrain.pit.dig_line import DigLine, dig_line
from terrain.pit.floor import overdig_faces
from terrain.surface.climb import climb, reach_of
from terrain.surface.minimum import footprint, lowest_of
from terrain.surface.moves import VERTICAL
from terrain.surface.outline import Ring
from terrain.surface.patches import Surface, height_on, join_faces, labelled, lifted, tilted
from terrain.surface.pieces import level_floor
from terrain.surface.shares import band_faces, core_faces

PARTS = ("core", "overdig", "side", "footing")
CORE, OVERDIG, SIDE, FOOTING = range(4)


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
        outline: the rings where the swept sides end, above the highest ground.
        covered: all ground that the dig surface covers, as polygons.
    """

    main: Surface
    taken: tuple[Taken, ...]
    surface: Surface
    line: DigLine
    extra_lines: tuple[tuple[int, DigLine], ...]
    floors: tuple[float, ...]
    outline: tuple[Ring, ...]
    covered: shapely.Geometry


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
    swept, outline = climb(line.ring, sides, reach_of(ground, design.floor), "dig.side")
    main = lifted(
        join_faces(
            labelled(core, core.label * 4 + CORE),
            labelled(overdig, overdig.label * 4 + OVERDIG),
            labelled(swept, swept.label * 4 + SIDE),
        ),
        design.floor,
    )
    surface, covered = main, footprint(outline)
    taken: list[Taken] = []
    if design.footing is not None:
        trench = design.footing
        band, area = band_faces(design.corners, trench.width - trench.projection, trench.projection)
        band = lifted(labelled(band, band.label * 4 + FOOTING), trench.bottom)
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
        covered=covered,
    )


def _lowest(piece: Piece) -> float:
    return float(height_on(piece.plane, piece.corners).min())


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
    floor_under = height_on(piece.plane, ground[:, :2])
    swept, rings = climb(line.ring, sides, reach_of(ground, floor_under), f"{extra.key}.side")
    floor = level_floor(shapely.Polygon(line.ring.corners), label)
    level = join_faces(floor, labelled(swept, np.full(len(swept), label)))
    return tilted(level, piece.plane), rings, line
