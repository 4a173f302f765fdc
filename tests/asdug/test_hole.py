"""The ground as dug: its rim goes round its toes, whatever noise and missing shots make of them."""

import numpy as np
import pytest
import shapely

from terrain.asdug.hips import hips
from terrain.asdug.hole import hole_of
from terrain.asdug.ring import Sides, ring_order
from terrain.asdug.told_apart import Kind
from terrain.ledger.ground import Ground
from terrain.surface.overlay import overlay
from terrain.surface.sampling import heights_over
from terrain.surface.tin import build_tin, tin_surface

LEVEL, FLOOR = 100.0, 94.0
CORNERS = np.array([[0.0, 0.0], [40.0, 0.0], [40.0, 30.0], [0.0, 30.0]])
SIDES = Sides(start=CORNERS, end=np.roll(CORNERS, -1, 0), wall=np.arange(4, dtype=np.int32))


def existing() -> Ground:
    spots = np.array([[-40, -40], [80, -40], [80, 70], [-40, 70], [20, 60.0]])
    tin = build_tin(np.column_stack([spots, np.full(5, LEVEL)]))
    return Ground(surface=tin_surface(tin), points=tin.points, triangles=tin.triangles)


def hole(**shots):
    """The hole of shots by kind, each (n, 3)."""
    points = np.concatenate([np.array(one, float) for one in shots.values()])
    kind = np.concatenate([np.full(len(one), Kind[name.upper()]) for name, one in shots.items()])
    return hole_of(points, kind.astype(np.int32), SIDES, existing(), 2.0)


def at(plan, height):
    plan = np.array(plan, float)
    return np.column_stack([plan, np.full(len(plan), height)])


def dug(made):
    """Cubic units between the level ground and the hole's surface."""
    pairs = overlay(existing().surface, made.sheet.ground.surface)
    return pairs.volume_above.sum() - pairs.volume_below.sum()


def test_toe_and_top_on_one_spot_make_a_plumb_face():
    made = hole(toe=at(CORNERS, FLOOR), top=at(CORNERS, LEVEL))
    assert made.why_not == ""
    assert dug(made) == pytest.approx(40 * 30 * 6, rel=1e-12)


def test_without_any_top_faces_are_plumb():
    made = hole(toe=at(CORNERS, FLOOR), floor=at([[10, 10], [20, 15]], FLOOR - 0.5))
    inner = build_tin(np.array([*at(CORNERS, FLOOR), *at([[10, 10], [20, 15]], FLOOR - 0.5)]))
    floor = tin_surface(inner)
    deeper = overlay(existing().surface, floor).volume_above.sum()
    assert dug(made) == pytest.approx(deeper, rel=1e-12)


def test_leaning_faces_make_a_frustum():
    out = np.array([[-6, -6], [46, -6], [46, 36], [-6, 36.0]])
    made = hole(toe=at(CORNERS, FLOOR), top=at(out, LEVEL))
    # the prismatoid rule on top, middle and bottom
    areas = [40 * 30, 46 * 36, 52 * 42]
    assert dug(made) == pytest.approx(6 / 6 * (areas[0] + 4 * areas[1] + areas[2]), rel=1e-9)


@pytest.mark.parametrize("inward", [0.05, 0.0])
def test_a_top_that_noise_brings_on_or_into_the_toe_ring_is_none_of_the_rim(inward):
    # a plumb wall whose top was shot for itself; the other three lean
    out = np.array([[inward, 20.0], [46, -6], [46, 36], [-6, 36.0]])
    made = hole(toe=at(CORNERS, FLOOR), top=at(out, LEVEL))
    assert made.why_not == ""
    rim = shapely.Polygon(made.plan_of(made.ring))
    assert rim.covers(shapely.Polygon(CORNERS))
    assert not any(np.array_equal(spot, out[0]) for spot in made.plan_of(made.ring))


def test_where_only_one_wall_was_shot_at_its_top_the_others_are_plumb():
    out = np.array([[5.0, -6.0], [20.0, -6.0], [35.0, -6.0]])
    made = hole(toe=at(CORNERS, FLOOR), top=at(out, LEVEL))
    assert made.why_not == ""
    # beside the box two slanting triangles and a slope between them
    assert 40 * 30 * 6 + 30 * 6 * 6 / 2 < dug(made) < 40 * 30 * 6 + 40 * 6 * 6


def test_a_shot_of_a_face_that_stands_over_the_floor_makes_no_needle_on_it():
    out = np.array([[-6, -6], [46, -6], [46, 36], [-6, 36.0]])
    plain = hole(toe=at(CORNERS, FLOOR), top=at(out, LEVEL))
    noisy = hole(toe=at(CORNERS, FLOOR), top=at(out, LEVEL), face=at([[20.0, 0.1]], 97.0))
    assert dug(noisy) == pytest.approx(dug(plain), rel=1e-12)


@pytest.mark.parametrize(
    ("toe", "said"),
    [([[0, 0], [40, 0], [40, 30]], "1 of the 4 corners"), ([[5, 5]], "4 of the 4 corners")],
)
def test_a_ring_that_lacks_corners_is_told(toe, said):
    made = hole(toe=at(toe, FLOOR), floor=at([[10, 10], [20, 10], [20, 20]], FLOOR))
    assert said in made.why_not
    assert made.sheet is None
    assert made.floor is not None


def test_shots_go_round_the_ring_however_they_were_taken():
    spots = np.array([[40.0, 12.0], [0, 0], [0, 30], [40, 30], [40, 0], [17.0, 0.0], [0.0, 9.0]])
    order = ring_order(SIDES, spots)
    assert shapely.Polygon(spots[order]).equals(shapely.Polygon(CORNERS))
    assert shapely.Polygon(spots[order]).exterior.is_ccw


def test_the_edge_between_two_leaning_faces_runs_from_toe_to_top():
    # tops beside the corners would cut them off: the shortest way between them is level
    out = [
        [-6, -6], [-2, -6], [42, -6], [46, -6], [46, -2], [46, 32],
        [46, 36], [42, 36], [-2, 36], [-6, 36], [-6, 32], [-6, -2.0],
    ]  # fmt: skip
    toe = [[0, 0], [20, 0], [40, 0], [40, 15], [40, 30], [20, 30], [0, 30], [0, 15.0]]
    made = hole(toe=at(toe, FLOOR), top=at(out, LEVEL))
    surface = made.sheet.ground.surface
    assert dug(made) == pytest.approx(1200 + 4 * 46 * 36 + 52 * 42, rel=1e-9)
    assert heights_over(surface, np.array([[-3.0, -3.0], [43.0, 33.0]])) == pytest.approx(
        [97.0, 97.0]
    )


def test_a_top_far_from_a_corner_makes_no_edge_there():
    plan = np.array([*CORNERS, [10, -6], [30, -6], [46, 15], [20, 36], [-6, 15.0]])
    toes, rim = np.arange(4, dtype=np.int32), np.arange(4, 9, dtype=np.int32)
    assert hips(SIDES, plan, (toes, rim), 2.0) == []


def test_tops_at_the_corners_alone_make_the_faces_between_them():
    out = np.array([[-6, -6], [46, -6], [46, 36], [-6, 36.0]])
    toe = [[0, 0], [20, 0], [40, 0], [40, 15], [40, 30], [20, 30], [0, 30], [0, 15.0]]
    made = hole(toe=at(toe, FLOOR), top=at(out, LEVEL))
    assert dug(made) == pytest.approx(1200 + 4 * 46 * 36 + 52 * 42, rel=1e-9)


def test_a_plumb_wall_between_leaning_ones_stays_plumb():
    # tops square out from the corners of the west wall, none along it
    out = np.array([[0, -6], [46, -6], [46, 36], [0, 36.0]])
    toe = [[0, 0], [20, 0], [40, 0], [40, 15], [40, 30], [20, 30], [0, 30], [0, 15.0]]
    made = hole(toe=at(toe, FLOOR), top=at(out, LEVEL))
    assert made.why_not == ""
    assert dug(made) == pytest.approx(1200 + 4 * 43 * 36 + 46 * 42, rel=1e-9)


def corners_out(off):
    """The box's corners with each side (south, east, north, west) moved out by its own."""
    low, high = np.array([-off[3], -off[0]]), np.array([40.0 + off[1], 30.0 + off[2]])
    return np.array([low, [high[0], low[1]], high, [low[0], high[1]]])


def spots_round(off, a_side):
    share = np.arange(a_side)[:, None] / a_side
    ends = corners_out(off)
    pairs = zip(ends, np.roll(ends, -1, 0), strict=True)
    return np.concatenate([a + share * (b - a) for a, b in pairs])


def test_noisy_holes_of_plumb_and_leaning_walls_hold_their_volume_or_are_told():
    generator, told, off = np.random.default_rng(1), 0, []
    for _ in range(120):
        lean, noise = generator.choice([0.0, 0.3, 1.0], 4), generator.choice([0.0, 0.02, 0.05])
        a_side = int(generator.integers(1, 5))
        toe, top = spots_round(np.zeros(4), a_side), spots_round(6 * lean, a_side)
        moved = generator.normal(0.0, noise, toe.shape)
        is_apart = generator.random() < 0.5  # else toe and top are off together
        toe, top = toe + moved, top + (generator.normal(0, noise, top.shape) if is_apart else moved)
        made = hole(toe=at(toe, FLOOR), top=at(top, LEVEL))
        if made.why_not:
            told += 1
            continue
        areas = [shapely.Polygon(corners_out(s * 6 * lean)).area for s in (0.0, 0.5, 1.0)]
        off.append(dug(made) / (areas[0] + 4 * areas[1] + areas[2]) - 1.0)
    assert told <= 4
    assert np.abs(off).max() < 0.01
    assert abs(np.mean(off)) < 0.001
