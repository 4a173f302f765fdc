"""Falls from the house against IRC R401.3, as quoted: 6 in within the first 10 ft."""

import numpy as np
import pytest

from terrain.base.frame import LocalFrame
from terrain.base.units import FOOT, METRE, US_SURVEY_FOOT
from terrain.lot.falls import fall_failures, fall_rule
from terrain.lot.finish import finished
from terrain.lot.rays import Settling, ground_along, house_rays
from terrain.surface.patches import from_polygons
from tests.lot.made_lot import BEYOND, HOUSE, LOT, apron, design, keep, lot, pad, plane, swale

RULE = fall_rule(FOOT)


def failures(finished_lot, ground=None, settling=None, rule=RULE):
    return fall_failures(ground or plane(100.0), finished_lot, rule, settling)


@pytest.mark.parametrize("degrees", [0.0, 33.0])
@pytest.mark.parametrize(("fall", "passes"), [(0.05, True), (0.0499, False), (0.0501, True)])
def test_half_a_foot_in_ten_passes_and_0_499_fails(fall, passes, degrees):
    found = failures(lot(apron=apron(fall), degrees=degrees), plane(100.4, degrees=degrees))
    assert (found == ()) is passes
    if not passes:
        assert {failure.why for failure in found} == {"fall"}
        assert {failure.wall for failure in found} == {0, 1, 2, 3}
        for failure in found:
            assert failure.fall == pytest.approx(0.499, abs=1e-5)
            assert failure.needed == pytest.approx(0.5, abs=1e-12)


def test_the_wall_whose_drive_lies_too_high_fails_alone_and_only_beside_it():
    drive = pad([[40, 10], [60, 10], [60, 22], [40, 22]], 101.0)
    found = failures(lot(pads=(drive,)), plane(100.0))
    assert {failure.wall for failure in found} == {1}
    assert [failure.station for failure in found] == pytest.approx([10.0, 15.0, 20.0])
    assert all(failure.fall == pytest.approx(0.0, abs=1e-9) for failure in found)


@pytest.mark.parametrize(
    ("unit", "distance", "needed"),
    [(FOOT, 10.0, 0.5), (US_SURVEY_FOOT, 9.99998, 0.499999), (METRE, 3.0, 0.15)],
)
def test_the_rule_is_told_in_the_job_s_unit(unit, distance, needed):
    rule = fall_rule(unit)
    assert rule.distance == pytest.approx(distance, abs=1e-12)
    assert rule.distance * rule.per_run == pytest.approx(needed, abs=1e-12)


def test_every_wall_has_rays_at_both_ends_and_between_and_on_each_mitre():
    rays = house_rays(HOUSE, 10.0, 5.0)
    for wall, length in enumerate([40.0, 30.0, 40.0, 30.0]):
        square = [r for r in rays if r.wall == wall and abs(np.prod(r.line[1] - r.line[0])) < 1e-9]
        assert [r.station for r in square] == pytest.approx(np.arange(0.0, length + 1, 5.0))
    mitres = [r for r in rays if abs(np.prod(r.line[1] - r.line[0])) > 1.0]
    ends = np.sort([tuple(np.round(r.line[1])) for r in mitres], axis=0)
    assert ends.tolist() == [[-10, -10], [-10, -10], [50, 40], [50, 40]]
    assert {r.away for r in mitres} == {10.0}


def test_between_walls_that_face_one_another_each_rules_half_the_way():
    # a court 8 ft wide between two wings: water from either wall turns in its middle
    house = np.array([[0, 0], [40, 0], [40, 30], [24, 30], [24, 10], [16, 10], [16, 30], [0, 30.0]])
    walls = tuple("abcdefgh")
    level = apron(0.05).__class__(
        grades=np.full((8, 2), 101.0), fall=0.05, fall_distance=10.0, cut_slope=3.0, fill_slope=3.0
    )
    assert failures(lot(house=house, walls=walls, apron=level), plane(100.0)) == ()
    steep = failures(
        lot(house=house, walls=walls, apron=level, pads=(pad(house[[3, 6, 5, 4]], 101.0),))
    )
    assert {(f.wall, f.why, f.end) for f in steep} >= {
        (3, "fall", "other wall"),
        (5, "fall", "other wall"),
    }
    middle = [f for f in steep if f.wall == 3]
    assert all(f.line[1][0] == pytest.approx(20.0) for f in middle)
    assert all(f.needed == pytest.approx(0.02 * 4.0) for f in middle)
    assert 0.0 not in [f.station for f in steep if f.wall in (4, 5)]


def test_in_a_corner_that_stands_in_a_wall_rules_as_far_as_it_is_the_nearer():
    house = np.array([[0, 0], [40, 0], [40, 15], [20, 15], [20, 30], [0, 30.0]])
    low = apron(0.049).__class__(
        grades=np.full((6, 2), 101.0), fall=0.049, fall_distance=10.0, cut_slope=3.0, fill_slope=3.0
    )
    found = failures(lot(house=house, walls=tuple("abcdef"), apron=low), plane(100.0))
    corner = {f.station: f for f in found if f.wall == 3}  # from (20, 15) to (20, 30)
    assert 0.0 not in {round(f.station, 3) for f in found if f.wall == 3}
    for f in corner.values():
        gone = min(10.0, f.station)
        assert f.end == ("distance" if f.station > 10.1 else "other wall")
        assert f.needed == pytest.approx(0.05 * gone, abs=1e-5)
        assert f.fall == pytest.approx(0.049 * gone, abs=1e-5)
    assert {5.0, 10.0, 15.0} == {round(station, 3) for station in corner}


def test_a_hard_surface_may_fall_two_per_cent():
    walk = [[10, -12], [30, -12], [30, 0], [10, 0]]
    assert failures(lot(pads=(pad(walk, 101.0 - 0.24, 0.0, 0.02),)), plane(99.5)) == ()
    found = failures(lot(pads=(pad(walk, 101.0 - 0.228, 0.0, 0.019),)), plane(99.5))
    assert {f.wall for f in found} == {0}
    assert [f.station for f in found] == pytest.approx([10.0, 15.0, 20.0, 25.0, 30.0])
    assert all(f.needed == pytest.approx(0.2) for f in found)
    assert all(f.fall == pytest.approx(0.19) for f in found)


def test_a_level_walk_beyond_a_steep_bank_fails_by_itself():
    walk = [[5, -10], [35, -10], [35, -6], [5, -6]]
    found = failures(lot(pads=(pad(walk, 100.0),)), plane(99.0))
    inner = [f for f in found if f.wall == 0 and 5 < f.station < 35]
    assert {f.why for f in inner} == {"hard surface"}
    assert all(f.fall == pytest.approx(0.0, abs=1e-9) for f in inner)
    assert all(f.needed == pytest.approx(0.02 * 4.0) for f in inner)


def test_ground_that_rises_above_the_wall_on_the_way_fails():
    bank = keep([[10, -6], [30, -6], [30, -3], [10, -3]])
    strips = [
        np.array([[-90.0, -90.0], [130.0, -90.0], [130.0, -7.0], [-90.0, -7.0]]),
        np.array([[-90.0, -7.0], [130.0, -7.0], [130.0, 120.0], [-90.0, 120.0]]),
    ]
    ground = from_polygons(
        strips, np.array([[0.0, 0.0, 99.0, 0, 0], [0.0, 0.0, 101.2, 0, 0]]), [0, 0]
    )
    found = [f for f in failures(lot(keeps=(bank,)), ground) if f.why == "rises"]
    assert {round(f.station) for f in found} <= {10, 15, 20, 25, 30}
    assert {15, 20, 25} <= {round(f.station) for f in found}
    assert all(-f.fall == pytest.approx(0.2) for f in found)


def test_a_lot_line_near_the_house_needs_five_per_cent_as_far_as_it():
    near = LOT.copy()
    near[2:, 1] = 34.0
    found = failures(lot(boundary=near, apron=apron(0.049)), plane(100.0))
    back = [f for f in found if f.wall == 2 and 0 < f.station < 40]
    assert {f.end for f in back} == {"lot line"}
    assert all(f.needed == pytest.approx(0.2) for f in back)
    assert all(f.fall == pytest.approx(0.196) for f in back)
    assert failures(lot(boundary=near), plane(100.0)) == ()


def test_a_swale_near_the_house_ends_the_fall_and_falls_two_per_cent_itself():
    line = [[49.0, -50.0], [49.0, 80.0]]
    flat = failures(lot(swales=(swale(line, [99.5, 98.5]),)), plane(100.0))
    assert [(f.wall, f.why) for f in flat if f.why != "swale"] == []
    assert [(f.fall, f.needed) for f in flat] == [(1.0, pytest.approx(0.02 * 130.0))]
    assert failures(lot(swales=(swale(line, [101.0, 98.4]),)), plane(100.0)) == ()


def test_a_swale_at_the_wall_s_own_height_takes_nothing_away():
    line = [[46.0, -50.0], [46.0, 80.0]]
    ditch = swale(line, [103.6, 101.0])
    found = failures(lot(swales=(ditch,), apron=apron(0.0)), plane(101.0))
    right = [f for f in found if f.wall == 1 and f.why == "fall"]
    assert right
    assert {f.end for f in right} == {"swale"}
    assert all(f.needed == pytest.approx(0.25) for f in right)


def dig_floor(upward=92.0, out=9.0):
    """A dig with vertical sides so far out from the house."""
    low, high = HOUSE.min(axis=0) - out, HOUSE.max(axis=0) + out
    ring = np.array([low, [high[0], low[1]], high, [low[0], high[1]]])
    return from_polygons([ring], np.array([[0.0, 0.0, upward, 0.0, 0.0]]), [0])


@pytest.mark.parametrize(("share", "passes"), [(0.0, True), (0.01, True), (0.0112, False)])
def test_settlement_turns_a_pass_into_a_fail(share, passes):
    # 9 ft of earth at the wall sinks by share x 9; nothing is put in at 10 ft: 0.60 ft of fall
    # holds 0.50 to a share of 0.1 / 9 = 0.0111
    found = failures(lot(apron=apron(0.06)), settling=Settling(dig=dig_floor(), share=share))
    assert (found == ()) is passes
    for failure in found:
        assert failure.why == "settlement"
        assert failure.fall == pytest.approx(0.6 - 9.0 * share, abs=1e-6)


def test_a_wall_that_fails_before_it_settles_is_told_as_failing_now():
    found = failures(lot(apron=apron(0.04)), settling=Settling(dig=dig_floor(), share=0.05))
    assert {failure.why for failure in found} == {"fall"}


def test_ground_along_a_ray_is_the_definition_s_at_any_share():
    ground = plane(100.3, 0.01, -0.02)
    asked = lot(swales=(swale([[48.0, -50.0], [48.0, 80.0]], [99.0, 98.0]),))
    rays = house_rays(HOUSE, 10.0, 5.0)
    for ray, along in zip(rays, ground_along(ground, asked, None, rays), strict=True):
        assert along.share[0] == 0.0
        assert along.share[-1] == 1.0
        assert (np.diff(along.share) >= 0).all()
        for share in (0.137, 0.51, 0.96):
            spot = ray.line[0] + share * (ray.line[1] - ray.line[0])
            existing = 100.3 + 0.01 * spot[0] - 0.02 * spot[1]
            low = [heights(asked.lower, spot), heights(asked.upper, spot)]
            wanted = min(max(existing, low[0]), low[1])
            assert np.interp(share, along.share, along.height) == pytest.approx(wanted, abs=1e-7)


def heights(surface, spot):
    """The height over a spot, by looking at every face."""
    for face in range(len(surface)):
        corners = surface.corners(face)
        sides = np.roll(corners, -1, axis=0) - corners
        off = spot - corners
        if (sides[:, 0] * off[:, 1] - sides[:, 1] * off[:, 0] >= 0).all():
            return float(surface.upward_at(face, spot[None])[0])
    raise AssertionError("no face there")


def test_a_survey_that_ends_near_the_house_is_measured_as_far_as_it_goes():
    short = from_polygons(
        [np.array([[-90.0, -4.0], [130.0, -4.0], [130.0, 120.0], [-90.0, 120.0]])],
        np.array([[0.0, 0.0, 100.0, 0.0, 0.0]]),
        [0],
    )
    spread = np.column_stack([BEYOND, [99.0, 100.0, 100.0, 101.0]])
    asked = finished(design(apron=apron(0.04)), spread, LocalFrame(), FOOT)
    found = [f for f in failures(asked, short) if f.wall == 0 and 0 < f.station < 40]
    assert {f.end for f in found} == {"survey"}
    assert all(f.needed == pytest.approx(0.2) and f.fall == pytest.approx(0.16) for f in found)


def test_a_wall_on_the_lot_line_has_no_ground_to_fall_on_and_fails():
    east = float(HOUSE[:, 0].max())
    line = np.array([[-50.0, -50.0], [east, -50.0], [east, 80.0], [-50.0, 80.0]])
    found = [f for f in failures(lot(boundary=line)) if f.end == "lot line" and f.away == 0.0]
    stations = {failure.station for failure in found if failure.wall == 1}
    assert stations >= set(np.arange(5.0, 26.0, 5.0))
    for failure in found:
        assert failure.line[0][0] == pytest.approx(east), "its corners may fail with it"
        assert (failure.fall, failure.needed, failure.why) == (0.0, pytest.approx(0.5), "fall")
