"""The dig plan of a job: what it asks of the job file, and what its record holds together."""

import json
import math

import numpy as np
import pytest
import shapely

from terrain.base.errors import JobError
from terrain.export.dig_plan_json import dig_plan_json
from terrain.job.dig_plan import plan
from terrain.job.grade import grade
from terrain.job.load import load_job, read_job
from terrain.job.volumes import volumes
from tests.job.made_job import RECTANGLE, changed, small, write_job

BOUNDARY = [[40.0, 140.0], [208.0, 140.0], [208.0, 296.0], [40.0, 296.0]]
WEIGHT_ALONE = {"machine": {"weight_tonnes": 14.0}}


def job_file(folder, **tables):
    """A made job that names its machine by weight alone."""
    return write_job(folder, small() | WEIGHT_ALONE | tables)


@pytest.fixture(scope="module")
def graded(tmp_path_factory):
    """A plan on a lot with finished ground, and its volumes."""
    folder = tmp_path_factory.mktemp("graded")
    lot = {"boundary": BOUNDARY, "wall_grade": 100.8}
    dig = small()["dig"] | {"topsoil_strip": 0.5}
    path = job_file(folder, lot=lot, haul={"truck": 14.0}, spoil={"keep_open": "front"}, dig=dig)
    return plan(load_job(path)), volumes(load_job(path))


def test_passes_and_what_is_left_sum_to_the_ledger(graded):
    answer, ledger = graded
    total = float(ledger.ledger.total.quantity.bank)
    told = sum(float(one.bank) for one in answer.passes) + float(answer.left_bank)
    assert abs(told - total) <= 1e-9 * total
    assert abs(float(answer.bank) - total) <= 1e-9 * total


def test_what_a_pass_casts_is_its_loose_volume_and_what_places_get(graded):
    answer, _ = graded
    by_place = dict.fromkeys((place.name for place in answer.places), 0.0)
    for one in answer.passes:
        assert math.isclose(sum(c.loose for c in one.to), one.loose, rel_tol=1e-9)
        for cast in one.to:
            by_place[cast.place] += cast.loose
    for place in answer.places:
        assert math.isclose(by_place[place.name], place.cast, rel_tol=1e-9, abs_tol=1e-9)
        assert place.cast <= place.capacity * (1 + 1e-9)


def test_topsoil_is_stacked_apart_and_goes_nowhere_else(graded):
    answer, ledger = graded
    assert float(answer.topsoil_bank) > 0.0
    stack = next(place for place in answer.places if place.kind == "topsoil")
    assert float(ledger.ledger.total.topsoil) == pytest.approx(float(answer.topsoil_bank))
    assert stack.cast == pytest.approx(float(answer.topsoil_bank) * 1.43)
    lot = shapely.Polygon(answer.site.boundary)
    assert stack.ground.difference(lot).area < 1e-6
    assert stack.ground.intersection(answer.site.daylight).area < 1e-6


def test_stands_are_numbered_in_order_and_each_is_come_to_from_the_last(graded):
    answer, _ = graded
    assert [one.stand.number for one in answer.passes] == list(range(1, len(answer.passes) + 1))
    before = None
    for one in answer.passes:
        assert np.allclose(one.stand.way[-1], one.stand.spot)
        if before is not None:
            assert np.allclose(one.stand.way[0], before)
        before = one.stand.spot
        facing = np.array(
            [math.sin(math.radians(one.stand.heading)), math.cos(math.radians(one.stand.heading))]
        )
        front = (one.stand.tracks[0] + one.stand.tracks[1]) / 2 - one.stand.spot
        assert np.allclose(front / np.hypot(*front), facing)


def test_piles_lie_on_the_lot_beyond_the_setback_and_not_on_one_another(graded):
    answer, _ = graded
    lot = shapely.Polygon(answer.site.boundary)
    piles = [place.ground for place in answer.places if place.kind == "side"]
    for pile in piles:
        assert pile.difference(lot).area < 1e-6
        if not pile.is_empty:
            assert pile.distance(answer.site.daylight) >= answer.spoil.setback - 1e-6
    for k, one in enumerate(piles):
        assert all(one.intersection(other).area < 1e-6 for other in piles[:k])


SHED = [[60.0, 200.0], [90.0, 200.0], [90.0, 216.0], [60.0, 216.0]]
OAK = [[110.0, 160.0], [130.0, 160.0], [130.0, 186.0], [110.0, 186.0]]
GRADED = {"boundary": BOUNDARY, "wall_grade": 100.8, "keep": [{"name": "oak", "corners": OAK}]}


@pytest.mark.parametrize("lot", [GRADED, {}], ids=["lot", "no-line"])
def test_neither_earth_nor_machine_goes_where_something_stays(tmp_path, lot):
    """A house larger than its cellar, a building, an area kept; with a lot line and without."""
    lot = lot | {"buildings": {"shed": SHED}}
    house = [*RECTANGLE[:2], [150.0, 262.0], [100.0, 262.0]]
    answer = plan(load_job(job_file(tmp_path, lot=lot, house={"corners": house})))
    plain = plan(load_job(job_file(tmp_path)))
    dug = answer.site.daylight
    kept = [SHED, house, OAK] if "keep" in lot else [SHED, house]
    stays = [shapely.Polygon(answer.frame.to_local(np.array(c))).difference(dug) for c in kept]
    assert all(shape.area > 0 for shape in stays)
    for one, before in zip(answer.places, plain.places, strict=False):
        assert all(one.ground.intersection(shape).area < 1e-6 for shape in stays)
        if one.name in ("back", "left"):
            assert one.ground.area < before.ground.area
    for one in answer.passes:
        tracks = shapely.Polygon(one.stand.tracks)
        assert all(tracks.intersection(shape).area < 0.1 for shape in stays)


def test_the_side_kept_open_gets_nothing_and_is_filled_from_the_others(graded):
    answer, _ = graded
    front = next(place for place in answer.places if place.name == "front")
    assert front.kept_open
    assert front.cast == 0.0
    assert front.needed > 0.0
    pushed = sum(move.loose for move in answer.moves if move.target == "front")
    assert pushed > 0.0
    assert front.needed - pushed <= answer.short_loose + 1e-9


def test_orders_are_ranked_and_all_there(graded):
    answer, _ = graded
    assert len(answer.orders) == 8
    ranks = [(order.rim_corners, order.hours.low) for order in answer.orders]
    assert ranks == sorted(ranks)
    assert {order.rim_corners for order in answer.orders} == {1}
    assert all(order.hours.low <= order.nearest_hours.low * (1 + 1e-9) for order in answer.orders)
    assert all(order.hours.low < order.hours.high for order in answer.orders)
    assert all(order.why for order in answer.orders)


def test_what_leaves_is_what_the_finished_lot_does_not_take(graded):
    answer, _ = graded
    needed = sum(place.needed for place in answer.places if place.kind == "side")
    assert any(caution.code == "plan-no-room" for caution in answer.cautions)
    dug = float(answer.loose) - float(answer.topsoil_bank) * 1.43
    assert answer.haul_loose == pytest.approx(dug - needed + answer.short_loose, rel=1e-6)
    assert answer.loads == math.ceil(answer.haul_loose / 14.0)


def test_hours_span_the_published_factors(graded):
    """0.90 full and 50 minutes an hour against 0.80 full and 70 %."""
    answer, _ = graded
    for order in answer.orders:
        assert order.hours.high / order.hours.low == pytest.approx(0.9 * 50 / 60 / (0.8 * 0.7))


def test_weight_alone_is_enough_and_said_to_be_typical(graded):
    answer, _ = graded
    assert "reach" in answer.machine.typical
    assert any("14 t" in text and "chart" in text for text in answer.assumed)


def test_the_card_goes_wall_by_wall_in_the_order_of_digging(graded):
    answer, _ = graded
    assert answer.card[0].wall == answer.orders[0].start_wall
    assert sorted(wall.wall for wall in answer.card) == ["back", "front", "left", "right"]
    stands = [stand for wall in answer.card for stand in wall.stands]
    assert sorted(stands) == [one.stand.number for one in answer.passes]
    assert math.isclose(sum(w.bank for w in answer.card), sum(p.bank for p in answer.passes))
    for wall in answer.card:
        assert wall.floor == pytest.approx(92.5)
        assert np.hypot(*(wall.line[1] - wall.line[0])) == pytest.approx(wall.length)


def test_json_has_the_keys_that_stay(graded):
    answer, _ = graded
    told = json.loads(dig_plan_json(answer))
    assert {"orders", "passes", "places", "rim_corners", "cautions"} <= told.keys()
    order = told["orders"][0]
    assert {"start_wall", "direction", "rim_corners", "rehandled", "haul_loose", "hours"} <= (
        order.keys()
    )
    assert order["rehandled"].keys() == {"loose", "volume_distance"}
    assert order["hours"].keys() == {"low", "high"}
    assert order["direction"] in ("clockwise", "counter-clockwise")
    first = told["passes"][0]
    assert {"stand", "wall", "position", "heading_degrees", "bank", "to"} <= first.keys()
    assert first["to"].keys() <= {place["name"] for place in told["places"]}
    assert {"name", "needed", "cast", "capacity"} <= told["places"][0].keys()
    corner = told["rim_corners"][0]
    assert set(corner["between"]) <= {"front", "right", "back", "left"}
    assert corner["stand"] in [one["stand"] for one in told["passes"]]
    codes = {caution["code"] for caution in told["cautions"]}
    assert {
        "plan-surcharge",
        "plan-undermined",
        "plan-overhead-lines",
        "plan-buried-lines",
    } <= codes


def test_positions_are_on_the_sites_grid(graded):
    answer, _ = graded
    told = json.loads(dig_plan_json(answer))
    house = shapely.Polygon(RECTANGLE)
    for one in told["passes"]:
        assert house.distance(shapely.Point(one["position"])) < 40.0


def test_without_machine_or_lot_the_plan_says_what_it_took(tmp_path):
    answer = plan(load_job(write_job(tmp_path, small())))
    assert any("usual 14 t" in text for text in answer.assumed)
    assert any("no finished lot" in text for text in answer.notes)
    assert answer.loads is None
    hole = sum(place.needed for place in answer.places if place.kind == "side")
    assert hole > 0.0
    assert float(answer.left_bank) == 0.0


def test_a_survey_too_small_to_grade_is_said_and_the_hole_taken(tmp_path):
    far = [[-400.0, -300.0], [600.0, -300.0], [600.0, 700.0], [-400.0, 700.0]]
    lot = {"boundary": far, "wall_grade": 130.0}
    answer = plan(load_job(job_file(tmp_path, lot=lot)))
    assert any("finished lot can't be worked out" in text for text in answer.notes)


def test_an_outline_drawn_the_other_way_round_is_planned_alike(tmp_path):
    (tmp_path / "a").mkdir()
    (tmp_path / "b").mkdir()
    turned = changed(small(), ("foundation", "corners"), RECTANGLE[::-1])
    turned = changed(turned, ("foundation", "walls"), ["back", "right", "front", "left"])
    one = plan(load_job(job_file(tmp_path / "a")))
    two = plan(load_job(write_job(tmp_path / "b", turned | WEIGHT_ALONE)))
    told = [
        sorted((o.start_wall, o.direction, o.rim_corners, round(o.hours.low, 6)) for o in p.orders)
        for p in (one, two)
    ]
    assert told[0] == told[1]
    assert [p.wall for p in one.passes] == [p.wall for p in two.passes]


def test_a_machine_by_weight_is_in_the_jobs_unit(tmp_path):
    feet = plan(load_job(job_file(tmp_path)))
    assert feet.volume_unit == "yd3"
    assert feet.machine.reach == pytest.approx(8.3 / 0.3048)
    assert feet.machine.bucket_capacity == pytest.approx(0.76 / 0.9144**3)
    assert feet.spoil.setback == 2.0


def test_a_side_to_keep_open_that_is_no_wall_is_refused_with_the_nearest(tmp_path):
    path = job_file(tmp_path, spoil={"keep_open": "frnt"})
    with pytest.raises(JobError) as caught:
        load_job(path)
    fault = caught.value.faults[0]
    assert fault.key == "spoil.keep_open"
    assert 'did you mean "front"' in fault.message
    assert fault.line is not None


def test_a_machine_that_is_no_figure_is_refused():
    with pytest.raises(JobError) as caught:
        read_job("[machine]\nreach = -1.0\n", "job.toml")
    assert any(fault.key == "machine.reach" for fault in caught.value.faults)


def test_the_demo_hauls_what_its_finished_lot_hauls_and_few_stands_are_for_less_than_a_bucket():
    """But for topsoil, which the lot counts by area and to its full depth at a thin rim too."""
    job = load_job("terrain/cli/demo_job/job.toml")
    answer, lot = plan(job), grade(job).lot
    assert not any(caution.code == "plan-no-room" for caution in answer.cautions)
    assert sum(one.loose < answer.machine.bucket_capacity for one in answer.passes) <= 3
    assert answer.haul_loose == pytest.approx(lot.hauled.loose, rel=0.02)
    assert answer.loads == lot.haul_loads


def test_earth_fit_for_no_fill_leaves(tmp_path):
    lot = {"boundary": BOUNDARY, "wall_grade": 103.5, "unsuitable": 0.3}
    answer = plan(load_job(job_file(tmp_path, lot=lot)))
    truck = next(place for place in answer.places if place.kind == "truck")
    assert answer.short_loose > 0.0
    assert truck.needed == pytest.approx(0.3 * float(answer.loose))
    assert answer.haul_loose >= truck.needed * (1 - 1e-9)


def half_dug(folder):
    """A job whose west half was dug upright to the floor by 4 May, with a pile on the left."""
    rows = ["point,northing,easting,elevation,code"]
    for east, up in ((97.9, 100.0), (98.1, 92.5), (109.0, 92.5), (119.9, 92.5), (120.1, 100.2)):
        for north in (197.9, 198.1, 218.0, 237.9, 238.1):
            height = 100.1 if north in (197.9, 238.1) else up
            rows.append(f"{len(rows)},{north},{east},{height},")
    (folder / "may4.csv").write_text("\n".join(rows) + "\n")
    pile = ["point,northing,easting,elevation,code", "1,218,80,106,heap"]
    pile += [f"{k},{n},{e},100.2,heap" for k, n, e in ((2, 208, 76), (3, 208, 84), (4, 228, 84),
                                                       (5, 228, 76))]  # fmt: skip
    (folder / "piles.csv").write_text("\n".join(pile) + "\n")
    job = small() | WEIGHT_ALONE
    job["dig"] = job["dig"] | {"side": 0.0}
    later = {
        "asdug": [{"date": "2027-05-04", "shots": ["may4.csv"]}],
        "piles": [{"date": "2027-05-04", "shots": ["piles.csv"]}],
    }
    return write_job(folder, job | later)


def test_what_is_left_is_planned_from_a_survey_and_the_piles_so_far(tmp_path):
    job = load_job(half_dug(tmp_path))
    whole, rest = plan(job), plan(job, day="2027-05-04")
    assert whole.start == "the design"
    assert rest.start == "the survey of 2027-05-04"
    dug = 22.0 * 40.0 * (100.0 + 68.0 / 150.0 - 92.5) / 27.0
    assert float(whole.bank) - float(rest.bank) == pytest.approx(dug, rel=0.03)
    told = sum(float(one.bank) for one in rest.passes) + float(rest.left_bank)
    assert told == pytest.approx(float(rest.bank), rel=1e-9)
    hole = shapely.box(98.2, 198.2, 119.8, 237.8)
    for one in rest.passes:
        tracks = shapely.Polygon(rest.frame.to_site(one.stand.tracks))
        assert tracks.intersection(hole).area < 0.1
    left = next(place for place in rest.places if place.name == "left")
    assert left.already > 3.0
    assert left.cast + left.already <= max(left.capacity, left.already) * (1 + 1e-9)


def test_a_hole_dug_all_over_but_not_deep_enough_says_that_there_is_nowhere_to_stand(tmp_path):
    rows = ["point,northing,easting,elevation,code"]
    for east in (98.0, 110.0, 124.0, 138.0, 150.0):
        for north in (198.0, 210.0, 224.0, 238.0):
            toe = east in (98.0, 150.0) or north in (198.0, 238.0)
            rows.append(f"{len(rows)},{north},{east},96.0,{'toe' if toe else 'floor'}")
    (tmp_path / "may4.csv").write_text("\n".join(rows) + "\n")
    codes = {"floor_codes": ["floor"], "toe_codes": ["toe"]}
    day = {"date": "2027-05-04", "shots": ["may4.csv"], **codes}
    dig = small()["dig"] | {"side": 0.0}
    answer = plan(load_job(job_file(tmp_path, asdug=[day], dig=dig)), day="2027-05-04")
    assert float(answer.bank) == pytest.approx(52.0 * 40.0 * 3.5 / 27.0, rel=1e-6)
    assert all(one.stand.kind == "rim" for one in answer.passes)
    assert float(answer.left_bank) > 0.0
    assert answer.left_why


def test_a_day_without_a_survey_is_refused_with_those_there_are(tmp_path):
    with pytest.raises(JobError) as caught:
        plan(load_job(half_dug(tmp_path)), day="2027-06-01")
    assert "2027-05-04" in caught.value.faults[0].message
