"""A plan as set out: tapes lead to the stand, counts add up, loads go on from one another."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
import shapely

from terrain.job.dig_plan import plan
from terrain.job.dig_plan_buckets import thrown, whole_buckets
from terrain.job.dig_plan_set_out import set_out, setback_of, spot_of, stands_digging
from terrain.job.load import load_job
from terrain.ledger.entries import LooseVolume
from terrain.report.card import card_html
from tests.job.made_job import small, write_job
from tests.report.made_dig_plan import made_dig_plan

RIDGE = {"machine": {"weight_tonnes": 14.0}, "haul": {"truck": 14.0}}


@pytest.fixture(scope="module")
def planned(tmp_path_factory):
    dig = small()["dig"] | {"topsoil_strip": 0.5}
    folder = tmp_path_factory.mktemp("set_out")
    return plan(load_job(write_job(folder, small() | RIDGE | {"dig": dig})))


def walked(corners, spot):
    """Where one ends who walks the words: along the wall's line from its corner, then inwards."""
    turn = np.radians(spot.heading)
    way = np.array([np.sin(turn), np.cos(turn)])
    house = shapely.Polygon(corners)
    foot = corners[spot.corner] + spot.along * way
    ends = [foot + side * np.array([-way[1], way[0]]) for side in (1.0, -1.0)]
    middle = np.array(house.centroid.coords[0])
    inner, _ = sorted(ends, key=lambda end: np.hypot(*(end - middle)))
    return foot + spot.inside * (inner - foot)


def crossed(corners, spot):
    """Where two tapes cross on the side told, by the cosine rule."""
    (one, a), (two, b) = ((corners[t.corner], t.length) for t in spot.tapes)
    base = two - one
    c = np.hypot(*base)
    along = (a * a - b * b + c * c) / (2 * c)
    up = np.sqrt(max(a * a - along * along, 0.0))
    turn = np.radians(spot.side)
    return one + along * base / c + up * np.array([np.sin(turn), np.cos(turn)])


@pytest.mark.parametrize("direction", [1, -1])
@pytest.mark.parametrize("at", [(3.0, 4.0), (36.0, -2.5), (30.0, 4.0), (20.0, 11.0)])
def test_the_words_lead_to_the_stand_whichever_way_the_outline_is_drawn(direction, at):
    made = made_dig_plan()
    site = made.site
    if direction < 0:  # the same walls: the first of them still between the first two corners
        corners = site.corners[[1, 0, 3, 2]]
        walls = (site.walls[0], site.walls[3], site.walls[2], site.walls[1])
        site = replace(site, corners=corners, walls=walls)
    turned = replace(made, site=site)
    spot = spot_of(turned, replace(made.passes[0].stand, spot=at))
    assert not spot.past
    assert spot.along <= 20.0 + 1e-9  # from the nearer corner of a wall of 40
    assert walked(site.corners, spot) == pytest.approx(np.array(at))
    assert crossed(site.corners, spot) == pytest.approx(np.array(at), abs=1e-6)


def test_past_a_corner_two_tapes_that_cross_well_lead_to_the_stand(planned):
    made = made_dig_plan()
    for at in ((-6.0, 4.0), (47.0, 3.0), (52.0, -9.0)):
        spot = spot_of(made, replace(made.passes[0].stand, spot=at))
        assert spot.past
        assert crossed(made.site.corners, spot) == pytest.approx(np.array(at), abs=1e-6)
    for told in set_out(planned):
        at = np.array(told.one.stand.spot)
        assert crossed(planned.site.corners, told.spot) == pytest.approx(at, abs=1e-6)
        off = [at - planned.site.corners[t.corner] for t in told.spot.tapes]
        sine = abs(off[0][0] * off[1][1] - off[0][1] * off[1][0]) / np.prod(
            np.hypot(*np.array(off).T)
        )
        assert sine > 0.2


def test_buckets_of_stands_sum_to_their_place_and_next_to_nothing_is_none(planned):
    for made in (planned, made_dig_plan()):
        for place in made.places:
            counts = [c.buckets for one in made.passes for c in one.to if c.place == place.name]
            assert sum(counts) == place.buckets
            assert abs(place.buckets - place.cast / made.machine.bucket_capacity) <= 0.5 + 1e-6
        for one in made.passes:
            for cast in one.to:
                assert abs(cast.buckets - cast.loose / made.machine.bucket_capacity) < 1.0 + 1e-6


def test_many_scraps_make_a_bucket_once():
    made = made_dig_plan()
    cast = replace(made.passes[0].to[0], loose=LooseVolume(0.2))
    scraps = tuple(replace(made.passes[0], to=(cast,)) for _ in range(10))
    told, places = whole_buckets(scraps, made.places, 1.0)
    assert [one.to[0].buckets for one in told] == [0, 0, 1, 0, 0, 0, 0, 1, 0, 0]
    assert next(p.buckets for p in places if p.name == cast.place) == 2


def test_truck_loads_go_on_from_one_stand_to_the_next_and_end_at_the_plan_s_count(planned):
    loads = [each for told in set_out(planned) for each in told.casts if each.first is not None]
    assert loads[0].first == 1
    assert loads[-1].last == planned.loads
    for one, two in pairwise(loads):
        assert two.first in (one.last, one.last + 1)
        assert one.first <= one.last
    made = set_out(made_dig_plan())  # 10 and 12 loose by trucks of 14
    assert [(c.first, c.last) for told in made for c in told.casts if c.cast.place == "truck"] == [
        (1, 1), (1, 2),
    ]  # fmt: skip


def test_a_pass_without_its_topsoil_is_what_its_bucket_moves(planned):
    for told in set_out(planned):
        assert told.loose == pytest.approx(sum(c.loose for c in thrown(told.one)))
        rest = told.one.loose - sum(c.loose for c in told.one.to if c.swing is None)
        assert told.loose == pytest.approx(rest, abs=1e-9)
        assert told.bank / told.loose == pytest.approx(planned.bank / planned.loose)


def test_a_way_over_the_lot_line_is_told_by_the_side_it_leaves(planned):
    made = made_dig_plan()
    one = made.passes[0]
    out = replace(one.stand, way=np.array([[30.0, 4.0], [90.0, 4.0], [90.0, 20.0], [30.0, 20.0]]))
    told = set_out(replace(made, passes=(replace(one, stand=out),)))[0]
    assert told.leaves == pytest.approx((90.0,))
    assert all(told.leaves == () for told in set_out(made))
    floor = replace(out, kind="floor", way=np.array([[70.0, 15.0], [30.0, 15.0]]))
    assert set_out(replace(made, passes=(replace(one, stand=floor),)))[0].ramp == "way in"


def test_the_stands_that_dig_along_a_wall_are_those_whose_ground_lies_there():
    made = made_dig_plan()
    front = next(wall for wall in made.card if wall.wall == "front")
    assert stands_digging(made, front) == (1, 2)


def test_a_pile_is_as_far_from_the_edge_as_its_nearest_point():
    made = made_dig_plan()
    front = next(place for place in made.places if place.name == "front")
    assert setback_of(made, front) == pytest.approx(2.0)  # -8 against the edge at -6
    truck = next(place for place in made.places if place.kind == "truck")
    assert setback_of(made, truck) is None


def test_the_top_edge_of_a_level_lot_is_overdig_and_side_from_the_wall(tmp_path):
    """On level ground at 100 a floor at 92 with overdig 2 and 1:1 comes up 10 out."""
    job = small()
    rows = "".join(
        f"p{e}_{n},{n},{e},100.0,g\n" for e in range(0, 301, 100) for n in range(0, 401, 100)
    )
    (tmp_path / "level.csv").write_text("point,northing,easting,elevation,code\n" + rows)
    dig = {"floor": 92.0, "overdig": 2.0, "side": 1.0,
           "walls": {"back": {"side": [[0, 4], [1, 1]]}, "left": {"side": 0.0}}}  # fmt: skip
    answer = plan(load_job(write_job(
        tmp_path, job | RIDGE | {"existing": {"shots": ["level.csv"]}, "dig": dig})))  # fmt: skip
    assert [cut.wall for cut in answer.ground.cuts] == list(answer.site.walls)
    by_name = {cut.wall: cut for cut in answer.ground.cuts}
    stepped = by_name.pop("back")
    assert stepped.out == pytest.approx((6.0, 6.0))
    heights = [[0.0, 92.0], [2.0, 92.0], [2.0, 96.0], [6.0, 100.0]]
    drawn = shapely.LineString(stepped.dig_line)
    assert drawn.hausdorff_distance(shapely.LineString(heights)) < 1e-6
    plumb = by_name.pop("left")
    assert plumb.out == pytest.approx((2.0, 2.0))
    assert plumb.dig_line[[0, -1]] == pytest.approx(np.array([[0.0, 92.0], [2.0, 100.0]]))
    for cut in by_name.values():
        assert cut.out == pytest.approx((10.0, 10.0))
        assert cut.ends == pytest.approx((10.0, 10.0))
        assert cut.ground == pytest.approx((100.0, 100.0))
        assert cut.depth == pytest.approx((8.0, 8.0))
        assert cut.dig_line[-1] == pytest.approx(np.array([10.0, 100.0]))
    assert answer.ground.topsoil is None


def test_beside_an_inside_corner_the_top_edge_is_the_wall_s_own(tmp_path):
    """An L in metres on level ground at 100: a side of 2 m at 1:1 is 2.6 m out all round."""
    rows = "".join(f"p{e}_{n},{n},{e},100.0,g\n" for e in (0, 60) for n in (0, 60))
    (tmp_path / "level.csv").write_text("point,northing,easting,elevation,code\n" + rows)
    corners = [[20, 20], [34, 20], [34, 26], [28, 26], [28, 32], [20, 32]]
    walls = ["front", "right", "jog", "inner", "back", "left"]
    tables = {"site": {"length_unit": "m"}, "existing": {"shots": ["level.csv"]},
              "foundation": {"corners": corners, "walls": walls},
              "dig": {"floor": 98.0, "overdig": 0.6, "side": 1.0},
              "machine": {"weight_tonnes": 8.0}}  # fmt: skip
    answer = plan(load_job(write_job(tmp_path, small() | tables)))
    assert [cut.wall for cut in answer.ground.cuts] == walls
    for cut in answer.ground.cuts:
        assert cut.out == pytest.approx((2.6, 2.6))
    page = card_html(answer)
    assert "2.60 m" in page
    assert "′" not in page.split("<script")[0]


def test_a_ramp_moves_no_wall_s_top_edge(tmp_path, planned):
    ramp = {"name": "way in", "line": [[124.0, 200.0], [124.0, 172.0]], "width": 12.0,
            "run_per_rise": 4.0}  # fmt: skip
    dig = small()["dig"] | {"topsoil_strip": 0.5, "ramps": [ramp]}
    ramped = plan(load_job(write_job(tmp_path, small() | RIDGE | {"dig": dig})))
    assert ramped.ground.ramps[0].width == 12.0
    assert [cut.out for cut in ramped.ground.cuts] == [cut.out for cut in planned.ground.cuts]


def test_topsoil_is_its_depth_over_the_cut(planned):
    soil = planned.ground.topsoil
    assert soil.depth == 0.5
    assert soil.area == pytest.approx(planned.site.daylight.area, rel=1e-6)
    whole = planned.unit.volume(0.5 * soil.area)
    assert 0.95 * whole < soil.bank <= whole  # the cut is shallower than that along its edge


@pytest.mark.parametrize("backwards", [False, True])
def test_the_top_edge_is_told_from_the_wall_s_first_corner_as_drawn(tmp_path, backwards):
    """Ground that climbs 1 in 20 eastwards from 100 at easting 0; the floor is 92, sides 1:1."""
    rows = "".join(
        f"p{e}_{n},{n},{e},{100.0 + e / 20},g\n"
        for e in range(0, 301, 100) for n in range(0, 401, 100)
    )  # fmt: skip
    (tmp_path / "slope.csv").write_text("point,northing,easting,elevation,code\n" + rows)
    dig = {"floor": 92.0, "overdig": 2.0, "side": 1.0}
    corners = [[100.0, 200.0], [148.0, 200.0], [148.0, 236.0], [100.0, 236.0]]
    walls = ["south", "east", "north", "west"]
    if backwards:
        corners, walls = corners[::-1], ["north", "east", "south", "west"]
    tables = {"existing": {"shots": ["slope.csv"]}, "dig": dig,
              "foundation": {"corners": corners, "walls": walls}}  # fmt: skip
    answer = plan(load_job(write_job(tmp_path, small() | RIDGE | tables)))
    south = next(cut for cut in answer.ground.cuts if cut.wall == "south")
    ends = (2.0 + 8.0 + 100.0 / 20, 2.0 + 8.0 + 148.0 / 20)
    assert south.ends == pytest.approx(ends[::-1] if backwards else ends)
    assert south.out == pytest.approx(ends)
    assert south.ground == pytest.approx((105.0, 107.4))
