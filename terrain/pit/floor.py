"""The main floor cut into what belongs to each wall: core inside the outline, overdig outside."""

from collections.abc import Sequence

import numpy as np
import shapely
from shapely.geometry import Polygon

from terrain.base.arrays import FloatArray
from terrain.pit.dig_line import DigLine
from terrain.surface.minimum import around, footprint, sound_parts, span
from terrain.surface.outline import outline_area, ring_area, ring_through
from terrain.surface.overlay import overlay_faces
from terrain.surface.patches import Surface, from_polygons, join_faces
from terrain.surface.pieces import convex_pieces, level_planes
from terrain.surface.sweep import Swept, advance

SAME_AREA = 1e-9
MOST_MOVES_INTO_A_GAP = 10_000


def overdig_faces(corners: FloatArray, overdigs: Sequence[float], line: DigLine) -> Surface:
    """The floor between outline and dig line, labelled by wall, at height 0.

    Each wall moves out by its own overdig in one unit of time, so a point goes to the wall that
    reaches it first: the least distance over own overdig, within the wall's own strip. Ground left
    standing between fronts that closed is shared out by letting them go on.
    """
    n = len(corners)
    swept = Swept()
    rings = advance([ring_through(corners, range(n))], overdigs, 0.0, 0.0, swept)
    islands = [r for r in rings if ring_area(r.corners) < 0]
    for _ in range(MOST_MOVES_INTO_A_GAP):
        before = outline_area(islands)
        islands = advance(islands, overdigs, 0.0, 0.0, swept) if islands else []
        if not islands or abs(outline_area(islands) - before) <= SAME_AREA * abs(before):
            break
    faces = swept.surface()
    reached = footprint([r for r in rings if ring_area(r.corners) > 0])
    left = shapely.union_all([Polygon(r.corners) for r in islands])
    floor = Polygon(line.ring.corners)
    if not islands and reached.symmetric_difference(floor).area <= SAME_AREA * floor.area:
        return faces
    return _fitted(faces, reached.difference(left), line, corners, overdigs)


def _fitted(
    faces: Surface,
    reached: shapely.Geometry,
    line: DigLine,
    corners: FloatArray,
    overdigs: Sequence[float],
) -> Surface:
    """The faces cut to the dig line; floor that none of them reached goes to the nearest wall."""
    band = Polygon(line.ring.corners).difference(Polygon(corners))
    pieces = convex_pieces(band)
    floor = from_polygons(pieces, level_planes(pieces), np.zeros(len(pieces), dtype=np.int32))
    held = overlay_faces(floor, faces)
    kept = sound_parts(held, np.ones(len(held), dtype=bool), faces, held.b)
    bare = overlay_faces(floor, around(reached, *span(floor, faces)))
    rest = sound_parts(bare, np.ones(len(bare), dtype=bool), floor, bare.a)
    walls = [shapely.LineString(w) for w in zip(corners, np.roll(corners, -1, axis=0), strict=True)]
    nearest = []
    for face in range(len(rest)):
        middle = shapely.Point(rest.corners(face).mean(axis=0))
        shares = [
            w.distance(middle) / o if o > 0 else np.inf
            for w, o in zip(walls, overdigs, strict=True)
        ]
        nearest.append(int(np.argmin(shares)))
    label = np.array(nearest, dtype=np.int32)
    return join_faces(
        kept, Surface(start=rest.start, ring=rest.ring, plane=rest.plane, label=label)
    )
