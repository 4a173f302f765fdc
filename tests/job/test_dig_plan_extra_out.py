"""Ramps, pits and trenches of the demo set out, each figure worked out by hand from its job file.

Corners there: B (532, 322), E (546, 322), F (564, 322), H (560, 350), I (516, 350).
"""

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely

from terrain.job.dig_plan import plan
from terrain.job.dig_plan_extra_out import breaks_of, extras_out, inside_paint
from terrain.job.dig_plan_extras import _up_to_ground
from terrain.job.load import load_job
from tests.job.made_job import small, write_job

CORNERS = {1: (532, 322), 4: (546, 322), 5: (564, 322), 7: (560, 350), 8: (516, 350)}


@pytest.fixture(scope="module")
def told():
    """The demo's plan."""
    return plan(load_job("terrain/cli/demo_job/job.toml"))


def digs(told, ground):
    """The numbers of the stands that dig some ground in plan."""
    return [p.stand.number for p in told.passes if p.dug.intersection(ground).area > 0.01]


def out_of(told, name):
    return next(out for out in extras_out(told) if out.told.name == name)


def test_a_ramp_leaves_its_wall_at_its_middle_and_climbs_to_the_ground(told):
    ramp = out_of(told, "way in")
    assert (ramp.mouth.wall, ramp.mouth.corner) == (5, 5)
    assert ramp.mouth.along == pytest.approx(12.0)
    assert ramp.mouth.heading == pytest.approx(0.0)
    foot, top = ramp.stakes
    assert foot.floor == pytest.approx(96.5)
    assert top.floor == pytest.approx(96.5 + ramp.length / 4.0)
    assert top.depth == pytest.approx(0.0, abs=0.01)
    assert foot.depth > 2.0
    assert 0.0 < ramp.length < 26.0
    assert ramp.told.stands == tuple(digs(told, ramp.told.dug))


@pytest.mark.parametrize(
    ("name", "spots", "floor"),
    [
        ("areaway", [(528, 350), (536, 350), (536, 357), (528, 357)], 99.5),
        ("porch piers", [(545, 354), (545, 364), (557, 364)], 100.0),
    ],
)
def test_two_tapes_find_every_corner_of_a_pit_and_bend_of_a_trench(told, name, spots, floor):
    out = out_of(told, name)
    assert len(out.stakes) == len(spots)
    for stake, spot in zip(out.stakes, spots, strict=True):
        for tape in stake.tapes:
            assert tape.length == pytest.approx(math.dist(CORNERS[tape.corner], spot))
        assert stake.floor == floor
        assert 2.0 < stake.depth < 5.0
    assert out.mouth is None
    assert out.told.stands


def test_the_paint_stops_at_the_ramps_mouth_and_over_the_trench_and_nowhere_else(told):
    names = told.site.walls
    east, street = (breaks_of(told, names.index(name)) for name in ("east", "street"))
    assert [(b.name, b.low, b.high) for b in east] == [
        ("way in", pytest.approx(6.0), pytest.approx(18.0))
    ]
    assert [(b.name, b.low, b.high) for b in street] == [
        ("porch piers", pytest.approx(14.25), pytest.approx(15.75))
    ]
    others = [k for k, name in enumerate(names) if name not in ("east", "street")]
    assert not any(breaks_of(told, k) for k in others)


def test_a_ramp_comes_up_where_its_floor_meets_sloping_ground_or_ends_below_it():
    """Floor 10 + s / 4 against ground 13 + s / 20: they meet at s = 15, past a bend at s = 10."""
    line = np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 30.0]])

    def ground(plan):
        return 13.0 + (np.abs(plan[:, 0]) + np.abs(plan[:, 1])) / 20.0

    spots, floor = _up_to_ground(line, (10.0, 4.0), ground)
    assert spots == pytest.approx(np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 5.0]]))
    assert floor == pytest.approx([10.0, 12.5, 13.75])
    short, low = _up_to_ground(line[:2], (10.0, 4.0), ground)
    assert short == pytest.approx(line[:2])
    assert low == pytest.approx([10.0, 12.5])


LEVEL = "point,northing,easting,elevation,code\n" + "".join(
    f"p{east}_{north},{north},{east},100.0,g\n"
    for east in range(0, 301, 100)
    for north in range(0, 401, 100)
)
MADE = {
    "machine": {"weight_tonnes": 14.0},
    "existing": {"shots": ["level.csv"]},
    "foundation": {
        "corners": [[100.0, 200.0], [148.0, 200.0], [148.0, 236.0], [100.0, 236.0]],
        "walls": ["south", "east", "north", "west"],
    },
}
RAMP = {"name": "way in", "line": [[148.0, 218.0], [190.0, 218.0]], "width": 12.0,
        "run_per_rise": 4.0}  # fmt: skip


def on_level(folder, ramp, **tables):
    """The plan of a dig 8 ft deep in level ground, its sides 1 to 1, with a ramp in its east."""
    (folder / "level.csv").write_text(LEVEL, encoding="utf-8")
    dig = {"floor": 92.0, "overdig": 2.0, "side": 1.0, "ramps": [RAMP | ramp]}
    dig |= tables.pop("digs", {})
    return plan(load_job(write_job(folder, small() | MADE | {"dig": dig} | tables)))


WELL = {"name": "well", "floor": 95.0,
        "corners": [[112.0, 236.0], [120.0, 236.0], [120.0, 252.0], [112.0, 252.0]]}  # fmt: skip
DRAIN = {"name": "drain", "floor": 96.0, "width": 2.0, "line": [[130.0, 196.0], [130.0, 170.0]]}


def test_ramp_pit_and_trench_of_a_made_job_are_where_hand_and_pencil_put_them(tmp_path):
    """Corners A to D: (100, 200), (148, 200), (148, 236), (100, 236); ground 100 throughout.

    The pit's last corner is 12 and 16 ft off D, so 20 ft; 36 and 16 off C, so the root of 1552. The
    trench's far end is 30 and 30 off A, 18 and 30 off B. The ramp comes up 8 * 4 = 32 ft out. The
    edge is 10 ft out: the pit, 16 ft out, breaks it from 148 - 120 to 148 - 112 of C, the trench
    from 129 to 131, which is 29 to 31 of A, the ramp, 12 ft wide, from 12 to 24 of B.
    """
    told = on_level(tmp_path, {}, digs={"pits": [WELL], "trenches": [DRAIN]})
    ramp, well, drain = extras_out(told)
    assert [out.told.kind for out in (ramp, well, drain)] == ["ramp", "pit", "trench"]
    assert taped(well.stakes[3]) == {2: pytest.approx(math.sqrt(1552)), 3: pytest.approx(20.0)}
    assert taped(drain.stakes[1]) == {
        0: pytest.approx(math.sqrt(1800)),
        1: pytest.approx(math.sqrt(1224)),
    }
    assert (well.stakes[3].side, drain.stakes[1].side) == (
        pytest.approx(0.0, abs=1e-6),
        pytest.approx(180.0),
    )
    assert ramp.length == pytest.approx(32.0)
    heights = [[(stake.floor, stake.depth) for stake in out.stakes] for out in (ramp, well, drain)]
    assert heights[0] == [pytest.approx((92.0, 8.0)), pytest.approx((100.0, 0.0), abs=1e-6)]
    assert heights[1] == [pytest.approx((95.0, 5.0))] * 4
    assert heights[2] == [pytest.approx((96.0, 4.0))] * 2
    assert [[(b.name, b.low, b.high) for b in breaks_of(told, wall)] for wall in range(4)] == [
        [("drain", pytest.approx(29.0), pytest.approx(31.0))],
        [("way in", pytest.approx(12.0), pytest.approx(24.0))],
        [("well", pytest.approx(28.0), pytest.approx(36.0))],
        [],
    ]


def test_an_extra_is_drawn_as_far_as_it_is_dug_and_no_farther(tmp_path):
    """The ramp comes up 32 ft out of its wall, its line runs on to 42 ft; the pit is dug whole."""
    told = on_level(tmp_path, {}, digs={"pits": [WELL]})
    rings = {name: np.vstack(parts) for name, _, parts in told.site.extras}
    (ramp,) = (out for out in extras_out(told) if out.told.kind == "ramp")
    out = told.frame.to_local(np.array([[148.0, 218.0]]))[0, 0]
    assert rings["way in"][:, 0].max() - out == pytest.approx(ramp.length)
    assert np.ptp(rings["way in"][:, 1]) == pytest.approx(12.0)
    assert np.ptp(rings["well"], axis=0) == pytest.approx([8.0, 16.0])


@pytest.mark.parametrize(
    ("side", "upright"),
    [(None, 5.0), (1.0, 0.0), ([[0.0, 2.0], [1.0, 1.0]], 2.0), ([[0.0, 3.0], [1.0, 0.0]], 3.0),
     ([[1.0, 1.0], [0.0, 1.5], [0.5, 1.0]], 1.5)],
)  # fmt: skip
def test_the_sides_of_an_extra_are_as_high_as_its_floor_is_deep_and_upright_as_drawn(
    tmp_path, side, upright
):
    """The pit's floor is 5 ft down. The ramp, 4 to 1, begins where the wall's side, 1 to 1 from
    2 ft out, comes up to it: 8/3 ft out, 2/3 ft above the floor that is 8 ft down."""
    well = WELL if side is None else WELL | {"side": side}
    ramp, pit = on_level(tmp_path, {}, digs={"pits": [well]}).ground.extras
    assert (pit.highest, pit.upright) == (pytest.approx(5.0), pytest.approx(upright))
    assert ramp.highest == pytest.approx(8.0 - 2.0 / 3.0, abs=1e-3)
    assert ramp.upright == ramp.highest
    assert pit.steps == ({None: ((0.0, 1.0),), 1.0: ((1.0, 1.0),)}.get(side) if not
                         isinstance(side, list) else tuple(map(tuple, side)))  # fmt: skip


@pytest.mark.parametrize(("north", "inside"), [(245.0, True), (245.9, True), (246.5, False)])
def test_a_pit_lies_inside_the_paint_until_it_reaches_the_edge(tmp_path, north, inside):
    """The edge along the north wall is 10 ft out, at 246; the pit then breaks it."""
    corners = [[112.0, 236.0], [120.0, 236.0], [120.0, north], [112.0, north]]
    told = on_level(tmp_path, {}, digs={"pits": [WELL | {"corners": corners}]})
    assert inside_paint(told, told.ground.extras[1]) == inside
    assert not inside_paint(told, told.ground.extras[0])
    assert bool(breaks_of(told, 2)) != inside


@pytest.mark.parametrize(
    ("south", "north", "inside"), [(226.0, 244.0, True), (222.0, 230.0, False)]
)
def test_a_pit_through_the_wall_lies_inside_the_paint_and_one_in_the_house_has_none(
    tmp_path, south, north, inside
):
    """Floor 91, a foot under the house's; the north wall is at 236, the edge at 246."""
    corners = [[112.0, south], [120.0, south], [120.0, north], [112.0, north]]
    pit = WELL | {"corners": corners, "floor": 91.0}
    told = on_level(tmp_path, {}, digs={"pits": [pit]})
    sump = told.ground.extras[1]
    assert not sump.dug.is_empty
    assert inside_paint(told, sump) == inside


def test_the_demo_s_pit_7_ft_out_lies_inside_an_edge_8_ft_out(told):
    """Along the street: 3 ft of overdig, a bench of 3 ft, then a slope of 0.75 to the ground."""
    pit, trench = (out_of(told, name).told for name in ("areaway", "porch piers"))
    assert (inside_paint(told, pit), inside_paint(told, trench)) == (True, False)


def taped(stake):
    """Lengths of its tapes by the corner's number."""
    return {tape.corner: tape.length for tape in stake.tapes}


@pytest.mark.parametrize(
    ("line", "wall", "corner", "along", "heading"),
    [
        ([[148, 218], [190, 218]], 1, 1, 18.0, 0.0),
        ([[148, 202], [190, 202]], 1, 1, 2.0, 0.0),  # 2 ft off the south wall, not through it
        ([[148, 234], [190, 234]], 1, 2, 2.0, 180.0),
        ([[140, 201], [190, 201]], 1, 1, 1.0, 0.0),  # from inside
        ([[150, 210], [190, 210]], 1, 1, 10.0, 0.0),  # foot on the dig line, outside the wall
    ],
)
def test_a_ramp_leaves_by_the_wall_it_crosses_however_near_a_corner(
    tmp_path, line, wall, corner, along, heading
):
    line = [[float(each) for each in spot] for spot in line]
    (ramp,) = extras_out(on_level(tmp_path, {"line": line}))
    assert (ramp.mouth.wall, ramp.mouth.corner) == (wall, corner)
    assert ramp.mouth.along == pytest.approx(along)
    assert ramp.mouth.heading == pytest.approx(heading)


def with_spots(told, spots, corners=None):
    """The ramp set out with another middle line, and in another outline, of the site."""
    (ramp,) = told.ground.extras
    level = np.full(len(spots), 92.0)
    ramp = replace(ramp, spots=told.frame.to_local(np.array(spots)), floor=level, ground=level + 8)
    site = told.site
    if corners is not None:
        names = tuple(str(k) for k in range(len(corners)))
        site = replace(site, corners=told.frame.to_local(np.array(corners)), walls=names)
    (out,) = extras_out(replace(told, site=site, ground=replace(told.ground, extras=(ramp,))))
    return out


def test_a_ramp_through_several_walls_is_told_by_the_last_and_where_it_leaves_it(tmp_path):
    """A house with a slot 6 ft wide, which the ramp crosses on its way out of the east wall."""
    told = on_level(tmp_path, {})
    slotted = [[100.0, 200.0], [148.0, 200.0], [148.0, 236.0], [136.0, 236.0], [136.0, 220.0],
               [130.0, 220.0], [130.0, 236.0], [100.0, 236.0]]  # fmt: skip
    out = with_spots(told, [[124.0, 230.0], [156.0, 230.0]], slotted)
    assert (out.mouth.wall, out.mouth.corner) == (1, 2)
    assert out.mouth.along == pytest.approx(6.0)
    along = with_spots(told, [[148.0, 210.0], [148.0, 216.0], [170.0, 216.0]])
    assert (along.mouth.wall, along.mouth.corner) == (1, 1)
    assert along.mouth.along == pytest.approx(16.0)


def test_a_break_near_a_corner_is_told_along_the_wall_only(tmp_path):
    """12 ft wide about a middle 2 ft from either end of a wall of 36 ft."""
    for north, low, high in ((202.0, 0.0, 8.0), (234.0, 28.0, 36.0)):
        told = on_level(tmp_path, {"line": [[148.0, north], [190.0, north]]})
        (east,) = breaks_of(told, 1)
        assert (east.low, east.high) == (pytest.approx(low), pytest.approx(high))


def test_a_ramp_whose_foot_is_above_the_ground_has_no_mouth(tmp_path):
    (ramp,) = extras_out(on_level(tmp_path, {"floor": 101.0}))
    assert ramp.mouth is None
    assert ramp.length == 0.0


def test_a_ramp_with_sloped_sides_breaks_the_paint_as_far_as_they_come_up(tmp_path):
    """The edge is 10 ft out; there the ramp's floor is 94.5, so its sides come up 5.5 ft off."""
    told = on_level(tmp_path, {"side": 1.0})
    (east,) = breaks_of(told, 1)
    assert (east.low, east.high) == (pytest.approx(6.5), pytest.approx(29.5))
    assert [breaks_of(told, wall) for wall in (0, 2, 3)] == [(), (), ()]


def test_a_ramp_that_ends_below_the_ground_is_not_driven_and_tells_how_far_below(tmp_path):
    told = on_level(tmp_path, {"line": [[148.0, 218.0], [164.0, 218.0]]})
    (ramp,) = extras_out(told)
    assert (ramp.stakes[-1].floor, ramp.stakes[-1].depth) == (
        pytest.approx(96.0),
        pytest.approx(4.0),
    )
    assert not told.ground.ramps[0].leads_out
    assert all(one.stand.kind != "floor" for one in told.passes)
    assert on_level(tmp_path, {}).ground.ramps[0].leads_out


def test_a_lot_without_room_round_the_dig_warns_of_the_way_that_leaves_it(tmp_path):
    lot = {"boundary": [[84.0, 184.0], [186.0, 184.0], [186.0, 252.0], [84.0, 252.0]],
           "wall_grade": 101.0}  # fmt: skip
    told = on_level(tmp_path, {"line": [[148.0, 218.0], [182.0, 218.0]]}, lot=lot)
    said = [caution for caution in told.cautions if caution.code == "plan-leaves-lot"]
    line = shapely.Polygon(told.site.boundary).buffer(0.01)
    off = [
        one.stand.number
        for one in told.passes
        if len(one.stand.way) > 1 and not line.covers(shapely.LineString(one.stand.way))
    ]
    assert bool(said) == bool(off)
    for number in off:
        assert f"stand {number} " in said[0].message
    assert off


def test_a_section_of_a_plain_side_climbs_at_its_one_slope_from_the_dig_line_up(told):
    """Beside a short wall the line out of its middle may cross the next wall's bench."""
    plain = [cut for cut in told.ground.cuts if len(cut.steps) == 1]
    assert {"clipped corner", "patio", "kitchen"} <= {cut.wall for cut in plain}
    for cut in plain:
        (run, rise), foot = cut.steps[0], cut.dig_line[1]
        out, up = (cut.dig_line[1:] - foot).T
        assert out[-1] > 0.1
        assert out == pytest.approx(up * run / rise, abs=1e-4), cut.wall
