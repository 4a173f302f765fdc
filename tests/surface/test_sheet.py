"""The lowest sheet of triangles above one another, against brute force and closed forms."""

import numpy as np
import pytest
import shapely
from scipy.spatial import Delaunay

from terrain.surface.boundary import boundary_edges, boundary_rings, triangle_areas
from terrain.surface.ready import (
    facing,
    fineness,
    overlaps,
    plan_neighbours,
    ready_tin,
    without_jumps,
)
from terrain.surface.sheet import lowest_sheet
from terrain.surface.spikes import find_spikes
from terrain.surface.tin import build_tin


def patch(rng, count, size, at, height):
    """A square of triangles facing up; `height` maps plan (n, 2) to elevations."""
    ends = size * np.array([[0, 0], [1, 0], [1, 1], [0, 1]])
    plan = np.vstack([rng.uniform(0, size, (count, 2)), ends])
    corners = Delaunay(plan).simplices
    one, two = (plan[corners[:, k]] - plan[corners[:, 0]] for k in (1, 2))
    right = one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0] < 0
    corners[right] = corners[right][:, ::-1]
    plan = plan + at
    return np.column_stack([plan, height(plan)]), corners


def together(*parts):
    before = np.cumsum([0, *(len(points) for points, _ in parts)])
    points = np.vstack([p for p, _ in parts])
    return points, np.vstack([c + k for (_, c), k in zip(parts, before, strict=False)])


def lowest(points, corners):
    return lowest_sheet(points, corners, overlaps(points, corners, fineness(points)))


def tin_of(sheet):
    return ready_tin(sheet.points, sheet.corners, np.arange(len(sheet.points)))


def volume(tin):
    return float((triangle_areas(tin) * tin.points[tin.triangles][:, :, 2].mean(axis=1)).sum())


def heights_by_brute_force(points, corners, spots):
    """The least height of all triangles over each spot, +inf where there is none."""
    least = np.full(len(spots), np.inf)
    for a, b, c in points[corners]:
        matrix = np.array([b[:2] - a[:2], c[:2] - a[:2]]).T
        share = np.linalg.solve(matrix, (spots - a[:2]).T)
        inside = (share >= 0).all(axis=0) & (share.sum(axis=0) <= 1)
        height = a[2] + share[0] * (b[2] - a[2]) + share[1] * (c[2] - a[2])
        least = np.where(inside, np.minimum(least, height), least)
    return least


def tilted(tilt):
    """Heights of a plane."""
    return lambda plan: 9 * tilt[0] + plan @ tilt[1:]


def squares(*parts):
    """The ground that square patches cover together."""
    bounds = [(*p[:, :2].min(axis=0), *p[:, :2].max(axis=0)) for p, _ in parts]
    return shapely.union_all([shapely.box(*b) for b in bounds])


def require_sound(tin, covered):
    """Nothing overlaps, no slit is left inside, and the ground is all that the sheets cover."""
    assert len(overlaps(tin.points, tin.triangles, 1e-9)) == 0
    assert triangle_areas(tin).sum() == pytest.approx(covered.area, rel=1e-9)
    rim = tin.points[boundary_edges(tin), :2]
    assert np.hypot(*(rim[:, 1] - rim[:, 0]).T).sum() == pytest.approx(covered.length, rel=1e-6)
    rings = [shapely.Polygon(tin.points[ring, :2]).area for ring in boundary_rings(tin)]
    assert sum(rings) >= covered.area * (1 - 1e-9)


def test_one_sheet_stays_as_it_is():
    rng = np.random.default_rng(3)
    points, corners = patch(rng, 80, 50.0, (0, 0), lambda p: p[:, 0] / 7)
    sheet = lowest(points, corners)
    assert sheet.corners is corners
    assert sheet.made == 0
    assert sheet.overhangs == ()


@pytest.mark.parametrize("seed", range(4))
def test_a_table_over_the_ground_is_an_overhang_and_the_ground_under_it_stays(seed):
    rng = np.random.default_rng(seed)
    ground = patch(rng, 60, 50.0, (0, 0), lambda p: 0.1 * p[:, 0])
    table = patch(rng, 20, 10.0, (20.3, 21.7), lambda p: 0 * p[:, 0] + 9)
    parts = ground, table
    points, corners = together(*parts)
    sheet = lowest(points, corners)
    tin = tin_of(sheet)
    require_sound(tin, squares(*parts))
    assert volume(tin) == pytest.approx(0.1 * 50**3 / 2, rel=1e-13)
    [hang] = sheet.overhangs
    assert hang.area == pytest.approx(100.0, rel=1e-12)
    assert 9 - 3.03 < hang.height < 9 - 2.03
    assert 20.3 < hang.spot[0] < 30.3
    assert 21.7 < hang.spot[1] < 31.7


def test_under_a_shelf_that_ends_over_the_ground_the_surface_jumps():
    """Lower half from 0 to 50, upper from 45 on: the lower holds to 50, then the upper."""
    rng = np.random.default_rng(5)
    low = patch(rng, 60, 50.0, (0, 0), lambda p: 0 * p[:, 0] + 5)
    high = patch(rng, 60, 50.0, (45, 3), lambda p: 0 * p[:, 0] + 9)
    parts = low, high
    points, corners = together(*parts)
    sheet = lowest(points, corners)
    tin = tin_of(sheet)
    require_sound(tin, squares(*parts))
    assert volume(tin) == pytest.approx(50 * 50 * 5 + (2500 - 5 * 47) * 9, rel=1e-13)
    assert [h.area for h in sheet.overhangs] == [pytest.approx(5 * 47, rel=1e-12)]
    assert len(boundary_rings(tin)) == 1, "the jump is no rim"
    assert (without_jumps(tin) < 0).sum() > (tin.neighbours < 0).sum()


def test_sheets_that_cross_are_parted_on_the_line_where_they_cross():
    """min(0, e - 10) over a square from 0 to 20: -10 * 10 / 2 * 20."""
    rng = np.random.default_rng(6)
    level = patch(rng, 40, 50.0, (-15, -15), lambda p: 0 * p[:, 0])
    tilted = patch(rng, 30, 20.0, (0, 0), lambda p: p[:, 0] - 10)
    parts = level, tilted
    points, corners = together(*parts)
    tin = tin_of(lowest(points, corners))
    require_sound(tin, squares(*parts))
    assert volume(tin) == pytest.approx(-1000.0, rel=1e-12)


@pytest.mark.parametrize("seed", range(6))
def test_any_heap_of_sheets_gives_the_least_height_everywhere(seed):
    rng = np.random.default_rng(100 + seed)
    tilts = rng.normal(0, 0.3, (7, 3))
    parts = [
        patch(rng, int(rng.integers(1, 12)), rng.uniform(5, 30), rng.uniform(-10, 30, 2), tilted(t))
        for t in tilts
    ]
    points, corners = together(*parts)
    tin = tin_of(lowest(points, corners))
    require_sound(tin, squares(*parts))
    spots = rng.uniform(-12, 62, (4000, 2))
    given = heights_by_brute_force(points, corners, spots)
    found = heights_by_brute_force(tin.points, tin.triangles, spots)
    assert np.isfinite(given).sum() > 300
    np.testing.assert_allclose(found, given, atol=1e-6)


def test_faces_twice_over_are_there_once():
    points, corners = part = patch(np.random.default_rng(8), 30, 20.0, (0, 0), lambda p: p[:, 1])
    tin = tin_of(lowest(points, np.vstack([corners, corners])))
    require_sound(tin, squares(part))
    assert volume(tin) == pytest.approx(20**3 / 2, rel=1e-13)
    assert lowest(points, np.vstack([corners, corners])).overhangs == ()


def test_triangles_are_split_where_a_point_stands_on_their_side():
    """Two triangles beside one: the long side is split, so that no slit is left."""
    points = np.array([[0, 0, 0], [8, 0, 0], [4, 6, 0], [4, 0, 0], [2, -5, 0], [6, -5, 0.0]])
    corners = np.array([[0, 1, 2], [0, 4, 3], [3, 5, 1]])
    before = ready_tin(points, corners, np.arange(6))
    assert len(boundary_edges(before)) == 9
    tin = tin_of(lowest(points, corners))
    assert len(tin) == 4
    assert len(boundary_edges(tin)) == 6
    assert volume(tin) == 0
    require_sound(tin, shapely.Polygon([(0, 0), (2, -5), (4, 0), (6, -5), (8, 0), (4, 6)]))


def test_which_way_a_triangle_faces():
    points = np.array([[0, 0, 0], [4, 0, 1], [0, 3, 2], [2, 0, 7], [1e8, 1e-9, 0.0]])
    corners = np.array([[0, 1, 2], [2, 1, 0], [0, 1, 3], [0, 4, 1]])
    assert facing(points, corners).tolist() == [1, -1, 0, 0]


def test_neighbours_are_those_of_the_builder():
    rng = np.random.default_rng(9)
    tin = build_tin(np.column_stack([rng.uniform(0, 90, (500, 2)), rng.uniform(0, 5, 500)]))
    assert plan_neighbours(tin.points, tin.triangles).tolist() == tin.neighbours.tolist()
    again = ready_tin(tin.points[::-1].copy(), 499 - tin.triangles, np.arange(500)[::-1])
    assert again.points.tolist() == tin.points.tolist()
    assert {tuple(sorted(t)) for t in again.triangles.tolist()} == {
        tuple(sorted(t)) for t in tin.triangles.tolist()
    }


def test_spikes_are_found_on_ground_that_jumps():
    rng = np.random.default_rng(10)
    low = patch(rng, 200, 50.0, (0, 0), lambda p: 0 * p[:, 0] + 5)
    high = patch(rng, 200, 50.0, (45, 0), lambda p: 0 * p[:, 0] + 9)
    points, corners = together(low, high)
    points[17, 2] += 4
    tin = tin_of(lowest(points, corners))
    smooth = type(tin)(
        points=tin.points, triangles=tin.triangles, neighbours=without_jumps(tin),
        shot=tin.shot, fixed=tin.fixed,
    )  # fmt: skip
    assert [s.shot for s in find_spikes(smooth)] == [17]
