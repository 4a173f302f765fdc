"""Every fault of a hole is found: to 1e-9 without noise, within what is stated with it."""

import math

import numpy as np
import pytest

from terrain.base.errors import SpoilbankError
from terrain.job.load import load_job
from terrain.job.verify import verified
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
        assert corner.offset == pytest.approx(0.0, abs=EXACT)
    assert [d.dug for d in found.diagonals] == pytest.approx([math.hypot(52, 40)] * 2, abs=EXACT)


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
        assert corner.offset == pytest.approx(0.3, abs=EXACT)
        assert corner.angle_degrees == pytest.approx(90.0, abs=EXACT)


@pytest.mark.parametrize("degrees", [0.5, -0.5])
def test_a_turned_hole_tells_its_turn_on_every_wall(tmp_path, degrees):
    found = check(tmp_path, MadeHole().turned(degrees))
    for wall in found.walls:
        assert wall.turn_degrees.value == pytest.approx(degrees, abs=EXACT)
        assert wall.bow.value == pytest.approx(0.0, abs=EXACT)
    reach = math.hypot(26, 20) * 2 * math.sin(math.radians(abs(degrees)) / 2)
    for corner in found.corners:
        assert corner.angle_degrees == pytest.approx(90.0, abs=EXACT)
        assert corner.offset == pytest.approx(reach, abs=EXACT)


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
    assert found.floor.high_volume == pytest.approx(0.5 * area / 3 / 27, rel=1e-9)
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
    assert right.amounts.cost == pytest.approx(29.5 * right.amounts.overdug.value)


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
