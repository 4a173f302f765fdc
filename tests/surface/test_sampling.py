"""Laws of heights sampled from a surface on a grid."""

import numpy as np
import pytest
import shapely

from terrain.surface.patches import from_polygons, join_faces
from terrain.surface.sampling import sample_grid
from tests.surface.made_surfaces import box, footprint, random_tin, turned


def centres(origin, cell, shape):
    north, east = np.indices(shape)
    return np.stack([origin[0] + (east + 0.5) * cell, origin[1] + (north + 0.5) * cell], axis=-1)


def test_row_nought_is_the_southernmost_and_column_nought_the_westernmost():
    grid = sample_grid(box(0, 0, 3, 2, 0.0, 1.0, 10.0), (0.0, 0.0), 1.0, (2, 3))
    assert grid.tolist() == [[5.5, 6.5, 7.5], [15.5, 16.5, 17.5]]


@pytest.mark.parametrize("degrees", [0.0, 37.0])
def test_each_cell_has_the_height_of_the_face_that_covers_its_centre(degrees):
    surface = turned(random_tin(3, 60), degrees)
    origin, cell, shape = (-60.0, -55.0), 2.3, (48, 51)
    grid = sample_grid(surface, origin, cell, shape)
    plan = centres(origin, cell, shape).reshape(-1, 2)
    wanted = np.full(len(plan), np.nan)
    for face in range(len(surface)):
        inside = shapely.intersects_xy(shapely.Polygon(surface.corners(face)), *plan.T)
        wanted[inside] = surface.upward_at(face, plan[inside])
    np.testing.assert_allclose(grid.ravel(), wanted, rtol=0, atol=1e-9)
    assert 0 < np.isnan(grid).sum() < grid.size


def test_no_cell_is_missed_where_faces_meet():
    surface = random_tin(8, 3000)
    inner = footprint(surface).buffer(-0.5)
    origin, cell, shape = (-50.0, -50.0), 0.1, (1000, 1000)
    plan = centres(origin, cell, shape)
    grid = sample_grid(surface, origin, cell, shape)
    inside = shapely.contains_xy(inner, plan[..., 0], plan[..., 1])
    assert not np.isnan(grid[inside]).any()


def test_centres_on_common_edges_and_corners_are_covered():
    tiles = join_faces(
        *(box(i - 0.5, j - 0.5, i + 0.5, j + 0.5) for i in range(4) for j in range(4))
    )
    assert not np.isnan(sample_grid(tiles, (-0.5, -0.5), 0.25, (16, 16))).any()
    assert not np.isnan(sample_grid(tiles, (-0.75, -0.75), 0.5, (9, 9))).any()


def test_where_a_centre_lies_on_a_jump_the_later_face_holds():
    low, high = box(0, 0, 1, 1, 1.0), box(1, 0, 2, 1, 9.0)
    one = sample_grid(join_faces(low, high), (0.5, 0.0), 1.0, (1, 1))
    other = sample_grid(join_faces(high, low), (0.5, 0.0), 1.0, (1, 1))
    assert (one[0, 0], other[0, 0]) == (9.0, 1.0)


def test_a_grid_beyond_the_surface_and_an_empty_surface_are_all_nan():
    none = from_polygons([], np.zeros((0, 5)), np.zeros(0))
    assert np.isnan(sample_grid(none, (0, 0), 1.0, (3, 4))).all()
    assert np.isnan(sample_grid(box(0, 0, 1, 1), (5, 5), 1.0, (3, 4))).all()
    assert sample_grid(box(0, 0, 1, 1), (0, 0), 1.0, (0, 4)).shape == (0, 4)


def test_the_sum_over_fine_cells_nears_the_volume_under_the_surface():
    grid = sample_grid(box(0, 0, 4, 4, 1.0, 0.5, 0.25), (0.0, 0.0), 0.01, (400, 400))
    assert abs(grid.sum() * 0.01**2 - 16 * (1 + 0.5 * 2 + 0.25 * 2)) < 1e-9
