"""Water on the finished ground: ponds of known volume, ways out, water that comes back."""

import heapq

import numpy as np
import pytest
from scipy import ndimage

from terrain.base.frame import LocalFrame
from terrain.base.units import FOOT, METRE
from terrain.job.rasters import FLOW_CELLS, flow_grid, lot_grid
from terrain.lot.flow import flow_over
from terrain.lot.flow_record import FlowLimits, flow_limits
from terrain.lot.grids import heights_at, held_heights
from terrain.surface.patches import from_polygons
from tests.lot.made_lot import HOUSE, LOT, apron, keep, lot, pad, plane, rotation, swale, waves
from tests.surface.made_surfaces import random_tin

LIMITS = flow_limits(FOOT)


def grid(boundary=LOT, unit=FOOT):
    return flow_grid(boundary, LocalFrame(), unit)


def flow(ground, finished, limits=LIMITS):
    return flow_over(ground, finished, grid(finished.design.boundary), limits)


def pitted(depth=2.0, west=55.0, south=40.0, width=30.0, tilt=(0.0, 0.0)):
    """Ground at 100 with an upside-down pyramid in it, `width` wide and `depth` deep."""
    east, north, middle = west + width, south + width, [west + width / 2, south + width / 2]
    pit = [[west, south], [east, south], [east, north], [west, north]]
    rim = [[-90.0, -90.0], [130.0, -90.0], [130.0, 120.0], [-90.0, 120.0]]
    polygons, planes = [], []
    steep = depth / (width / 2)
    for k, slope in enumerate([[0.0, -steep], [steep, 0.0], [0.0, steep], [-steep, 0.0]]):
        a, b = pit[k], pit[(k + 1) % 4]
        polygons += [np.array([a, b, middle]), np.array([rim[k], rim[(k + 1) % 4], b, a])]
        planes += [[*a, 100.0, *slope], [*a, 100.0, 0.0, 0.0]]
    surface = from_polygons(polygons, np.array(planes), np.zeros(8))
    tilted = surface.plane.copy()
    tilted[:, 2] += tilted[:, :2] @ tilt
    tilted[:, 3:] += tilt
    return surface.with_plane(tilted)


@pytest.mark.parametrize(
    ("per_easting", "per_northing"), [(0.02, 0.0), (-0.03, 0.01), (0.0, -0.05), (0.011, 0.013)]
)
@pytest.mark.parametrize("degrees", [0.0, 27.0])
def test_a_plane_holds_no_water_and_wets_no_wall(per_easting, per_northing, degrees):
    ground = plane(100.0, per_easting, per_northing, degrees)
    found = flow(ground, lot(degrees=degrees))
    assert found.ponds == ()
    assert found.returns == ()
    assert sum(out.area for out in found.outlets) > 0.9 * (160.0 * 150.0 - 1200.0)


def test_water_leaves_a_plane_on_its_low_side():
    found = flow(plane(100.0, 0.03), lot())
    (out,) = found.outlets
    assert out.spot[0] == pytest.approx(-60.0, abs=1.0)
    assert out.width == pytest.approx(150.0, abs=3.0)
    assert out.area == pytest.approx(160.0 * 150.0 - 1200.0, rel=0.03)


def test_a_bowl_holds_the_pyramid_s_volume():
    # (1/3) x 30 x 30 x 2 = 600 cubic feet, to the level of its rim
    found = flow(pitted(), lot())
    (pond,) = found.ponds
    assert pond.volume == pytest.approx(600.0, rel=2e-3)
    assert pond.depth == pytest.approx(2.0, abs=0.04)
    assert pond.area == pytest.approx(900.0, rel=0.08)
    assert pond.level == pytest.approx(100.0, abs=1e-3)
    np.testing.assert_allclose(pond.spot, [70.0, 55.0], atol=0.5)
    assert pond.wall is None


def test_a_bowl_on_a_slope_holds_what_lies_under_its_lowest_rim():
    # oracle: the plain cells of a much finer grid under the level of the rim's lowest corner
    found = flow(pitted(tilt=(0.02, 0.0)), lot())
    (pond,) = found.ponds
    level = 100.0 + 0.02 * 55.0
    east, north = np.meshgrid(np.arange(55.05, 85.0, 0.1), np.arange(40.05, 70.0, 0.1))
    off = np.maximum(abs(east - 70.0), abs(north - 55.0))
    ground = 100.0 - 2.0 * (1.0 - off / 15.0) + 0.02 * east
    under = np.maximum(level - ground, 0.0)
    assert pond.volume == pytest.approx(under.sum() * 0.01, rel=0.02)
    assert pond.level == pytest.approx(level, abs=0.02)


def test_a_swale_out_of_the_bowl_carries_its_water_off():
    ground = pitted(tilt=(0.0, -0.08))
    (pond,) = flow(ground, lot()).ponds
    assert pond.depth == pytest.approx(0.8, abs=0.07)
    ditch = swale([[70.0, 55.0], [70.0, 95.0]], [93.55, 92.75])
    found = flow(ground, lot(swales=(ditch,)))
    assert found.ponds == ()


def test_a_swale_across_a_slope_gathers_its_water_and_lets_it_out_at_its_end():
    ground = plane(100.0, -0.02, -0.03)
    spread = flow(ground, lot())
    ditch = swale([[60.0, -50.0], [60.0, 95.0]], [99.3, 95.924])
    found = flow(ground, lot(swales=(ditch,)))
    assert found.ponds == ()
    np.testing.assert_allclose(found.outlets[0].spot, [60.0, 90.0], atol=1.5)
    assert abs(spread.outlets[0].spot[0] - 60.0) > 5.0


def test_a_swale_that_ends_at_the_lot_line_below_the_ground_beyond_holds_water():
    ditch = swale([[70.0, 55.0], [70.0, 105.0]], [97.9, 97.4])
    (pond,) = flow(pitted(), lot(swales=(ditch,))).ponds
    assert pond.depth == pytest.approx(100.0 - 97.55, abs=0.02)


def test_a_patio_that_slopes_to_the_house_holds_water_against_its_wall():
    patio = pad([[5, -20], [25, -20], [25, 0], [5, 0]], 100.4, 0.0, -0.02)
    found = flow(plane(100.0), lot(pads=(patio,)))
    (pond,) = found.ponds
    assert pond.wall == 0
    # it fills from the wall, 0.4 below the outer edge, as far as ground to its sides lets it
    assert 0.1 < pond.depth <= 0.4
    assert pond.spot[1] > -1.0


def test_a_hill_that_runs_to_the_house_is_told_with_the_wall_it_wets():
    # nothing may be graded behind the house, and there the ground falls towards it
    behind = keep([[-15, 31], [55, 31], [55, 85], [-15, 85]])
    found = flow(plane(99.0, 0.003, 0.04), lot(keeps=(behind,), apron=apron(0.0, 100.2)))
    walls = {back.wall for back in found.returns} | {pond.wall for pond in found.ponds}
    assert 2 in walls


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_no_pond_is_told_for_the_noise_of_a_survey(seed):
    # shots every 3.5 ft or so that err by 0.03 ft (common for a rover) on ground that falls 3 %
    points = random_tin(seed, 4000, reach=125.0, relief=0.0)
    noise = np.random.default_rng(seed)
    heights = {}
    plane_rows = []
    for face in range(len(points)):
        corners = points.corners(face)
        up = [
            heights.setdefault(tuple(c), 100.0 + 0.03 * c[0] + 0.03 * noise.normal())
            for c in corners
        ]
        gradient = np.linalg.solve(np.diff(corners, axis=0), np.diff(up))
        plane_rows.append([*corners[0], up[0], *gradient])
    found = flow(points.with_plane(np.array(plane_rows)), lot())
    assert found.ponds == ()
    assert found.returns == ()


def filled_slowly(height, house):
    """How deep each cell is flooded from the survey's edge: priority-flood in float64.

    After Barnes, Lehman and Mulla 2014; the house stands dry.
    """
    known = ~np.isnan(height) | house
    inner = ndimage.binary_erosion(known, np.ones((3, 3)))
    ground = np.where(house, 1000.0, height)
    filled = np.full(height.shape, np.inf)
    queue = [(ground[r, c], r, c) for r, c in np.argwhere(known & ~inner)]
    for level, row, column in queue:
        filled[row, column] = level
    heapq.heapify(queue)
    while queue:
        level, row, column = heapq.heappop(queue)
        for r, c in np.ndindex(3, 3):
            r, c = r + row - 1, c + column - 1
            inside = 0 <= r < height.shape[0] and 0 <= c < height.shape[1]
            if inside and known[r, c] and np.isinf(filled[r, c]):
                filled[r, c] = max(ground[r, c], level)
                heapq.heappush(queue, (filled[r, c], r, c))
    return np.where(known & ~house, filled - ground, 0.0)


@pytest.mark.parametrize("degrees", [0.0, 11.0])
def test_ponds_hold_what_a_slow_flood_of_the_same_cells_holds(degrees):
    ground, finished = waves(), lot(degrees=degrees)
    cells = lot_grid(1.2 * finished.design.boundary, LocalFrame(), FOOT, 1.5)
    every = FlowLimits(pond_depth=1e-3, pond_area=0.0, returned_area=1.0, outlet_share=0.05)
    found = flow_over(ground, finished, cells, every)
    turned = cells.centres() @ rotation(degrees).T
    house = ((turned > 0) & (turned < HOUSE[2])).all(axis=-1)
    in_lot = ((turned > LOT[0]) & (turned < LOT[2])).all(axis=-1)
    held = held_heights(heights_at(ground, cells), finished, cells)
    depth = filled_slowly(held, house)
    number, _ = ndimage.label(depth > 1e-4, np.ones((3, 3)))
    wanted = {}
    for one in np.unique(number[in_lot & (number > 0)]):
        if depth[number == one].max() > 1e-3:
            wanted[one] = depth[number == one].sum() * cells.cell**2
    assert len(found.ponds) == len(wanted) > 0
    got = [pond.volume for pond in found.ponds]
    np.testing.assert_allclose(got, sorted(wanted.values(), reverse=True), rtol=1e-3, atol=1e-3)


def test_no_outlet_takes_more_than_the_lot_gives():
    for ground in (waves(), plane(100.0, 0.01, 0.002), pitted()):
        found = flow(ground, lot())
        assert sum(out.area for out in found.outlets) <= 160.0 * 150.0 - 1200.0 + 1e-6


def test_a_survey_that_ends_at_the_lot_line_lets_water_out_there():
    ring = LOT + np.array([[-0.5, -0.5], [0.5, -0.5], [0.5, 0.5], [-0.5, 0.5]])
    ground = from_polygons([ring], np.array([[0.0, 0.0, 100.0, 0.0, 0.03]]), [0])
    found = flow(ground, lot())
    assert found.ponds == ()
    assert found.outlets[0].spot[1] == pytest.approx(-60.0, abs=1.0)
    assert found.outlets[0].area > 0.9 * (160.0 * 150.0 - 1200.0)


def test_the_grid_of_flow_is_half_the_usual_cell_and_never_too_large():
    assert grid().cell == 0.5
    assert grid(LOT / 4, METRE).cell == 0.125
    large = grid(40.0 * LOT)
    assert FLOW_CELLS / 5 < large.rows * large.columns <= FLOW_CELLS
    assert grid().west == LOT[0, 0] - 20.0
