"""The fall from each wall of the house: least, mean, how far and how much of it was seen."""

import numpy as np
import pytest

from terrain.base.units import FOOT
from terrain.lot.fall_rays import fall_rule, rays_over
from terrain.lot.falls import fall_failures
from terrain.lot.rays import Settling
from terrain.lot.wall_falls import wall_falls
from terrain.surface.patches import from_polygons
from tests.lot.made_lot import HOUSE, LOT, apron, lot, pad, plane

RULE = fall_rule(FOOT)


def falls(finished_lot, ground=None, settling=None):
    rays = rays_over(ground or plane(100.0), finished_lot, RULE, settling)
    return {fall.wall: fall for fall in wall_falls(rays, finished_lot, RULE)}


@pytest.mark.parametrize("degrees", [0.0, 33.0])
def test_an_even_apron_falls_alike_from_every_wall_all_along_it(degrees):
    found = falls(lot(apron=apron(0.07), degrees=degrees), plane(99.0, degrees=degrees))
    assert list(found) == ["front", "right", "back", "left"]
    for wall, length in zip(found.values(), [40.0, 30.0, 40.0, 30.0], strict=True):
        assert (wall.asked, wall.least, wall.mean) == pytest.approx((0.05, 0.07, 0.07), abs=1e-6)
        assert wall.settled == wall.least
        assert wall.distance == pytest.approx(10.0)
        assert (wall.length, wall.checked) == pytest.approx((length, length))
        assert (wall.end, wall.beside, wall.is_seen_whole) == ("distance", (), True)


def test_a_wall_tells_a_least_below_what_is_asked_just_where_it_fails():
    drive = pad([[40, 10], [60, 10], [60, 22], [40, 22]], 101.0)
    made = lot(pads=(drive,))
    found = falls(made)
    fails = {f.wall for f in fall_failures(plane(100.0), made, RULE)}
    assert fails == {1}
    for wall in found.values():
        assert (wall.least < wall.asked - 1e-6) is (wall.wall == "right")
    right = found["right"]
    # beside the drive, where no hard surface asks less
    assert (right.asked, right.least) == pytest.approx((0.05, 0.0), abs=1e-9)
    assert right.beside == ("drive",)
    assert 0.0 < right.mean < 0.05


def test_the_least_is_where_the_least_is_to_spare_not_where_the_ground_is_flattest():
    # a walk may fall 2 %: at 3 % it has more to spare than the lawn beside it at 5.5 %
    walk = pad([[10, -12], [30, -12], [30, 0], [10, 0]], 101.0 - 0.36, 0.0, 0.03)
    found = falls(lot(apron=apron(0.055), pads=(walk,)), plane(99.0))
    assert (found["front"].asked, found["front"].least) == pytest.approx((0.05, 0.055), abs=1e-6)


def test_where_another_wall_is_nearer_the_fall_ends_and_that_wall_is_named():
    # a court 8 ft wide between two wings
    house = np.array([[0, 0], [40, 0], [40, 30], [24, 30], [24, 10], [16, 10], [16, 30], [0, 30.0]])
    level = apron(0.05).__class__(
        grades=np.full((8, 2), 101.0), fall=0.05, fall_distance=10.0, cut_slope=3.0, fill_slope=3.0
    )
    found = falls(lot(house=house, walls=tuple("abcdefgh"), apron=level))
    assert found["d"].end == found["f"].end == "other wall"
    # at the mouth of the court the wing's end is as near as its side
    assert found["d"].beside in (("f",), ("g",))
    assert found["f"].beside in (("d",), ("c",))
    assert found["d"].distance == pytest.approx(4.0, abs=1e-5)


def test_walls_of_one_name_are_one_wall():
    found = falls(lot(walls=("street", "side", "street", "side")))
    assert list(found) == ["street", "side"]
    assert found["street"].length == pytest.approx(80.0)


def test_what_the_survey_does_not_reach_is_not_called_checked():
    west = np.array([[-90.0, -90.0], [20.0, -90.0], [20.0, 120.0], [-90.0, 120.0]])
    half = from_polygons([west], np.array([[0.0, 0.0, 100.0, 0.0, 0.0]]), [0])
    found = falls(lot(), half)
    assert found["right"].checked == 0.0
    assert np.isnan([found["right"].least, found["right"].mean, found["right"].settled]).all()
    for wall in ("front", "back"):
        assert 15.0 < found[wall].checked < 25.0
    assert {wall.wall for wall in found.values() if wall.is_seen_whole} == {"left"}
    assert found["left"].checked == found["left"].length


def test_a_wall_on_the_lot_line_is_seen_and_fails():
    near = LOT.copy()
    near[2:, 1] = HOUSE[2, 1]
    found = falls(lot(boundary=near))
    assert found["back"].checked == pytest.approx(found["back"].length)
    assert found["back"].is_seen_whole


def test_what_is_settled_falls_by_what_the_backfill_sinks_at_the_wall():
    low, high = HOUSE[0] - 4.0, HOUSE[2] + 4.0
    ring = np.array([low, [high[0], low[1]], high, [low[0], high[1]]])
    dig = from_polygons([ring], np.array([[0.0, 0.0, 92.0, 0.0, 0.0]]), [0])
    found = falls(lot(), plane(100.0), settling=Settling(dig=dig, share=0.02))
    for wall in found.values():
        # 9 ft deep at the wall: 0.18 ft of the half foot in ten
        assert wall.settled == pytest.approx(0.05 - 0.018, abs=1e-5)
