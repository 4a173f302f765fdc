"""Taped points: along a line and off it, or where two tapes meet."""

import math

import numpy as np
import pytest

from terrain.base.errors import SurveyError
from terrain.survey.level_notes import read_notes
from terrain.survey.tape import TapeFrom, along, placed_plan, where_tapes_meet

WALL = np.array([[100.0, 200.0], [148.0, 200.0]])
BENT = np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 10.0]])


def test_a_station_and_offset_lie_along_and_to_the_right():
    assert along(WALL, 12.0, 5.0) == (112.0, 195.0)
    assert along(WALL, -3.0, -2.0) == (97.0, 202.0)
    assert along(BENT, 14.0, 1.0) == (11.0, 4.0)
    assert along(BENT, 23.0, 0.0) == (10.0, 13.0)


@pytest.mark.parametrize("side", ["left", "right"])
def test_two_tapes_meet_at_both_their_lengths_on_the_side_asked(side):
    one, other = (3.0, 4.0), (11.0, 10.0)
    (east, north), angle = where_tapes_meet(one, other, (7.0, 8.0), side)
    assert math.dist(one, (east, north)) == pytest.approx(7.0, abs=1e-12)
    assert math.dist(other, (east, north)) == pytest.approx(8.0, abs=1e-12)
    turn = (other[0] - one[0]) * (north - one[1]) - (other[1] - one[1]) * (east - one[0])
    assert (turn > 0) == (side == "left")
    assert 60 < angle < 90


def test_the_three_four_five_triangle_meets_squarely():
    spot, angle = where_tapes_meet((0.0, 0.0), (5.0, 0.0), (4.0, 3.0), "left")
    assert spot == pytest.approx((3.2, 2.4), abs=1e-12)
    assert angle == pytest.approx(90.0, abs=1e-9)


def notes_of(rows: str):
    head = "point,bs,rod,line,at,offset,from,tape,from2,tape2,side\n"
    return read_notes("level.csv", (head + rows).encode())


KNOWN = TapeFrom(lines={"front": WALL}, points={"A": (0.0, 0.0), "B": (5.0, 0.0)})


def test_notes_place_their_points_from_known_walls_and_corners():
    notes = notes_of("BM,5,,,,,,,,,\np,,1,front,12,5,,,,,\nq,,1,,,,A,4,B,3,left\n")
    plan, said = placed_plan(notes, KNOWN)
    assert plan["p"] == (112.0, 195.0)
    assert plan["q"] == pytest.approx((3.2, 2.4), abs=1e-12)
    assert not said


def test_tapes_that_meet_too_sharply_are_told():
    notes = notes_of("BM,5,,,,,,,,,\nq,,1,,,,A,40,B,39,left\n")
    _, said = placed_plan(notes, KNOWN)
    assert "meet at" in said[0]
    assert "level.csv:3" in said[0]


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("p,,1,frnt,12,5,,,,,", 'no line is called "frnt"; the nearest are "front"'),
        ("p,,1,,,,A,4,C,3,left", 'no corner is called "C"'),
        ("p,,1,,,,A,1,B,3,left", "miss one another by 1.00"),
        ("p,,1,,,,A,12,B,3,left", "4.00 too long"),
        ("p,,1,,,,A,4,A,3,left", "at one spot"),
    ],
)
def test_a_place_that_cannot_be_is_refused_by_line(row, said):
    with pytest.raises(SurveyError, match=said.replace(".", r"\.")) as caught:
        placed_plan(notes_of(f"BM,5,,,,,,,,,\n{row}\n"), KNOWN)
    assert caught.value.faults[0].line == 3
