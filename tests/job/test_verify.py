"""Every fault of a hole is found: to 1e-9 without noise, within what is stated with it."""

import csv
import io
import math
import re
from pathlib import Path

import laspy
import numpy as np
import pytest
import shapely
from rich.console import Console
from scipy.spatial import Delaunay
from scipy.stats import binom

from terrain.base.errors import SpoilbankError
from terrain.export.verify_csv import todo_points_csv
from terrain.job.asdug import surveyed_hole
from terrain.job.load import load_job
from terrain.job.verify import verified
from terrain.job.verify_amounts import amounts_of
from terrain.job.verify_floor import floor_checked
from terrain.job.verify_judge import judged
from terrain.job.verify_slope import asked_batter
from terrain.job.volumes import work_out
from terrain.report.figures import signed_hundredths
from terrain.report.verify_table import show_verify
from terrain.report.verify_words import cost_of, wall_words, with_doubt
from tests.job.made_hole import (
    CODES,
    FACE,
    FLOOR,
    NORTH,
    OVERDIG,
    WALLS,
    MadeHole,
    floor_grid,
    ground,
    hole_job,
    ring,
)

EXACT = 1e-9


def check(tmp_path, hole, **changes):
    return verified(load_job(hole_job(tmp_path, hole, **changes)), lambda stage: None)


def by_name(found):
    return {wall.wall: wall for wall in found.walls}


def test_a_hole_dug_to_design_is_ready_with_nothing_over_or_under(tmp_path):
    found = check(tmp_path, MadeHole())
    assert found.verdict == "ready"
    assert found.todo == ()
    assert found.floor.within == 1.0
    assert found.floor.area == pytest.approx(52 * 40, abs=EXACT)
    for wall in found.walls:
        for figure in (wall.least, wall.mean, wall.most):
            assert figure.value == pytest.approx(OVERDIG, abs=EXACT)
        amounts = wall.amounts
        for figure in (wall.turn_degrees, wall.bow, wall.batter, amounts.overdug, amounts.underdug):
            assert figure.value == pytest.approx(0.0, abs=EXACT)
    assert found.undercut.value == pytest.approx(0.0, abs=EXACT)
    assert [c.between for c in found.corners] == [
        ("left", "front"), ("front", "right"), ("right", "back"), ("back", "left"),
    ]  # fmt: skip
    for corner in found.corners:
        assert corner.offset.value == pytest.approx(0.0, abs=EXACT)
    assert [d.dug.value for d in found.diagonals] == pytest.approx(
        [math.hypot(52, 40)] * 2, abs=EXACT
    )


def mean_depth(low, high):
    """Mean depth of ground over the floor on a rectangle: a plane's is that of its middle."""
    middle = np.array([[(low[0] + high[0]) / 2, (low[1] + high[1]) / 2]])
    return float(ground(middle)[0] - FLOOR)


def test_a_hole_moved_east_is_wide_on_one_side_narrow_on_the_other_by_closed_forms(tmp_path):
    found = check(tmp_path, MadeHole().moved(0.3, 0.0))
    walls = by_name(found)
    assert walls["right"].mean.value == pytest.approx(2.3, abs=EXACT)
    assert walls["left"].most.value == pytest.approx(1.7, abs=EXACT)
    assert (walls["left"].verdict, walls["right"].verdict) == ("trim", "ready")
    assert found.verdict == "trim"
    assert [one.what for one in found.todo] == ["trim wall"]
    assert len(found.todo[0].at) >= 5
    over = 0.3 * 40 * mean_depth((150.0, 198.0), (150.3, 238.0)) / 27
    under = 0.3 * 40 * mean_depth((98.0, 198.0), (98.3, 238.0)) / 27
    assert walls["right"].amounts.overdug.value == pytest.approx(over, abs=EXACT)
    assert sum(w.amounts.underdug.value for w in found.walls) == pytest.approx(under, abs=EXACT)
    assert sum(w.amounts.overdug.value for w in found.walls) == pytest.approx(over, abs=EXACT)
    for corner in found.corners:
        assert corner.offset.value == pytest.approx(0.3, abs=EXACT)
        assert corner.angle_degrees.value == pytest.approx(90.0, abs=EXACT)


@pytest.mark.parametrize("degrees", [0.5, -0.5])
def test_a_turned_hole_tells_its_turn_on_every_wall(tmp_path, degrees):
    found = check(tmp_path, MadeHole().turned(degrees))
    for wall in found.walls:
        assert wall.turn_degrees.value == pytest.approx(degrees, abs=EXACT)
        assert wall.bow.value == pytest.approx(0.0, abs=EXACT)
    reach = math.hypot(26, 20) * 2 * math.sin(math.radians(abs(degrees)) / 2)
    for corner in found.corners:
        assert corner.angle_degrees.value == pytest.approx(90.0, abs=EXACT)
        assert corner.offset.value == pytest.approx(reach, abs=EXACT)


@pytest.mark.parametrize(("out", "verdict"), [(0.4, "ready"), (-0.4, "trim")])
def test_a_bowed_wall_tells_how_far_and_where(tmp_path, out, verdict):
    hole = MadeHole()
    # spot 3 of the front wall stands in its middle, 24 from its first corner
    assert hole.toe[3, 0] == 124.0
    hole.toe[3, 1] -= out
    front = by_name(check(tmp_path, hole))["front"]
    assert front.bow.value == pytest.approx(out, abs=EXACT)
    assert front.bow_at == pytest.approx(24.0, abs=EXACT)
    assert front.verdict == verdict
    area = abs(out) * (52 / 3) / 2
    wedge = abs(out) * (52 / 3) / 2 * (mean_depth((124, 198), (124, 198)) - NORTH * out / 3) / 27
    figure = front.amounts.overdug if out > 0 else front.amounts.underdug
    assert figure.value == pytest.approx(wedge, rel=1e-9)
    assert area > 0


def test_a_corner_left_high_is_found_with_its_height_place_and_volume(tmp_path):
    hole = MadeHole(floor=np.array([[110.0, 210.0]]))
    hole.toe[0, 2] += 0.5
    found = check(tmp_path, hole)
    assert found.floor.worst_high == pytest.approx(0.5, abs=EXACT)
    assert found.floor.high_at == pytest.approx((98.0, 198.0))
    # no shot stands nearer the corner than the next toes: the tent over it is one triangle
    area = (52 / 6) * (40 / 6) / 2
    assert found.floor.high_volume.value == pytest.approx(0.5 * area / 3 / 27, rel=1e-9)
    assert found.verdict == "trim"
    assert found.todo[0].what == "trim floor"
    assert found.todo[0].at[0][:3] == pytest.approx((98.0, 198.0, FLOOR))


def test_a_leaning_face_tells_its_batter(tmp_path):
    hole = MadeHole()
    lines = hole.text().splitlines()
    lean = 0.1
    faces = [
        f"{112.0 + k},{198.0 - lean * high},{FLOOR + high},face" for k, high in enumerate((2, 4, 6))
    ]
    text = "\n".join([line for line in lines if ",top" not in line] + faces) + "\n"
    assert by_name(check(tmp_path, text))["front"].batter.value == pytest.approx(lean, abs=EXACT)


def test_undercut_is_told_on_a_row_of_its_own(tmp_path):
    hole = MadeHole()
    hole.floor[:, 2] -= 0.2
    hole.toe[:, 2] -= 0.2
    found = check(tmp_path, hole)
    assert found.undercut.value == pytest.approx(0.2 * 52 * 40 / 27, abs=1e-8)
    assert [one.what for one in found.todo] == ["fill"]
    assert all(w.amounts.overdug.value == pytest.approx(0.0, abs=EXACT) for w in found.walls)


def test_without_a_ring_the_floor_alone_is_judged_and_no_volume_is_given(tmp_path):
    hole = MadeHole(toe=ring()[8:16])
    found = check(tmp_path, hole)
    assert found.floor is not None
    assert found.undercut is None
    assert {w.amounts for w in found.walls} == {None}
    assert by_name(found)["left"].verdict == "not enough shots"
    assert found.verdict == "not enough shots"
    assert any("No volumes by wall" in note for note in found.notes)
    assert any(one.what == "shoot" and one.wall == "left" for one in found.todo)


@pytest.mark.parametrize("fault", ["none", "moved", "turned"])
def test_without_codes_shots_are_told_apart_by_where_they_lie(tmp_path, fault):
    hole = MadeHole()
    if fault == "moved":
        hole.moved(0.3, 0.0)
    if fault == "turned":
        hole.turned(0.5)
    (tmp_path / "coded").mkdir()
    (tmp_path / "plain").mkdir()
    coded = check(tmp_path / "coded", hole)
    none = {key: [] for key in ("floor_codes", "toe_codes", "top_codes", "face_codes")}
    plain = check(tmp_path / "plain", hole.text(codes=False), asdug=none)
    for one, other in zip(coded.walls, plain.walls, strict=True):
        assert one.mean == other.mean
        assert one.amounts.overdug == other.amounts.overdug
    assert coded.verdict == plain.verdict


def test_excess_is_priced_where_the_job_has_prices(tmp_path):
    items = [
        {"item": "dig", "of": "pit", "measure": "bank", "price": "9.50"},
        {"item": "fill", "of": "backfill", "measure": "compacted", "price": "20.00"},
    ]
    billing = {"from": "a", "to": "b", "currency": "USD", "items": items}
    found = check(tmp_path, MadeHole().moved(0.3, 0.0), billing=billing)
    right = by_name(found)["right"]
    assert right.amounts.cost.value == pytest.approx(29.5 * right.amounts.overdug.value)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"text": MadeHole().moved(5000.0, 0.0).text()}, "another lot or on another grid"),
        ({"scale": 0.3048}, "they look like metres"),
        ({"raise": 12.0}, "above the ground that was there before"),
        ({"asdug": {"floor_codes": ["flor"], "toe_codes": [], "top_codes": [], "face_codes": []}},
         "no shot has one of these codes"),
        ({"text": "easting,northing,elevation\n"}, "asdug.csv"),
    ],
)  # fmt: skip
def test_shots_that_cannot_be_of_this_hole_are_refused_by_name(tmp_path, change, said):
    hole = MadeHole()
    for points in (hole.toe, hole.floor):
        points *= change.get("scale", 1.0)
        points[:, 2] += change.get("raise", 0.0)
    with pytest.raises(SpoilbankError) as caught:
        check(tmp_path, change.get("text", hole), asdug=change.get("asdug", {}))
    assert said in str(caught.value)


def test_an_unknown_day_and_no_survey_at_all_are_told(tmp_path):
    job = load_job(hole_job(tmp_path, MadeHole()))
    with pytest.raises(
        SpoilbankError, match="no survey of 2027-01-01; those there are: 2027-05-04"
    ):
        verified(job, lambda stage: None, "2027-01-01")


def test_the_last_day_is_checked_unless_another_is_named(tmp_path):
    later = {"date": "2027-05-09", "shots": ["later.csv"]} | CODES
    path = hole_job(tmp_path, MadeHole().moved(0.3, 0.0), more=[later])
    (tmp_path / "later.csv").write_text(MadeHole().text())
    found = verified(load_job(path), lambda stage: None)
    assert (found.date, found.verdict) == ("2027-05-09", "ready")
    assert verified(load_job(path), lambda stage: None, "2027-05-04").verdict == "trim"


def test_the_walls_of_the_made_hole_are_those_of_the_job():
    assert len(WALLS) == len(FACE)
    assert len(floor_grid()) == 48


def test_the_net_of_a_wall_is_what_was_dug_less_the_design(tmp_path):
    hole = MadeHole().moved(0.3, 0.0)
    hole.floor[:, 2] -= 0.2
    hole.toe[:, 2] -= 0.2
    walls = by_name(check(tmp_path, hole))
    over = 0.3 * 40 * (mean_depth((150.0, 198.0), (150.3, 238.0)) + 0.2) / 27
    under = 0.3 * 40 * mean_depth((98.0, 198.0), (98.3, 238.0)) / 27
    below = 0.2 * (52 * 40 - 0.3 * 40) / 27
    net = sum(wall.amounts.net.value for wall in walls.values())
    assert net == pytest.approx(over + below - under, abs=1e-8)


def noisy(sigma, seed):
    generator, hole = np.random.default_rng(seed), MadeHole()
    for points in (hole.toe, hole.floor):
        points += generator.normal(0.0, sigma, points.shape)
    return hole


def test_what_is_stated_of_volumes_holds_on_noisy_holes(tmp_path):
    sigma, held, off, stated = 0.05, [], [], []
    worked = work_out(load_job(hole_job(tmp_path, MadeHole(), asdug={"accuracy": sigma})))
    for seed in range(24):
        (tmp_path / "asdug.csv").write_text(noisy(sigma, seed).text())
        amounts = amounts_of(worked, surveyed_hole(worked, 0))
        for wall in amounts.walls:
            for figure in (wall.net, wall.overdug, wall.underdug):
                held.append(abs(figure.value) <= figure.plus_minus_95)
            off.append(wall.net.value)
            stated.append(wall.net.plus_minus_95 / 1.96)
            assert wall.sure_over < 0.25 * wall.noise_over
            assert wall.sure_under < 0.25 * wall.noise_under
        assert amounts.undercut.value <= amounts.undercut.plus_minus_95
    # what 288 figures may fall short of 95 % by at one in a thousand
    assert np.mean(held) >= binom.ppf(0.001, len(held), 0.95) / len(held)
    ratio = float(np.sqrt(np.mean(np.square(off))) / np.sqrt(np.mean(np.square(stated))))
    assert 0.75 < ratio < 1.25


def test_noise_adds_about_what_is_said_to_a_floor_and_to_plumb_faces(tmp_path):
    found = check(tmp_path, MadeHole(), asdug={"accuracy": 0.05})
    assert found.floor.thin_cut == pytest.approx(0.05 * 52 * 40 / math.sqrt(2 * math.pi) / 27)
    right = by_name(found)["right"].amounts
    depth = mean_depth((150.0, 198.0), (150.0, 238.0))
    face = 0.05 * 40 * depth / math.sqrt(2 * math.pi) / 27
    assert right.noise_over == pytest.approx(face, rel=1e-9)
    assert right.noise_under > right.noise_over


def test_what_is_surely_off_is_the_hole_taken_two_deviations_smaller_and_larger(tmp_path):
    walls = by_name(check(tmp_path, MadeHole().moved(0.3, 0.0), asdug={"accuracy": 0.05}))
    # 0.3 out of which 0.2 are left, over a length that is two deviations shorter at both ends;
    # a ring moved east by 0.3 has its corners where neighbours no longer reach
    over = 0.2 * (40 - 0.2) * mean_depth((150.0, 198.1), (150.2, 237.9)) / 27
    assert walls["right"].amounts.sure_over == pytest.approx(over, rel=0.02)
    assert walls["front"].amounts.sure_over == pytest.approx(0.0, abs=EXACT)
    assert walls["left"].amounts.sure_under > 0.5 * walls["left"].amounts.underdug.value


def test_a_wall_s_own_price_goes_before_the_pit_s_and_without_fill_there_is_none(tmp_path):
    dig = {"item": "dig", "of": "pit", "measure": "bank", "price": "9.50"}
    own = {"item": "right", "of": "right", "measure": "bank", "price": "30.00"}
    fill = {"item": "fill", "of": "backfill", "measure": "loose", "price": "20.00"}
    parties = {"from": "a", "to": "b", "currency": "USD"}
    soil = {"material": "own", "swell": 0.25, "shrink": 0.2}
    costs = []
    for name, items in (("a", [dig, own, fill]), ("b", [dig])):
        (tmp_path / name).mkdir()
        billing = {**parties, "items": items}
        found = check(tmp_path / name, MadeHole().moved(0.3, 0.0), billing=billing, soil=soil)
        costs.append((by_name(found)["right"].amounts, found.currency))
    (priced, currency), (bare, none) = costs
    # filled again in place: so much over 0.8 in bank, a quarter more loose
    each = 30.0 + 20.0 * 1.25 / 0.8
    assert priced.cost.value == pytest.approx(each * priced.overdug.value)
    assert (currency, bare.cost, none) == ("USD", None, None)


def test_stakes_of_a_wall_stand_on_the_line_asked_for_at_the_floor(tmp_path):
    found = check(tmp_path, MadeHole().moved(0.0, 0.5))
    (trim,) = [one for one in found.todo if one.wall == "front"]
    assert [spot[0] for spot in trim.at] == pytest.approx(np.linspace(98.0, 150.0, 7))
    for _, northing, elevation, words in trim.at:
        assert northing == pytest.approx(198.0)
        assert elevation == FLOOR
        assert "dig 0.50 out to here" in words


def test_a_wall_to_trim_says_where_along_it_and_at_which_spot_how_much(tmp_path):
    """A boulder 8 from the corner with the wall before: the toe there stands 0.8 in."""
    hole = MadeHole()
    hole.toe[3, 1] += 0.8
    found = check(tmp_path, hole)
    (trim,) = found.todo
    (spot,) = by_name(found)["front"].narrow_at
    easting = float(hole.toe[3, 0])
    assert spot.at == pytest.approx((easting, 198.0))
    assert spot.short == pytest.approx(0.8)
    assert spot.along == pytest.approx(easting - 100.0)
    assert trim.message == (
        f"Trim wall front: {easting - 100.0:.1f} ft along it from corner left / front, at E "
        f"{easting:.2f} N 198.00, dig 0.80 ft further out (1.20 of 2.00 ft is there)."
    )


def test_what_is_to_do_stands_in_the_order_of_a_machine(tmp_path):
    hole = MadeHole().moved(0.0, 0.5)
    hole.floor[0, 2] += 0.4
    hole.floor[-1, 2] -= 0.4
    found = check(tmp_path, hole)
    assert [one.what for one in found.todo] == ["trim wall", "trim floor", "fill"]
    points = list(csv.DictReader(io.StringIO(todo_points_csv(found.todo))))
    assert [p["point"] for p in points] == [f"V{k}" for k in range(1, len(points) + 1)]
    high, low = points[-2], points[-1]
    assert (float(high["easting"]), float(high["northing"])) == pytest.approx((101.0, 201.5))
    assert float(high["elevation"]) == float(low["elevation"]) == FLOOR


def test_a_boulder_at_a_toe_is_trimmed_but_moves_no_corner(tmp_path):
    hole = MadeHole()
    hole.toe[3, 1] += 0.8
    found = check(tmp_path, hole)
    front = by_name(found)["front"]
    assert (front.verdict, front.left_out) == ("trim", 1)
    assert [corner.offset.value for corner in found.corners] == pytest.approx([0.0] * 4, abs=EXACT)


def sloped(face_at):
    """A hole with sides of one to one, faces shot 3 above the floor so far out of the toe."""
    hole = MadeHole()
    toe = [f"{e!r},{n!r},{z!r},toe" for e, n, z in hole.toe.tolist()]
    floor = [f"{e!r},{n!r},{z!r},floor" for e, n, z in hole.floor.tolist()]
    faces = [f"{124.0 + k},{198.0 - face_at},{FLOOR + 3.0},face" for k in (-6, 0, 6)]
    return "\n".join(["easting,northing,elevation,code", *toe, *floor, *faces]) + "\n"


@pytest.mark.parametrize(("out", "warned"), [(3.0, False), (2.7, False), (1.5, True)])
def test_a_face_that_is_steeper_than_asked_is_a_caution(tmp_path, out, warned):
    found = check(tmp_path, sloped(out), dig={"side": 1.0})
    told = [line for line in found.cautions if line.startswith("Wall front")]
    assert bool(told) is warned
    if warned:
        assert "earth stands 1.5 ft above the slope asked for" in told[0]


@pytest.mark.parametrize(("lean", "warned"), [(1.0, False), (0.96, False), (0.8, True)])
@pytest.mark.parametrize("accuracy", [None, 0.03])
def test_tops_that_stand_too_near_make_a_steeper_face_a_caution(tmp_path, lean, warned, accuracy):
    """Tops alone tell no spot of the face; its lean does, against one to one asked for."""
    rows = [f"{e!r},{n!r},{z!r},toe" for e, n, z in MadeHole().toe.tolist()]
    rows += [f"{e!r},{n!r},{z!r},floor" for e, n, z in MadeHole().floor.tolist()]
    high = 6.0
    for easting in (112.0, 124.0, 136.0):
        rows.append(f"{easting!r},{198.0 - lean * high!r},{FLOOR + high!r},top")
    text = "\n".join(["easting,northing,elevation,code", *rows]) + "\n"
    asdug = {} if accuracy is None else {"accuracy": accuracy}
    found = check(tmp_path, text, dig={"side": 1.0}, asdug=asdug)
    front = by_name(found)["front"]
    assert front.batter_asked == 1.0
    assert front.batter.value == pytest.approx(lean, abs=1e-9)
    told = [line for line in found.cautions if line.startswith("Wall front")]
    assert bool(told) is warned
    assert not warned or "leans back 0.80 run per rise, 1.00 was asked for" in told[0]


def test_a_benched_side_has_no_one_lean_to_ask_for():
    assert asked_batter(((0.0, 4.0), (4.0, 0.0))) is None
    assert asked_batter(((0.0, 1.0),)) == 0.0
    assert asked_batter(((3.0, 4.0),)) == 0.75


def test_toes_in_metres_on_ground_that_holds_both_are_told(tmp_path):
    hole = MadeHole()
    hole.toe[:, :2] *= 0.3048
    hole.floor[:, :2] *= 0.3048
    wide = "".join(
        f"{e},{n},{ground(np.array([[e, n]]))[0]}\n" for e in (0, 220) for n in (0, 140, 300)
    )
    path = hole_job(tmp_path, hole)
    with (tmp_path / "shots.csv").open("a") as file:
        file.write(wide)
    with pytest.raises(SpoilbankError, match="on it if they were metres"):
        verified(load_job(path), lambda stage: None)


def test_toes_along_a_third_of_the_hole_are_taken_for_no_other_unit(tmp_path):
    hole = MadeHole(toe=ring()[0:4])
    assert check(tmp_path, hole).verdict == "not enough shots"


def test_shots_without_any_accuracy_are_taken_as_they_are(tmp_path):
    found = check(tmp_path, MadeHole().moved(0.26, 0.0))
    assert found.verdict == "trim"
    assert any("No accuracy is given" in note for note in found.notes)
    right = by_name(found)["right"]
    assert right.amounts.overdug.plus_minus_95 is None
    assert right.amounts.sure_over is None
    (tmp_path / "b").mkdir()
    same = check(tmp_path / "b", MadeHole().moved(0.26, 0.0), asdug={"accuracy": 0.05})
    assert same.verdict == "ready"


@pytest.mark.parametrize("turn", [False, True])
def test_an_outline_given_the_other_way_round_changes_nothing(tmp_path, turn):
    corners, walls = FACE, WALLS
    if turn:  # clockwise: wall i still runs from corner i to the next
        corners, walls = FACE[::-1], [WALLS[2], WALLS[1], WALLS[0], WALLS[3]]
    foundation = {"corners": corners, "walls": walls}
    found = check(tmp_path, MadeHole().turned(0.5).moved(0.3, 0.0), foundation=foundation)
    walls = by_name(found)
    for wall in walls.values():
        assert wall.turn_degrees.value == pytest.approx(0.5, abs=EXACT)
    assert walls["right"].mean.value == pytest.approx(
        0.3 + 26 * math.cos(math.radians(0.5)) - 24, abs=EXACT
    )


def test_a_scan_is_cut_and_judged_like_shots(tmp_path):
    generator = np.random.default_rng(8)
    low, high = np.array([98.5, 198.0]), np.array([150.5, 238.0])
    plan = generator.uniform([70.0, 170.0], [180.0, 266.0], (60_000, 2))
    out = np.maximum(np.maximum(low - plan, plan - high), 0.0).max(axis=1)
    points = np.column_stack([plan, np.minimum(FLOOR + out, ground(plan))])
    points += generator.normal(0.0, 0.02, points.shape)
    header = laspy.LasHeader(point_format=6, version="1.4")
    header.scales = np.full(3, 0.001)
    cloud = laspy.LasData(header)
    cloud.x, cloud.y, cloud.z = points.T
    cloud.write(tmp_path / "hole.laz")
    asdug = {"shots": ["hole.laz"], "accuracy": 0.02}
    found = check(tmp_path, MadeHole(), asdug=asdug, dig={"side": 1.0})
    walls = by_name(found)
    assert walls["right"].mean.value == pytest.approx(2.5, abs=0.02)
    assert walls["left"].verdict == "trim"
    assert walls["front"].batter.value == pytest.approx(1.0, abs=0.02)
    assert found.floor.within == 1.0
    net = sum(wall.amounts.net.value for wall in walls.values())
    assert net == pytest.approx(0.0, abs=4.0)
    assert any("The scan was cut" in note for note in found.notes)


def test_a_scan_of_before_the_dig_is_refused(tmp_path):
    plan = np.random.default_rng(8).uniform([70.0, 170.0], [180.0, 266.0], (9_000, 2))
    header = laspy.LasHeader(point_format=6, version="1.4")
    header.scales = np.full(3, 0.001)
    cloud = laspy.LasData(header)
    cloud.x, cloud.y, cloud.z = plan[:, 0], plan[:, 1], ground(plan)
    cloud.write(tmp_path / "hole.laz")
    with pytest.raises(SpoilbankError, match="shows no hole"):
        check(tmp_path, MadeHole(), asdug={"shots": ["hole.laz"]})


def test_the_tables_of_the_readme_are_those_of_a_job(tmp_path):
    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    (block,) = re.findall(r"```toml\n(\[\[asdug\]\][^`]*?floor_tolerance[^`]*)```", readme)
    path = hole_job(tmp_path, MadeHole())
    kept = [line for line in path.read_text().splitlines() if not line.startswith("asdug")]
    path.write_text("\n".join([*kept, block]))
    found = verified(load_job(path), lambda stage: None)
    assert (found.verdict, found.floor_tolerance, found.line_tolerance) == ("ready", 0.1, 0.25)


def test_toes_alone_make_no_hole_ready(tmp_path):
    found = check(tmp_path, MadeHole(floor=np.zeros((0, 2))))
    assert {wall.verdict for wall in found.walls} == {"ready"}
    assert found.verdict == "not enough shots"
    assert [one.message.split(":")[0] for one in found.todo] == ["Shoot the floor"]


def test_what_is_stated_of_the_floor_holds_on_noisy_floors(tmp_path):
    """Nothing is high or low in truth, or all of it by 0.06 ft; 40 floors each."""
    sigma, held, told = 0.05, [], []
    job = load_job(hole_job(tmp_path, MadeHole(), asdug={"accuracy": sigma}))
    worked = work_out(job, lambda stage: None)
    for raised in (0.0, 0.06):
        for seed in range(40):
            hole = noisy(sigma, seed)
            hole.toe[:, 2] += raised
            hole.floor[:, 2] += raised
            (tmp_path / "asdug.csv").write_text(hole.text())
            day = surveyed_hole(worked, 0)
            floor = floor_checked(worked, day, judged(worked, day))
            high, low = floor.high_volume, floor.low_volume
            held.append(abs(high.value - raised * floor.area / 27) <= high.plus_minus_95)
            held.append(low.value <= low.plus_minus_95)
            told.append((raised, high.is_significant))
    assert np.mean(held) >= binom.ppf(0.001, len(held), 0.95) / len(held)
    assert np.mean([called for raised, called in told if raised == 0.0]) <= 0.1
    assert np.mean([called for raised, called in told if raised > 0.0]) == 1.0


def test_the_plus_or_minus_of_a_floor_is_its_shots_weights_times_their_scatter(tmp_path):
    hole = MadeHole()
    hole.floor[:, 2] += 0.2
    hole.toe[:, 2] += 0.2
    found = check(tmp_path, hole, asdug={"accuracy": 0.05}, existing={"horizontal_accuracy": 0.0})
    # weights of a TIN are a third of the triangles round each shot
    plan = np.concatenate([hole.toe, hole.floor])[:, :2]
    triangles = plan[Delaunay(plan).simplices]
    first, second = triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0]
    area = np.abs(first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]) / 2
    assert area.sum() == pytest.approx(52 * 40)
    weight = np.bincount(Delaunay(plan).simplices.ravel(), np.repeat(area / 3, 3))
    stated = 1.96 * 0.05 * np.linalg.norm(weight) / 27
    assert found.floor.high_volume.plus_minus_95 == pytest.approx(stated, rel=0.02)


def test_what_is_smaller_than_its_doubt_is_called_not_significant(tmp_path):
    (tmp_path / "a").mkdir()
    billing = {
        "from": "a", "to": "b", "currency": "USD",
        "items": [
            {"item": "dig", "of": "pit", "measure": "bank", "price": "9.50"},
            {"item": "fill", "of": "backfill", "measure": "compacted", "price": "20.00"},
        ],
    }  # fmt: skip
    for folder, by, sure in (("a", 0.03, False), ("b", 0.6, True)):
        (tmp_path / folder).mkdir(exist_ok=True)
        found = check(
            tmp_path / folder, MadeHole().moved(by, 0.0), asdug={"accuracy": 0.05}, billing=billing
        )
        right, left = by_name(found)["right"], by_name(found)["left"]
        assert right.amounts.overdug.value > 0.0
        figures = (right.amounts.overdug, right.amounts.net, left.amounts.underdug)
        assert {figure.is_significant for figure in (*figures, right.amounts.cost)} == {sure}
        assert (cost_of(right) == "–") is not sure
        assert with_doubt(right.amounts.overdug).endswith(" *") is not sure


def test_a_turned_hole_is_over_and_under_by_what_shapely_cuts_off(tmp_path):
    found = check(tmp_path, MadeHole().turned(0.5))
    corners = MadeHole().turned(0.5).toe[::6, :2]
    dug, asked = shapely.Polygon(corners), shapely.box(98.0, 198.0, 150.0, 238.0)

    def volume(shape):
        """Of a plane's depth the mean is at the centroid of each part."""
        parts = shapely.get_parts(shape)
        return sum(
            p.area * (float(ground(np.array([[p.centroid.x, p.centroid.y]]))[0]) - FLOOR) / 27
            for p in parts
        )

    over = sum(wall.amounts.overdug.value for wall in found.walls)
    under = sum(wall.amounts.underdug.value for wall in found.walls)
    assert over == pytest.approx(volume(dug.difference(asked)), rel=1e-9)
    assert under == pytest.approx(volume(asked.difference(dug)), rel=1e-9)
    assert over > 1.0


def open_cut(codes, raised=0.0):
    """Shots of a hole with sides of one to one, its tops where these meet the ground, raised by so
    much, and ground 6 ft beyond.
    """
    hole, out = MadeHole(), ring(3.0) - ring(2.0)
    tops = hole.toe[:, :2].copy()
    for _ in range(60):  # one to one: as far out as the ground there is high
        tops = hole.toe[:, :2] + (ground(tops) - FLOOR)[:, None] * out
    halfway = (tops + hole.toe[:, :2]) / 2
    high = (ground(tops) - FLOOR) / 2 + FLOOR
    beyond = tops + 6.0 * out
    parts = (
        (hole.floor, "floor"), (hole.toe, "toe"), (np.column_stack([halfway, high]), "face"),
        (np.column_stack([tops, ground(tops) + raised]), "top"),
        (np.column_stack([beyond, ground(beyond)]), "grass"),
    )  # fmt: skip
    rows = [
        f"{e!r},{n!r},{z!r},{code if codes else ''}"
        for points, code in parts for e, n, z in points.tolist()
    ]  # fmt: skip
    return "\n".join(["easting,northing,elevation,code", *rows]) + "\n"


@pytest.mark.parametrize("raised", [0.0, 0.2])
def test_tops_of_leaning_faces_are_told_from_the_ground_without_codes(tmp_path, raised):
    none = {key: [] for key in ("floor_codes", "toe_codes", "top_codes", "face_codes")}
    found = []
    for name, codes, asdug in (("a", True, {}), ("b", False, none)):
        (tmp_path / name).mkdir()
        text = open_cut(codes, raised)
        found.append(check(tmp_path / name, text, asdug=asdug, dig={"side": 1.0}))
    coded, plain = found
    assert (coded.verdict, plain.verdict) == ("ready", "ready")
    for one, other in zip(coded.walls, plain.walls, strict=True):
        assert one.batter.value == pytest.approx(1.0, abs=0.06 if raised else EXACT)
        assert other.batter == one.batter
        assert other.amounts.net == one.amounts.net
        assert other.amounts.underdug == one.amounts.underdug
    if not raised:
        assert sum(wall.amounts.underdug.value for wall in plain.walls) == pytest.approx(
            0.0, abs=1e-7
        )


@pytest.mark.parametrize("raised", [0.15, -0.15])
def test_a_floor_off_all_over_is_off_by_its_area_surely_by_what_passes_two_deviations(
    tmp_path, raised
):
    hole = MadeHole()
    hole.floor[:, 2] += raised
    hole.toe[:, 2] += raised
    floor = check(tmp_path, hole, asdug={"accuracy": 0.05}).floor
    high, low = (floor.high_volume.value, floor.sure_high, floor.high_area), (
        floor.low_volume.value, floor.sure_low, floor.low_area,
    )  # fmt: skip
    off, none = (high, low) if raised > 0 else (low, high)
    area = 52.0 * 40.0
    assert off == pytest.approx((0.15 * area / 27, 0.05 * area / 27, area), rel=1e-9)
    assert none == pytest.approx((0.0, 0.0, 0.0), abs=1e-7)
    assert floor.within == pytest.approx(0.0, abs=EXACT)


def test_words_and_terminal_have_each_figure_of_a_wall_in_its_own_place(tmp_path):
    hole = MadeHole().turned(0.5).moved(0.0, 0.7)
    hole.toe[:, 0] += 0.02 * (hole.toe[:, 1] - 218.0)
    found = check(tmp_path, hole, asdug={"accuracy": 0.01})
    with io.StringIO() as out:
        show_verify(found, Console(file=out, width=80, highlight=False))
        lines = out.getvalue().splitlines()
    for wall in found.walls:
        words, amounts = wall_words(wall, found), wall.amounts
        figures = {
            "least": wall.least, "mean": wall.mean, "most": wall.most,
            "over": amounts.overdug, "under": amounts.underdug,
        }  # fmt: skip
        for name, figure in figures.items():
            assert words[name].startswith(f"{figure.value:.2f}")
        for name, figure in {
            "turn": wall.turn_degrees, "batter": wall.batter, "net": amounts.net,
        }.items():  # fmt: skip
            assert words[name].startswith(signed_hundredths(figure.value))
        own = [line.split() for line in lines if line.startswith(wall.wall + " ")]
        first, second = (line for line in own if line[1] != "/")
        told = [f"{figures[name].value:.2f}" for name in ("least", "mean", "most")]
        assert first[1:6] == [
            f"{wall.asked:.2f}",
            *told,
            signed_hundredths(wall.turn_degrees.value),
        ]
        plain = [word for word in second if word != "*"]
        assert [plain[1], plain[4]] == [f"{figures[name].value:.2f}" for name in ("over", "under")]
        assert plain[7] == signed_hundredths(amounts.net.value)
