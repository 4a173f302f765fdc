"""Vertical faces that are left: every one is told, where it is and how high, and no other."""

import numpy as np
import pytest

from terrain.base.errors import EdgeError
from terrain.base.frame import LocalFrame
from terrain.base.units import FOOT
from terrain.lot.edge import require_lot_surveyed
from terrain.lot.jumps import jumps_of
from terrain.surface.tin import build_tin
from tests.lot.made_lot import WALLS, keep, lot, pad, plane, rotation
from tests.lot.test_finish_closed import apron

LEAST = 0.01
HAIR = 1e-7  # heights are taken a hair beside a line, where it bends another plane may hold
NEAR_LINE = [[-5, -60], [100, -60], [100, 90], [-5, 90]]


def ends(jump):
    return sorted([tuple(np.round(jump.start, 6)), tuple(np.round(jump.end, 6))])


def test_a_lot_that_ties_in_leaves_no_face():
    assert jumps_of(plane(100.0), lot(apron=apron([101] * 4)), LEAST) == ()


@pytest.mark.parametrize("degrees", [0.0, 23.0])
@pytest.mark.parametrize(("grade", "sign"), [(101.0, 1.0), (99.0, -1.0)])
def test_a_lot_line_near_the_house_leaves_a_face_as_high_as_the_ground_differs(
    degrees, grade, sign
):
    finished = lot(boundary=NEAR_LINE, degrees=degrees, apron=apron([grade] * 4))
    (face,) = jumps_of(plane(100.0, degrees=degrees), finished, LEAST)
    assert face.where == "lot line"
    assert face.height == pytest.approx(0.75 if sign > 0 else -1.5, abs=HAIR)
    turn = rotation(degrees)
    # along the line it goes down with the distance from the house's corners, to 0.01
    run = 10 + 3 * (0.5 - LEAST) if sign > 0 else 10 + 3 * (1.5 - LEAST)
    wanted = np.array([[-5.0, -run], [-5.0, 30.0 + run]]) @ turn
    assert ends(face) == sorted(tuple(np.round(w, 6)) for w in wanted)


def test_a_lot_line_all_round_is_one_face():
    finished = lot(boundary=[[-5, -5], [45, -5], [45, 35], [-5, 35]], apron=apron([101] * 4))
    (face,) = jumps_of(plane(100.0), finished, LEAST)
    assert face.height == pytest.approx(0.75, abs=HAIR)
    assert (face.start == face.end).all()


def test_round_an_area_kept_the_finished_ground_stops():
    oak = keep([[-15.0, 5.0], [-5.0, 5.0], [-5.0, 15.0], [-15.0, 15.0]])
    (face,) = jumps_of(plane(100.0), lot(apron=apron([101] * 4), keeps=(oak,)), LEAST)
    assert face.where == "area oak"
    assert face.height == pytest.approx(0.75, abs=HAIR)
    # it ends where the fill is 0.01 high, 11.47 out from the wall
    assert ends(face) == [(-11.47, 5.0), (-11.47, 15.0)]


def test_a_step_between_two_walls_is_told_with_both_names():
    finished = lot(apron=apron([101, (102, 101), 101, 101]))
    (face,) = jumps_of(plane(100.0), finished, LEAST)
    assert face.where == "step between wall front and wall right"
    assert face.height == pytest.approx(1.0, abs=HAIR)
    # out along the corner until the higher side's fill is 0.01 high
    far = 10 + 3 * (1.5 - LEAST)
    assert ends(face) == [(40.0, 0.0), (round(40.0 + far, 6), round(-far, 6))]


def test_at_an_inside_corner_unlike_linear_grades_leave_a_step():
    house = np.array([[0, 0], [60, 0], [60, 25], [30, 25], [30, 55], [0, 55]], dtype=float)
    grades = [101, 101, (101, 103), (103, 103), 103, (103, 101)]
    finished = lot(house=house, walls=tuple("abcdef"), apron=apron(grades))
    found = jumps_of(plane(100.0), finished, LEAST)
    (face,) = [j for j in found if j.where == "step between wall c and wall d"]
    # 10 out from both walls the one has fallen 10/30 of 2 along it, the other nothing
    assert face.height > 2 * 10 / 30 - 1e-9


def test_a_pad_against_the_apron_ties_out_at_its_slopes():
    drive = pad([[20, -30], [35, -30], [35, -5], [20, -5]], 99.0)
    assert jumps_of(plane(100.0), lot(apron=apron([101] * 4), pads=(drive,)), LEAST) == ()


def survey(reach):
    corners = np.array([[-reach, -reach], [40 + reach, -reach], [40 + reach, 30 + reach],
                        [-reach, 30 + reach]])  # fmt: skip
    return build_tin(np.column_stack([corners, np.full(4, 100.0)]))


def refusals(finished, reach):
    """What is said against a survey that ends so far off the house; nothing if it will do."""
    try:
        require_lot_surveyed(finished, survey(reach), LocalFrame(), FOOT)
    except EdgeError as error:
        return [str(fault) for fault in error.faults]
    return []


def test_a_survey_that_ends_where_nothing_changes_will_do():
    assert refusals(lot(apron=apron([101] * 4)), 11.6) == []


def test_a_survey_that_ends_in_the_fill_is_refused_and_told_how_much_further():
    told = refusals(lot(apron=apron([101] * 4)), 11.2)
    assert len(told) == 4
    for wall in WALLS:
        assert any(f"wall {wall} still needs 0.10 ft of fill" in t and "0.3 ft" in t for t in told)


def test_a_survey_that_ends_at_the_lot_line_will_do():
    finished = lot(boundary=[[-5, -5], [45, -5], [45, 35], [-5, 35]], apron=apron([101] * 4))
    assert refusals(finished, 5.0) == []
