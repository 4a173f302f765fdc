"""Random pits in random ground: the engine against solids, sampling, offsets and a slow sweep."""

import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from scipy.spatial import Delaunay

from tests.laws.site import design, excavate, flat
from tests.oracles import dig as slow_dig
from tests.oracles import faces, ground, pointwise, sampling, solids
from tests.oracles.moving import Front

SOLID = 1e-9
SLOW = settings(
    max_examples=25,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow],
)
RUNS = st.sampled_from([0.0, 0.25, 0.5, 0.75, 1.0, 1.5])
OVERDIGS = st.sampled_from([0.0, 0.5, 1.5, 2.0, 3.0])


def lot(seed: int, count: int = 60) -> np.ndarray:
    """Random ground (n, 3) around nought, wide enough for every pit of this module."""
    random = np.random.default_rng(seed)
    plan = np.concatenate([random.uniform(-70, 70, (count, 2)), flat(0.0, 75.0)[:, :2]])
    upward = 0.05 * plan[:, 0] - 0.03 * plan[:, 1] + random.normal(0.0, 0.8, len(plan))
    return np.column_stack([plan, upward])


@st.composite
def convex_outlines(draw) -> np.ndarray:
    """A convex outline round nought whose corners turn by 10 degrees or more."""
    count = draw(st.integers(3, 7))
    start = draw(st.floats(0.0, 6.28))
    gaps = np.array(draw(st.lists(st.floats(1.0, 2.5), min_size=count, max_size=count)))
    turns = start + np.cumsum(gaps) * 2 * np.pi / gaps.sum()
    long, wide = draw(st.floats(12.0, 25.0)), draw(st.floats(8.0, 20.0))
    return np.column_stack([long * np.cos(turns), wide * np.sin(turns)])


@SLOW
@given(convex_outlines(), st.integers(0, 10_000), st.data())
def test_a_convex_pit_in_random_ground_is_the_closed_solid(corners, seed, data):
    count = len(corners)
    runs = np.array(data.draw(st.lists(RUNS, min_size=count, max_size=count)))
    overdig = np.array(data.draw(st.lists(OVERDIGS, min_size=count, max_size=count)))
    points, floor = lot(seed), -9.0
    front = Front.of(corners)
    dug_line = front.points(front.rings[0], front.reach + overdig)
    if not shapely.Polygon(dug_line).covers(shapely.Polygon(corners)):
        overdig[:] = 2.0
    height = float(np.ptp(points[:, 2])) + 15.0
    body = solids.sloped_pit(front.normal, front.reach + overdig, runs, floor, height)
    earth = solids.prisms(points, Delaunay(points[:, :2]).simplices, -60.0)
    wanted = (earth ^ body).volume()
    dug = excavate(design(corners, overdig, runs, floor), points)
    assert dug.total == pytest.approx(wanted, rel=SOLID)


@SLOW
@given(st.integers(0, 10_000), st.data())
def test_walls_that_share_a_convex_pit_share_it_as_the_slow_sweep_does(seed, data):
    corners = data.draw(convex_outlines())
    count = len(corners)
    runs = data.draw(st.lists(RUNS, min_size=count, max_size=count))
    points = lot(seed)
    _assert_same_by_part(corners, [1.5] * count, [[(r, 1.0)] for r in runs], points)


@pytest.mark.parametrize("digits", [1, 2, 3, 4])
@pytest.mark.parametrize("degrees", [7.0, 23.0, 37.0, 61.0])
def test_a_house_with_rounded_corners_once_lost_a_sliver_of_its_core(degrees, digits):
    """Rounded, its long walls are not quite parallel and close on the ridge almost at once."""
    angle = np.radians(degrees)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    house = np.array([[-24.0, -14], [20, -14], [24, -10], [24, 14], [-24, 14]])
    corners = np.round(house @ turn.T, digits)
    points = lot(7, 400)
    _assert_same_by_part(corners, [0.0] * 5, [[(0.0, 1.0)]] * 5, points)


L_CORNERS = np.array([[-20.0, -15], [20, -15], [20, 2], [3, 2], [3, 16], [-20, 16]])
BAY_CORNERS = np.array(
    [[-24.0, -14], [-8, -14], [-5, -17], [3, -17], [6, -14], [24, -14], [24, 14], [-24, 14]]
)
CROOKED = np.array(
    [[-20.0, -14], [16, -18], [22, 4], [8, 6], [11, 17], [-4, 15], [-2, 2], [-18, 5]]
)
STEPS = {
    "bench": [(0.0, 4.0), (2.0, 0.0)],
    "foot": [(0.0, 3.5), (1.0, 1.0)],
    "bench, slope": [(0.0, 3.0), (1.0, 0.0), (0.5, 1.0)],
    "slope": [(0.75, 1.0)],
    "steep": [(0.25, 1.0)],
}


@pytest.mark.parametrize("corners", [L_CORNERS, BAY_CORNERS, CROOKED], ids=["L", "bay", "crooked"])
@pytest.mark.parametrize("seed", range(6))
def test_unlike_sides_round_inside_corners_are_swept_as_the_slow_sweep_does(corners, seed):
    random = np.random.default_rng(100 + seed)
    names = random.choice(list(STEPS), len(corners))
    overdig = random.choice([1.0, 1.5, 2.0], len(corners)).tolist()
    _assert_same_by_part(corners, overdig, [STEPS[n] for n in names], lot(seed))


def _assert_same_by_part(corners, overdig, sides, points) -> None:
    floor = -8.0
    pit = slow_dig.Pit(corners, overdig, sides, floor)
    dug = excavate(design(corners, overdig, sides, floor), points)
    tin = ground.tin_faces(points, Delaunay(points[:, :2]).simplices)
    slow = faces.volume_by_label(tin, slow_dig.faces(pit, float(points[:, 2].max()) - floor))
    for key in set(slow) | set(dug.parts):
        assert dug.parts.get(key, 0.0) == pytest.approx(slow.get(key, 0.0), abs=1e-11 * dug.scale)


@pytest.mark.parametrize("run", [0.25, 0.5, 1.0])
@pytest.mark.parametrize("seed", range(8))
def test_one_side_round_a_ragged_outline_digs_the_mitred_offset(run, seed):
    """Fronts that collide, merge and close courts: area by area against shapely's offset."""
    corners = _ragged(seed)
    dug = excavate(design(corners, 0.5, run, -6.0), flat(0.0, 120.0))
    pit = slow_dig.Pit(corners, [0.5] * len(corners), [[(run, 1.0)]] * len(corners), -6.0)
    heights = np.linspace(0.0, 6.0, 1201)
    areas = np.array([pointwise.offset_outline(pit, h).area for h in heights])
    simpson = (areas[0] + areas[-1] + 4 * areas[1:-1:2].sum() + 2 * areas[2:-1:2].sum()) / 600
    assert dug.total == pytest.approx(float(simpson), rel=2e-6)
    assert float(dug.pairs.area_above.sum()) == pytest.approx(areas[-1], rel=1e-12)


def _ragged(seed: int) -> np.ndarray:
    """An outline of axis-aligned notches and arms of random widths."""
    random = np.random.default_rng(seed)
    east, out = -24.0, []
    for _ in range(6):
        width, gap = random.uniform(2.0, 6.0), random.uniform(1.0, 4.0)
        top, low = random.uniform(6.0, 16.0), random.uniform(-4.0, 4.0)
        out += [(east + width, low + 0.1 * east), (east + width, top), (east, top)]
        out += [(east, low)]
        east += width + gap
    body = shapely.union_all(
        [shapely.box(-24.0, -12.0, east, -2.0)]
        + [shapely.box(out[i + 2][0], -3.0, out[i + 1][0], out[i + 1][1]) for i in range(0, 24, 4)]
    )
    return np.array(shapely.orient_polygons(body).exterior.coords)[:-1]


@pytest.mark.parametrize("seed", range(3))
def test_sampling_the_pointwise_dig_finds_the_volume(seed):
    random = np.random.default_rng(seed)
    corners = np.array([[-20.0, -12], [18, -12], [22, -8], [22, 12], [-20, 12]])
    sides = [STEPS[n] for n in random.choice(list(STEPS), 5)]
    points = lot(seed)
    dug = excavate(design(corners, 2.0, sides, -8.0), points)
    pit = slow_dig.Pit(corners, [2.0] * 5, sides, -8.0)
    tin = Delaunay(points[:, :2])

    def existing(plan: np.ndarray) -> np.ndarray:
        inside = tin.find_simplex(plan)
        shift = tin.transform[inside, 2]
        share = np.einsum("nij,nj->ni", tin.transform[inside, :2], plan - shift)
        share = np.column_stack([share, 1 - share.sum(axis=1)])
        return (share * points[tin.simplices[inside], 2]).sum(axis=1)

    seen, doubt = sampling.volume(
        existing, lambda p: pointwise.convex_dig(pit, p, 16.0), (-55, -45, 55, 45), 500
    )
    assert doubt < 1e-3 * dug.total
    assert abs(seen - dug.total) < 4 * doubt
