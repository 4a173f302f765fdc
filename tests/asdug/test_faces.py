"""What errors in plan do to plumb faces, against moving each shot; a hole made larger all round."""

import numpy as np
import pytest
import shapely

from terrain.asdug.faces import face_doubts, moved_out
from terrain.asdug.told_apart import Kind
from terrain.surface.overlay import overlay
from terrain.surface.tin import build_tin
from tests.asdug.test_hole import CORNERS, FLOOR, LEVEL, SIDES, at, existing, hole

SIGMA, STEP = 0.05, 1e-4
SPOTS = np.array([[0, 0], [13, 0], [40, 0], [40, 21], [40, 30], [0, 30], [0, 8.0]])


def dug(toe):
    surface = hole(toe=at(toe, FLOOR), top=at(toe, LEVEL)).sheet.ground.surface
    return overlay(existing().surface, surface).volume_above.sum()


def test_the_doubt_of_all_walls_is_that_of_moving_every_shot_each_way():
    slopes = []
    for k in range(len(SPOTS)):
        for axis in range(2):
            high, low = SPOTS.copy(), SPOTS.copy()
            high[k, axis] += STEP
            low[k, axis] -= STEP
            slopes.append((dug(high) - dug(low)) / (2 * STEP))
    made = hole(toe=at(SPOTS, FLOOR), top=at(SPOTS, LEVEL))
    ground = existing()
    one = SIDES.__class__(start=SIDES.start, end=SIDES.end, wall=np.zeros(4, dtype=np.int32))
    found = face_doubts(made, one, build_tin(ground.points), SIGMA)
    assert found == pytest.approx([1.96 * SIGMA * np.linalg.norm(slopes)], rel=1e-6)


def test_a_wall_has_the_doubt_of_its_own_length():
    # two spots, each with half a side of length 40 and depth 6 of its own
    made = hole(toe=at(CORNERS, FLOOR), top=at(CORNERS, LEVEL))
    found = face_doubts(made, SIDES, build_tin(existing().points), SIGMA)
    assert found[0] == pytest.approx(1.96 * SIGMA * np.hypot(20 * 6, 20 * 6), rel=1e-12)
    assert found[1] == pytest.approx(1.96 * SIGMA * np.hypot(15 * 6, 15 * 6), rel=1e-12)


@pytest.mark.parametrize("out", [0.2, -0.2])
def test_a_hole_moved_out_grows_by_as_much_on_every_side(out):
    made = hole(toe=at(SPOTS, FLOOR), floor=at([[20, 15]], FLOOR))
    moved = moved_out(made, SIDES, (out, 0.3))
    toe = shapely.Polygon(moved[made.kind == Kind.TOE, :2])
    assert toe.symmetric_difference(
        shapely.box(-out, -out, 40 + out, 30 + out)
    ).area == pytest.approx(0.0, abs=1e-9)
    assert moved[:, 2] == pytest.approx(made.points[:, 2] + 0.3)
    floor = made.kind == Kind.FLOOR
    assert (moved[floor, :2] == made.points[floor, :2]).all()
