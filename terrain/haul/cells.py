"""The dig cut into cells, each with its exact bank volume: overlays only, nothing is sampled."""

from dataclasses import dataclass

import numpy as np
import shapely

from terrain.base.arrays import BoolArray, FloatArray, IntArray
from terrain.pit.dig import SIDE, Dig, part_of, row_of
from terrain.surface.minimum import sound_parts
from terrain.surface.moves import Side, run_to_climb
from terrain.surface.overlay import overlay, overlay_faces
from terrain.surface.patches import Surface, from_polygons
from terrain.surface.pieces import level_planes

MOST_CELLS = 1000
"""A grid is made no finer than about so many cells over the cut."""

SIDE_BIT = 2

FLAT = 1e-3
"""Length units of depth below which there is no face."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cells:
    """Pieces of the dig, (n,) each. Volumes in cubic length units in bank.

    Args:
        shape: plan polygon of each, as drawn (its box corners decide nothing but reach).
        middle: (n, 2).
        bank: what comes out, down to the dig.
        topsoil: of it, topsoil.
        bottom: elevation of the lowest of the dig in it.
        row: the row of the ledger that most of it belongs to: walls, then extras.
        side: whether it lies outside the dig line.
        size: the side of a whole cell.
    """

    shape: list[shapely.Geometry]
    middle: FloatArray
    bank: FloatArray
    topsoil: FloatArray
    bottom: FloatArray
    row: IntArray
    side: BoolArray
    size: float

    def __len__(self) -> int:
        return len(self.bank)


@dataclass(frozen=True, slots=True, kw_only=True)
class Digging:
    """What is dug: the `dig` below `ground` (its faces near the cut), as far as `region` in plan.

    `topsoil` is its depth, `along` (2,) a unit vector that the rows of cells follow.
    """

    ground: Surface
    dig: Dig
    region: shapely.Geometry
    topsoil: float
    along: FloatArray


def cells_of(asked: Digging, size: float) -> Cells:
    """The dig in square cells, parted along the dig line; those that give nothing are left out.

    Args:
        asked: ground, dig and where it is cut.
        size: side of a cell; made larger where there would be more than `MOST_CELLS`.
    """
    size = max(size, float(np.sqrt(asked.region.area / MOST_CELLS)))
    grid = _grid(asked.region, asked.along, size)
    surface = asked.dig.surface
    held = overlay_faces(surface, grid)
    every = np.ones(len(held), dtype=bool)
    parts = sound_parts(held, every, surface, held.a)
    cell = sound_parts(held, every, grid, held.b).label
    side = part_of(parts.label) == SIDE
    side &= row_of(parts.label) < _walls(asked.dig)
    kind = cell.astype(np.int64) * SIDE_BIT + side
    found, label = np.unique(kind, return_inverse=True)
    pairs = overlay(asked.ground, parts)
    piece = label[pairs.b]
    count = len(found)
    bank: FloatArray = np.asarray(np.bincount(piece, pairs.volume_above, count), dtype=np.float64)
    bottom = _bottoms(parts, label, count)
    row = _main_row(row_of(parts.label)[pairs.b], piece, pairs.volume_above, count)
    topsoil = _topsoil(asked, parts, label, bank)
    shapes = _shapes(parts, label, asked.region, count)
    kept = np.flatnonzero(bank > 0.0)
    shapes = [shapes[k] for k in kept]
    return Cells(
        shape=shapes,
        middle=_middles(shapes),
        bank=bank[kept],
        topsoil=topsoil[kept],
        bottom=bottom[kept],
        row=row[kept],
        side=found[kept] % SIDE_BIT == 1,
        size=size,
    )


def lay_of(cells: Cells, depth: FloatArray, sides: tuple[Side, ...]) -> FloatArray:
    """(n,): how far a side as drawn runs for its height, at each cell's depth.

    Args:
        cells: those of a wall are held to its own side, those of ramps, pits and trenches to the
            flattest of all.
        depth: (n,) of each.
        sides: of the walls, by row.
    """
    lay = np.zeros(len(cells))
    for k, (row, height) in enumerate(zip(cells.row.tolist(), depth.tolist(), strict=True)):
        own = (sides[row],) if row < len(sides) else sides
        if height > FLAT:
            lay[k] = max(run_to_climb(side, height) for side in own) / height
    return lay


def _walls(dig: Dig) -> int:
    """How many rows are walls: the rest, by `extra_lines`, are extras."""
    extras = {row for row, _ in dig.extra_lines}
    return len(dig.floors) - len(extras)


def _grid(region: shapely.Geometry, along: FloatArray, size: float) -> Surface:
    """Square faces at height 0 over a region, their sides along `along`, labelled by number."""
    turn = np.array([along, [-along[1], along[0]]])
    spots = shapely.get_coordinates(region) @ turn.T
    low = spots.min(axis=0) - 1e-3 * size
    counts = np.ceil((spots.max(axis=0) + 1e-3 * size - low) / size).astype(int)
    i, j = np.meshgrid(np.arange(counts[0]), np.arange(counts[1]), indexing="ij")
    south_west = low + size * np.column_stack([i.ravel(), j.ravel()])
    square = np.array([[0.0, 0.0], [size, 0.0], [size, size], [0.0, size]])
    polygons = list((south_west[:, None] + square) @ turn)
    return from_polygons(polygons, level_planes(polygons), np.arange(len(polygons)))


def _bottoms(parts: Surface, label: IntArray, count: int) -> FloatArray:
    face = np.repeat(np.arange(len(parts)), np.diff(parts.start))
    plane = parts.plane[face]
    upward = plane[:, 2] + ((parts.ring - plane[:, :2]) * plane[:, 3:]).sum(axis=1)
    bottom: FloatArray = np.full(count, np.inf)
    np.minimum.at(bottom, label[face], upward)
    return bottom


def _main_row(row: IntArray, piece: IntArray, volume: FloatArray, count: int) -> IntArray:
    """For each piece the row that has most of its volume."""
    rows = int(row.max(initial=0)) + 1
    share = np.bincount(piece * rows + row, volume, count * rows).reshape(count, rows)
    return np.asarray(share.argmax(axis=1))


def _topsoil(asked: Digging, parts: Surface, label: IntArray, bank: FloatArray) -> FloatArray:
    if asked.topsoil == 0.0:
        return np.zeros(len(bank))
    plane = asked.ground.plane.copy()
    plane[:, 2] -= asked.topsoil
    pairs = overlay(asked.ground.with_plane(plane), parts)
    below = np.bincount(label[pairs.b], pairs.volume_above, len(bank))
    return np.asarray(np.clip(bank - below, 0.0, bank))


def _shapes(
    parts: Surface, label: IntArray, region: shapely.Geometry, count: int
) -> list[shapely.Geometry]:
    """Each piece's plan as one shape, as far as the cut reaches."""
    polygons = [shapely.Polygon(parts.corners(face)) for face in range(len(parts))]
    owned: list[list[shapely.Geometry]] = [[] for _ in range(count)]
    for polygon, piece in zip(polygons, label.tolist(), strict=True):
        owned[piece].append(polygon)
    whole = np.array([shapely.union_all(own, grid_size=1e-7) for own in owned], dtype=object)
    shapely.prepare(region)
    inside = shapely.contains_properly(region, whole)
    cut = np.where(inside, whole, shapely.intersection(whole, region))
    return [one if one.area > 0 else other for one, other in zip(cut, whole, strict=True)]


def _middles(shapes: list[shapely.Geometry]) -> FloatArray:
    return np.asarray(shapely.get_coordinates(shapely.centroid(shapes)))
