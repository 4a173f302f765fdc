"""Sections against figures reckoned by hand for a pit of 40 by 30 ft, 8 ft deep."""

import numpy as np
import pytest
from shapely import Polygon

from terrain.job.sections import sections_of
from tests.job.made_pit import HOUSE, NAMES, plane, worked


def areas(section):
    return {(c.name, c.part): Polygon(c.ring).area for c in section.cut}


def bare(line):
    """The line without points on the straight between their neighbours."""
    back, ahead = line[1:-1] - line[:-2], line[2:] - line[1:-1]
    turns = np.abs(back[:, 0] * ahead[:, 1] - back[:, 1] * ahead[:, 0]) > 1e-9
    return line[np.concatenate([[True], turns, [True]])]


def test_a_sloped_side_in_level_ground(tmp_path):
    for section in sections_of(worked(tmp_path)):
        assert section.place == "middle"
        assert section.dig_line == pytest.approx(2.0)
        assert section.daylight == pytest.approx((10.0, 100.0))  # 8 ft up at 1:1 from 2 ft out
        assert section.grade_at_face == pytest.approx(100.0)
        assert section.cut_at_face == pytest.approx(8.0)
        (dig,) = section.dig
        assert bare(dig) == pytest.approx(
            np.array([(section.low, 92), (2, 92), (10, 100)]), abs=1e-9
        )
        area = areas(section)
        assert area[section.wall, "overdig"] == pytest.approx(16.0)
        assert area[section.wall, "side"] == pytest.approx(32.0)


def test_walls_come_in_the_jobs_order_numbered_from_1_seen_with_outside_on_the_right(tmp_path):
    sections = sections_of(worked(tmp_path))
    assert [s.wall for s in sections] == list(NAMES)
    assert [s.number for s in sections] == [1, 2, 3, 4]
    # facing the south wall's section with the outside, south, to the right, one looks east
    assert [s.heading for s in sections] == pytest.approx([90.0, 0.0, 270.0, 180.0])


def test_a_section_is_square_to_its_wall_through_its_middle(tmp_path):
    made = worked(tmp_path)
    for k, section in enumerate(sections_of(made)):
        start, end = HOUSE[k], HOUSE[(k + 1) % 4]
        run = section.end - section.start
        assert run @ (end - start) == pytest.approx(0.0, abs=1e-9)
        assert np.hypot(*run) == pytest.approx(section.high - section.low)
        face = section.start - section.low * run / np.hypot(*run)
        assert made.layout.frame.to_site(face) == pytest.approx((start + end) / 2)


def test_an_outline_drawn_clockwise_has_the_same_sections(tmp_path):
    turned = HOUSE[::-1]  # its walls from corner to corner: north, east, south, west as drawn
    names = ("north", "east", "south", "west")
    for folder in ("a", "b"):
        (tmp_path / folder).mkdir()
    slope = plane(fall=(0.02, 0.03))
    straight = {s.wall: s for s in sections_of(worked(tmp_path / "a", ground=slope))}
    again = {
        s.wall: s
        for s in sections_of(worked(tmp_path / "b", ground=slope, corners=turned, names=names))
    }
    assert set(straight) == set(again)
    for name, section in straight.items():
        assert again[name].daylight == pytest.approx(section.daylight)
        assert again[name].heading == pytest.approx(section.heading)


def test_benches_and_an_upright_foot_are_drawn_step_by_step(tmp_path):
    dig = "floor = 92.0\noverdig = 2.0\nside = [[0, 4], [4, 0]]\n"
    south = sections_of(worked(tmp_path, dig))[0]
    assert bare(south.dig[0])[-4:] == pytest.approx(
        np.array([(2, 92), (2, 96), (6, 96), (6, 100)]), abs=1e-9
    )
    assert south.daylight == pytest.approx((6.0, 100.0))


def test_daylight_in_falling_ground_is_where_side_and_plane_meet(tmp_path):
    """Out from the south wall the ground falls 1 in 10: 92 + (s - 2) = 100 - s / 10."""
    south = sections_of(worked(tmp_path, ground=plane(fall=(0.0, 0.1))))[0]
    station = 10.0 / 1.1
    assert south.daylight == pytest.approx((station, 100.0 - station / 10))


def test_a_footing_trench_is_told_below_the_floor_only(tmp_path):
    more = (
        "wall_thickness = 0.5\n"
        "footing = {width = 2.0, depth = 1.0, projection = 0.75, bottom = 91.0}\n"
    )
    south = sections_of(worked(tmp_path, foundation=more))[0]
    assert areas(south)["south", "footing"] == pytest.approx(2.0)  # 2 ft wide, 1 ft deep
    assert areas(south)["south", "overdig"] == pytest.approx(16.0)
    assert south.built.footing == pytest.approx(
        np.array([(-1.25, 91), (0.75, 91), (0.75, 92), (-1.25, 92)])
    )
    assert south.built.wall is None  # the job does not say how high it is
    assert south.built.face == (92.0, None)


def test_wall_and_stone_are_as_the_job_draws_them(tmp_path):
    more = (
        "wall_thickness = 0.5\nwall_height = 8.0\n"
        "footing = {width = 2.0, depth = 1.0, projection = 0.75}\n"
        "stone = {beyond = 1.0, over = 0.5, under_slab = 0.25}\n"
    )
    south = sections_of(worked(tmp_path, foundation=more))[0]
    assert south.built.wall == pytest.approx(np.array([(-0.5, 93), (0, 93), (0, 101), (-0.5, 101)]))
    base, drain = (Polygon(ring) for ring in south.built.stone)
    assert base.bounds == pytest.approx((south.low, 92.0, 0.0, 92.25))
    # 1 ft beyond the footing and half a foot over it, 1.5 ft high, less the footing's 0.75 by 1
    assert drain.area == pytest.approx(1.75 * 1.5 - 0.75)
    assert {v.name: v.elevation for v in south.levels}["top of wall"] == pytest.approx(101.0)


def test_extras_crossed_are_told_as_what_they_add(tmp_path):
    dig = (
        "floor = 92.0\noverdig = 2.0\nside = 0.0\n"
        '[[dig.trenches]]\nname = "drain"\nline = [[-20.0, 15.0], [60.0, 15.0]]\n'
        "width = 3.0\nfloor = 90.0\n"
    )
    west = sections_of(worked(tmp_path, dig))[3]
    # along the trench: 2 ft under the floor from the section's start to the dig line, then 10 ft
    within = (2.0 - west.low) * 2.0
    beyond = (min(west.high, 20.0) - 2.0) * 10.0
    drains = [Polygon(c.ring).area for c in west.cut if c.name == "drain"]
    assert sum(drains) == pytest.approx(within + beyond)
    assert {c.kind for c in west.cut} == {"wall", "trench"}


def test_where_nothing_is_dug_at_the_middle_the_deepest_place_is_taken(tmp_path):
    """Ground rises eastward from below the floor: the south wall's middle stands above it."""
    ground = plane(fall=(0.2, 0.0), upward=87.0)  # 91 at the middle, 94.2 at nine tenths
    dig = "floor = 92.0\noverdig = 2.0\nside = 1.0\n"
    south = sections_of(worked(tmp_path, dig, ground=ground))[0]
    assert south.place == "deepest"
    assert south.cut_at_face == pytest.approx(87.0 + 0.2 * 36.0 - 92.0)


def test_across_a_court_the_section_ends_inside_the_house_and_claims_no_daylight(tmp_path):
    corners = np.array(
        [[0, 0], [40, 0], [40, 30], [25, 30], [25, 12], [15, 12], [15, 30], [0, 30.0]]
    )
    names = ("s", "e", "ne", "court e", "court", "court w", "nw", "w")
    made = worked(tmp_path, corners=corners, names=names)
    section = next(s for s in sections_of(made) if s.wall == "court e")
    assert section.daylight is None
    assert section.high == pytest.approx(10.0 + 0.5 * 8.0)


def test_the_cut_of_a_section_is_all_between_grade_and_dig(tmp_path):
    """The stretches, by row and part, fill just what lies between the two drawn lines."""
    dig = (
        "floor = 92.0\noverdig = 2.0\nside = [[0, 3], [2, 0], [0.75, 1]]\n"
        '[[dig.pits]]\nname = "areaway"\nfloor = 90.0\n'
        "corners = [[10, -6], [30, -6], [30, 0], [10, 0]]\n"
    )
    for section in sections_of(worked(tmp_path, dig, ground=plane(fall=(0.02, 0.05)))):
        stations = np.linspace(section.low, section.high, 20_001)
        stations = (stations[1:] + stations[:-1]) / 2
        (grade,) = section.ground
        depth = np.zeros(len(stations))
        for line in section.dig:
            own = (stations > line[0, 0]) & (stations < line[-1, 0])
            order = np.argsort(line[:, 0], kind="stable")
            dug = np.interp(stations[own], line[order, 0], line[order, 1])
            depth[own] = np.interp(stations[own], grade[:, 0], grade[:, 1]) - dug
        step = (section.high - section.low) / 20_000
        told = sum(Polygon(c.ring).area for c in section.cut)
        assert told == pytest.approx(depth.sum() * step, rel=1e-3)


def test_where_nothing_is_dug_at_all_there_is_a_section_that_claims_no_cut(tmp_path):
    dig = "floor = 120.0\noverdig = 2.0\nside = 1.0\n"
    for section in sections_of(worked(tmp_path, dig)):
        assert (section.cut, section.dig, section.daylight) == ((), (), None)
        assert section.cut_at_face is None
        assert section.low == pytest.approx(-1.3 * 4.0)  # a tenth of the longer side
        assert section.high == pytest.approx(2.0 + 0.5 * 4.0)
