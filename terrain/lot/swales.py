"""Swales: ditches cut below the finished lot, each a bottom with its sides."""

import numpy as np
import shapely

from terrain.base.arrays import FloatArray
from terrain.lot.design import Swale
from terrain.surface.climb import climb, reach_of
from terrain.surface.minimum import footprint, lowest_of
from terrain.surface.moves import VERTICAL
from terrain.surface.outline import ring_through
from terrain.surface.patches import Surface, height_on, join_faces, labelled, tilted
from terrain.surface.pieces import level_floor
from terrain.surface.strips import strip_pieces


def bottom_planes(swale: Swale) -> FloatArray:
    """The plane (n - 1, 5) of each segment's bottom, falling along it from invert to invert."""
    steps = np.diff(swale.line, axis=0)
    lengths = np.hypot(steps[:, 0], steps[:, 1])
    per_run = (np.diff(swale.inverts) / lengths)[:, None] * steps / lengths[:, None]
    return np.column_stack([swale.line[:-1], swale.inverts[:-1], per_run])


def swale_surface(swale: Swale, ground: FloatArray, label: int) -> tuple[Surface, shapely.Geometry]:
    """The bottom and sides of a swale, carried up above all of `ground` (n, 3), and its area.

    Segments share their mitres, where they have no sides; elsewhere the lower of them holds.

    Raises:
        DesignError: at the swale's key, where its sides make steps without end.
    """
    pieces = strip_pieces(swale.line, swale.width)
    planes = bottom_planes(swale)
    surface, area = None, shapely.Polygon()
    for i, (corners, plane) in enumerate(zip(pieces, planes, strict=True)):
        shared = {3} if i > 0 else set()
        shared |= {1} if i < len(pieces) - 1 else set()
        sides = [VERTICAL if edge in shared else swale.side for edge in range(4)]
        floor_under = height_on(plane, ground[:, :2])
        swept, rings = climb(
            ring_through(corners, range(4)),
            sides,
            reach_of(ground, floor_under),
            f"{swale.key}.side",
        )
        level = join_faces(level_floor(shapely.Polygon(corners), label), swept)
        solid = tilted(labelled(level, np.full(len(level), label)), plane)
        own = footprint(rings)
        if surface is None:
            surface, area = solid, own
        else:
            surface = lowest_of(surface, solid, area, own).lowest
            area = area.union(own)
    assert surface is not None, "a line has one segment at least"
    return surface, area
