"""Laws of sharing what lies between surfaces out among the cells of a grid."""

from fractions import Fraction

import numpy as np
import pytest
import shapely

from terrain.surface.gridding import Grid, shared_to_cells
from terrain.surface.overlay import overlay, overlay_faces
from terrain.surface.patches import from_polygons
from tests.surface.made_surfaces import box, random_tin, same, turned


def grid(cell, reach=80.0, shift=0.0):
    count = int(np.ceil(2 * reach / cell)) + 1
    return Grid(west=-reach - shift, south=-reach - shift / 2, cell=cell, rows=count, columns=count)


def parts_between(seed=1, degrees=0.0):
    return overlay_faces(turned(random_tin(seed, 200), degrees), box(-35, -35, 35, 35, 100.0))


@pytest.mark.parametrize("cell", [0.4, 1.0, 3.7, 200.0])
@pytest.mark.parametrize("degrees", [0.0, 31.0])
def test_cells_sum_to_the_overlay_whatever_their_size(cell, degrees):
    a, b = turned(random_tin(1, 200), degrees), box(-35, -35, 35, 35, 100.0)
    parts, whole = overlay_faces(a, b), overlay(a, b)
    cells = shared_to_cells(parts.start, parts.ring, parts.depth, grid(cell))
    gross = whole.volume_above.sum() + whole.volume_below.sum()
    same(cells.sum(), whole.volume_above.sum() - whole.volume_below.sum(), gross)
    areas = shared_to_cells(parts.start, parts.ring, np.ones(len(parts.ring)), grid(cell))
    same(areas.sum(), whole.area.sum(), whole.area.sum())
    assert areas.min() >= 0.0
    assert areas.max() <= cell**2 * (1 + 1e-12)


def test_each_cell_has_what_geos_cuts_out_for_it():
    parts, cells = parts_between(), grid(7.3, shift=1.1)
    got = shared_to_cells(parts.start, parts.ring, parts.depth, cells)
    wanted = np.zeros(cells.shape)
    for k in range(len(parts)):
        own = slice(parts.start[k], parts.start[k + 1])
        ring, depth = parts.ring[own], parts.depth[own]
        flat = np.column_stack([ring - ring[0], np.ones(len(ring))])
        fit, *_ = np.linalg.lstsq(flat, depth, rcond=None)
        low = ((ring.min(axis=0) - [cells.west, cells.south]) / cells.cell).astype(int)
        high = ((ring.max(axis=0) - [cells.west, cells.south]) / cells.cell).astype(int)
        for row, column in np.ndindex(*(high - low + 1)[::-1]):
            row, column = row + low[1], column + low[0]
            west, south = cells.west + column * cells.cell, cells.south + row * cells.cell
            cut = shapely.Polygon(ring).intersection(
                shapely.box(west, south, west + cells.cell, south + cells.cell)
            )
            if cut.area > 0:
                middle = np.array([cut.centroid.x, cut.centroid.y]) - ring[0]
                wanted[row, column] += cut.area * float(fit @ [*middle, 1.0])
    np.testing.assert_allclose(got, wanted, rtol=0, atol=1e-9 * np.abs(wanted).max())


def test_a_triangle_over_four_cells_by_hand():
    # the triangle (0, 0), (2, 0), (0, 2) with height = easting, in exact fractions:
    # the integral of e over [0, 1] x [0, 1] is 1/2, over each small triangle by its centroid
    one = from_polygons([np.array([[0.0, 0.0], [2.0, 0.0], [0.0, 2.0]])], np.zeros((1, 5)), [0])
    cells = Grid(west=0.0, south=0.0, cell=1.0, rows=2, columns=2)
    got = shared_to_cells(one.start, one.ring, one.ring[:, 0], cells)
    wanted = [[Fraction(1, 2), Fraction(1, 2) * Fraction(4, 3)], [Fraction(1, 2) / 3, Fraction(0)]]
    np.testing.assert_allclose(got, np.array(wanted, dtype=float), rtol=1e-15, atol=1e-16)


def test_corners_on_lines_of_the_grid_lose_nothing():
    squares = [shapely.box(i, j, i + 2, j + 2) for i in range(-4, 4, 2) for j in range(-4, 4, 2)]
    rings = [np.array(s.exterior.coords)[:-1][::-1] for s in squares]
    rings = [r if shapely.LinearRing(r).is_ccw else r[::-1] for r in rings]
    faces = from_polygons(rings, np.zeros((len(rings), 5)), np.zeros(len(rings)))
    cells = Grid(west=-4.0, south=-4.0, cell=1.0, rows=8, columns=8)
    got = shared_to_cells(faces.start, faces.ring, np.ones(len(faces.ring)), cells)
    assert (got == 1.0).all()


def test_the_order_of_parts_changes_no_cell():
    parts, cells = parts_between(5), grid(2.0)
    order = np.random.default_rng(0).permutation(len(parts))
    pieces = [np.arange(parts.start[k], parts.start[k + 1]) for k in order]
    start = np.concatenate([[0], np.cumsum([len(p) for p in pieces])])
    index = np.concatenate(pieces)
    one = shared_to_cells(parts.start, parts.ring, parts.depth, cells)
    two = shared_to_cells(start, parts.ring[index], parts.depth[index], cells)
    np.testing.assert_allclose(two, one, rtol=0, atol=1e-12 * np.abs(one).max())


def test_no_polygon_gives_empty_cells():
    cells = Grid(west=0.0, south=0.0, cell=1.0, rows=2, columns=3)
    got = shared_to_cells(np.zeros(1, dtype=np.int64), np.zeros((0, 2)), np.zeros(0), cells)
    assert got.tolist() == [[0.0] * 3] * 2
