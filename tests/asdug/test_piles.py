"""Piles over the ground against closed forms, and a swell whose 95 % is true."""

import math

import numpy as np
import pytest

from terrain.asdug.measured import Measured, SurveyTerms, doubt_from
from terrain.asdug.piles import Pile, PileShots, Site, pile_on
from terrain.asdug.soil import measured_swell, swell_range
from terrain.ledger.doubt import Terms
from terrain.ledger.errors_said import SurveyErrors
from terrain.ledger.ground import Ground
from terrain.ledger.soil import soil_factors
from terrain.ledger.weights import Weights
from terrain.surface.patches import from_polygons
from terrain.surface.tin import Line, build_tin, tin_surface

REPOSE = 34.0
SLOPE = math.tan(math.radians(REPOSE))
FAR = 200.0


def plane_ground(per_easting=0.0, per_northing=0.0, errors=None):
    """A plane through the origin at height 100, as a TIN of some shots."""
    u = np.linspace(-FAR, FAR, 9)
    east, north = (a.ravel() for a in np.meshgrid(u, u))
    points = np.column_stack([east, north, 100.0 + per_easting * east + per_northing * north])
    tin = build_tin(points)
    return Ground(
        surface=tin_surface(tin),
        points=tin.points,
        triangles=tin.triangles,
        errors=errors or SurveyErrors(),
    )


def height_at(ground, plan):
    a, b, c = np.linalg.lstsq(
        np.column_stack([np.ones(len(ground.points)), ground.points[:, :2]]),
        ground.points[:, 2],
        rcond=None,
    )[0]
    return a + plan[:, 0] * b + plan[:, 1] * c


def halves():
    """Whose side it is: west is 0, east is 1."""
    west = np.array([[-FAR, -FAR], [0.0, -FAR], [0.0, FAR], [-FAR, FAR]])
    return from_polygons([west, west + np.array([FAR, 0.0])], np.zeros((2, 5)), np.array([0, 1]))


def pile(points, ground, lines=(), errors=None) -> Pile:
    tin = build_tin(points, lines)
    above = tin.points[:, 2] - height_at(ground, tin.points[:, :2])
    found = pile_on(
        PileShots(
            name="heap", tin=tin, above=above, errors=errors or SurveyErrors(), survey="piles",
            first=0,
        ),
        Site(ground=ground, survey="existing", owners=halves(), sides=2, slope=SLOPE),
    )  # fmt: skip
    assert found is not None
    return found


def cone(volume, count=720, at=(40.0, 0.0)):
    """Shots of a cone of loose earth as the formula of the trade lays it (SOURCES 2, as quoted).

    D = (24 V / (pi tan R))^(1/3) wide, D/2 tan R high.
    """
    wide = (24.0 * volume / (math.pi * SLOPE)) ** (1.0 / 3.0)
    turn = 2 * np.pi * np.arange(count) / count
    rim = np.array(at) + wide / 2 * np.column_stack([np.cos(turn), np.sin(turn)])
    plan = np.vstack([rim, [at]])
    return plan, np.append(np.zeros(count), wide / 2 * SLOPE)


@pytest.mark.parametrize("slope", [(0.0, 0.0), (0.05, -0.03)])
def test_a_cone_of_shots_holds_what_the_formula_says_but_for_its_corners(slope):
    """Shots on a circle make a pyramid on a polygon: smaller by the areas of the two alone."""
    ground, count = plane_ground(*slope), 720
    plan, high = cone(2700.0, count)
    points = np.column_stack([plan, height_at(ground, plan) + high])
    found = pile(points, ground)
    share = math.sin(2 * math.pi / count) / (2 * math.pi / count)
    assert found.loose.amount == pytest.approx(2700.0 * share, rel=1e-9)
    assert found.height == pytest.approx(float(high.max()), rel=1e-12)
    assert found.below == pytest.approx(0.0, abs=1e-9)
    assert found.foot.most == pytest.approx(0.0, abs=1e-9)


def test_a_ridge_holds_what_the_formula_says_and_a_pyramid_more_at_its_two_ends():
    """Ridge of volume V over length L: B = (4V/(L tan R))^(1/2) wide (SOURCES 2, as quoted)."""
    ground, volume, length = plane_ground(), 3000.0, 50.0
    wide = (4.0 * volume / (length * SLOPE)) ** 0.5
    high, half = wide / 2 * SLOPE, wide / 2
    corners = [[-half, -half], [length + half, -half], [length + half, half], [-half, half]]
    plan = np.array([*corners, [0.0, 0.0], [length, 0.0]])
    points = np.column_stack([plan, 100.0 + np.array([0, 0, 0, 0, high, high])])
    found = pile(points, ground, [Line(name="ridge", shots=np.array([4, 5], dtype=np.int32))])
    ends = wide * wide * high / 3
    assert found.loose.amount == pytest.approx(volume + ends, rel=1e-9)


def test_a_pile_over_two_sides_is_shared_where_it_lies():
    ground = plane_ground()
    plan = np.array([[-10.0, -10.0], [30.0, -10.0], [30.0, 10.0], [-10.0, 10.0], [10.0, 0.0]])
    points = np.column_stack([plan, 100.0 + np.array([0, 0, 0, 0, 6.0])])
    found = pile(points, ground)
    whole = 40.0 * 20.0 * 6.0 / 3
    assert found.loose.amount == pytest.approx(whole, rel=1e-12)
    # at t from the west edge the section is 0.3 t high, 20 wide at its foot and 20 - t on top, so
    # 6 t - 0.15 t^2 in area: 250 from t = 0 to 10
    assert found.by_side == pytest.approx([250.0, whole - 250.0], rel=1e-9)


def test_a_foot_off_the_ground_is_told_with_about_what_lies_beyond_it():
    """The top of a cone cut off at half its height: what is missing is half of it and more."""
    ground, (plan, high) = plane_ground(), cone(2700.0)
    half = plan[-1] + (plan - plan[-1]) / 2
    points = np.column_stack([half, 100.0 + high.max() / 2 + high / 2])
    found = pile(points, ground)
    assert found.foot.mean == pytest.approx(high.max() / 2, rel=1e-9)
    assert found.foot.most == pytest.approx(high.max() / 2, rel=1e-9)
    radius = np.hypot(*(half[0] - half[-1]))
    beyond = 2 * np.pi * radius * (high.max() / 2) ** 2 / (2 * SLOPE)
    assert found.foot.missing == pytest.approx(beyond, rel=1e-4)


def test_what_lies_below_the_ground_is_taken_off():
    ground = plane_ground()
    plan = np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]])
    found = pile(np.column_stack([plan, [102.0, 99.0, 99.0, 102.0]]), ground)
    # the ground is met at 20/3 from the west
    assert found.below == pytest.approx(10 * (10 / 3) * 0.5, rel=1e-9)
    assert found.loose.amount == pytest.approx(100.0 * 0.5, rel=1e-9)


def test_the_weights_of_a_pile_sum_to_its_area_and_of_the_ground_to_its_area_the_other_way():
    ground = plane_ground(0.02, 0.01)
    plan, high = cone(2700.0, 24)
    found = pile(np.column_stack([plan, height_at(ground, plan) + high]), ground)
    assert found.loose.weights["piles"].plan_area == pytest.approx(found.area, rel=1e-9)
    assert found.loose.weights["existing"].plan_area == pytest.approx(-found.area, rel=1e-9)


def test_a_pile_beside_the_surveyed_ground_is_none():
    plan, high = cone(2700.0, at=(FAR, 0.0))
    tin = build_tin(np.column_stack([plan, 100.0 + high]))
    shots = PileShots(name="heap", tin=tin, above=high, errors=SurveyErrors(), survey="p", first=0)
    site = Site(ground=plane_ground(), survey="existing", owners=halves(), sides=2, slope=SLOPE)
    assert pile_on(shots, site) is None


def rectangle(depth=8.0):
    """Shots of a pit of 40 by 30 with plumb sides, its floor `depth` below the ground."""
    east, north = (
        a.ravel() for a in np.meshgrid(np.linspace(-80, -40, 5), np.linspace(-15, 15, 4))
    )
    return np.column_stack([east, north, np.full(len(east), 100.0 - depth)])


def surveys_of(ground, floor, heap, errors, days=("4 May", "4 May")):
    def terms(points):
        return Terms(errors=errors, plan=points[:, :2])

    return {
        "existing": SurveyTerms(terms=terms(ground.points), setup="existing"),
        "asdug": SurveyTerms(terms=terms(floor), setup=days[0]),
        "piles": SurveyTerms(terms=terms(heap), setup=days[1]),
    }


def hole(points, ground, errors=None) -> Measured:
    """What lies between the ground and a floor under it: a pile upside down."""
    turned = pile(points, ground, errors=errors).loose.times(-1.0)
    weights = {("asdug" if k == "piles" else k): w for k, w in turned.weights.items()}
    return Measured(amount=turned.amount, weights=weights)


def test_the_swell_is_loose_over_bank_less_one_to_the_last_digits():
    """Clay of Dagostino & Peterson, Ex. 9-2 (SOURCES 1): 30 % swell, here of 9,600 ft3 of hole."""
    ground, floor = plane_ground(), rectangle()
    bank = hole(floor, ground)
    assert bank.amount == pytest.approx(9600.0, rel=1e-12)
    count = 36
    share = math.sin(2 * math.pi / count) / (2 * math.pi / count)
    plan, high = cone(9600.0 * 1.30 / share, count, (60.0, 0.0))
    heap = np.column_stack([plan, 100.0 + high])
    loose = pile(heap, ground).loose
    surveys = surveys_of(ground, floor, heap, SurveyErrors(accuracy=0.05))
    seen = measured_swell(loose, bank, surveys, soil_factors("clay"))
    assert seen.swell == pytest.approx(0.30, abs=1e-9)
    assert seen.reason is None
    # 1,000 bank make 1,300 loose
    assert 1000.0 * (1.0 + seen.swell) == pytest.approx(1300.0, abs=1e-6)


def test_its_own_95_per_cent_holds_with_noise_and_a_mark_read_wrong():
    """600 made surveys of one lot: shots 0.1 and each day's mark 0.08 off, fixed seed."""
    errors = SurveyErrors(accuracy=0.1, datum_accuracy=0.08)
    random = np.random.default_rng(515)
    true_ground, floor = plane_ground(), rectangle()
    plan, high = cone(9600.0 * 1.25, 16, (60.0, 0.0))
    heap = np.column_stack([plan, 100.0 + high])
    true = pile(heap, true_ground).loose.amount / 9600.0 - 1.0
    held, trials = 0, 600
    for _ in range(trials):
        day, before = random.normal(0.0, 0.08, 2)
        ground = plane_ground(errors=errors)
        ground.points[:, 2] += before + random.normal(0.0, 0.1, len(ground.points))
        ground = noisy(ground, errors)
        seen_floor, seen_heap = floor.copy(), heap.copy()
        seen_floor[:, 2] += day + random.normal(0.0, 0.1, len(floor))
        seen_heap[:, 2] += day + random.normal(0.0, 0.1, len(heap))
        bank, loose = hole(seen_floor, ground), pile(seen_heap, ground).loose
        surveys = surveys_of(ground, seen_floor, seen_heap, errors)
        seen = measured_swell(loose, bank, surveys, soil_factors("clay"))
        held += abs(seen.swell - true) <= seen.plus_minus_95
    assert 0.93 <= held / trials <= 0.97


def noisy(ground, errors):
    """The ground of shots that have been moved."""
    tin = build_tin(ground.points)
    return Ground(
        surface=tin_surface(tin), points=tin.points, triangles=tin.triangles, errors=errors
    )


def test_one_days_mark_counts_against_hole_and_pile_both():
    """Read too high, it makes the hole shallower and the pile taller: the swell errs twice."""
    errors = SurveyErrors(datum_accuracy=0.05)
    ground, floor = plane_ground(), rectangle()
    plan, high = cone(12000.0, 16, (60.0, 0.0))
    heap = np.column_stack([plan, 100.0 + high])
    bank, loose = hole(floor, ground), pile(heap, ground).loose
    one_day = measured_swell(loose, bank, surveys_of(ground, floor, heap, errors),
                             soil_factors("clay"))  # fmt: skip
    two_days = measured_swell(loose, bank, surveys_of(ground, floor, heap, errors, ("4", "5")),
                              soil_factors("clay"))  # fmt: skip
    area_pile, area_hole = loose.weights["piles"].plan_area, 1200.0
    both = area_pile / 9600.0 + loose.amount * area_hole / 9600.0**2
    assert one_day.doubt.datum == pytest.approx(1.96 * 0.05 * math.hypot(both, both), rel=1e-6)
    apart = math.hypot(area_pile / 9600.0, loose.amount * area_hole / 9600.0**2)
    assert two_days.doubt.datum == pytest.approx(1.96 * 0.05 * math.hypot(both, apart), rel=1e-6)


def test_a_swell_no_surer_than_the_tables_is_not_to_be_used():
    """NSSDA: 1.96 x 0.0574002 = 0.1125044 (SOURCES 6), here as the doubt of the swell itself."""
    surveys = {
        "s": SurveyTerms(
            terms=Terms(errors=SurveyErrors(accuracy=0.0574002), plan=np.zeros((1, 2))), setup="s"
        )
    }
    one = Weights.nothing()
    weight = Weights(shot=np.array([0]), change=np.array([[0.0, 0.0, 1.0]]), spots=one.spots)
    loose = Measured(amount=1.3, weights={"s": weight})
    bank = Measured(amount=1.0, weights={})
    seen = measured_swell(loose, bank, surveys, soil_factors("clay"))
    assert seen.plus_minus_95 == pytest.approx(0.1125044, abs=1e-7)
    assert seen.published.width == pytest.approx(0.23)
    assert seen.reason is None  # 0.225 is narrower than 0.23
    wider = measured_swell(loose.times(1.0), bank.times(0.97), surveys, soil_factors("clay"))
    assert wider.reason is not None
    assert "no narrower" in wider.reason
    earth = measured_swell(loose, bank, surveys, soil_factors("common earth"))
    assert earth.reason is not None
    unknown = measured_swell(Measured(amount=1.3, weights={}), bank, surveys, soil_factors("clay"))
    assert unknown.reason is not None
    assert "accuracy" in unknown.reason
    lost = measured_swell(loose.times(0.7), bank, surveys, soil_factors("clay"))
    assert lost.reason is not None
    assert "hauled" in lost.reason


def test_a_soil_in_no_table_is_held_against_all_soils():
    assert swell_range("muck").least == 0.10
    assert swell_range("muck").most == 0.70
    sand = swell_range("sand")
    assert (sand.least, sand.most) == (0.10, 0.18)


def test_shots_that_two_amounts_share_drop_out_of_their_difference():
    """A pile shot twice on one survey's ground: the ground's error is in neither difference."""
    ground = plane_ground(errors=SurveyErrors(accuracy=1.0))
    plan, high = cone(2700.0, 24)
    points = np.column_stack([plan, 100.0 + high])
    more = points.copy()
    more[-1, 2] += 1.0
    first, second = pile(points, ground).loose, pile(more, ground).loose
    surveys = surveys_of(ground, points, points, SurveyErrors(accuracy=1.0))
    renamed = Measured(
        amount=second.amount,
        weights={"asdug" if k == "piles" else k: w for k, w in second.weights.items()},
    )
    gain = renamed - first
    assert np.abs(gain.weights["existing"].by_elevation).max() == pytest.approx(0.0, abs=1e-9)
    single = np.linalg.norm(first.weights["piles"].by_elevation)
    assert doubt_from(gain, surveys).random == pytest.approx(1.96 * single * 2**0.5, rel=1e-9)
