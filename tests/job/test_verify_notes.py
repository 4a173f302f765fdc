"""Shots of a hole that fit nowhere are refused or told by their row, never used in silence."""

import pytest

from terrain.base.errors import SurveyError
from terrain.job.load import load_job
from terrain.job.verify import verified
from tests.job.made_hole import MadeHole, hole_job

FLOORS, TOES = 2, 50
"""Rows of the first floor and the first toe shot in the made file."""


def check(tmp_path, hole, **changes):
    return verified(load_job(hole_job(tmp_path, hole, **changes)), lambda stage: None)


def typed_wrong(kind, shot, by):
    hole = MadeHole()
    getattr(hole, kind)[shot, 1] += by
    return hole


@pytest.mark.parametrize(
    ("kind", "what", "row"), [("toe", "toe shot", TOES), ("floor", "floor shot", FLOORS)]
)
def test_a_shot_of_the_hole_beside_the_ground_surveyed_is_refused_at_its_row(
    tmp_path, kind, what, row
):
    with pytest.raises(SurveyError, match=f"this {what} lies beside the ground") as caught:
        check(tmp_path, typed_wrong(kind, 3, -900.0))
    assert caught.value.faults[0].line == row + 3


def test_ground_shots_beside_the_ground_surveyed_before_are_no_matter(tmp_path):
    text = MadeHole().text() + "100.0,-500.0,100.0,tree\n"
    assert check(tmp_path, text).verdict == "ready"


def test_a_toe_off_the_line_by_less_than_it_may_be_is_no_note(tmp_path):
    found = check(tmp_path, typed_wrong("toe", 3, 0.2))
    assert [wall.left_out for wall in found.walls] == [1, 0, 0, 0]
    assert not any("stands" in note for note in found.notes)


@pytest.mark.parametrize(("by", "way"), [(-50.0, "out"), (0.8, "in")])
def test_a_toe_off_the_line_of_its_wall_is_told_by_its_row(tmp_path, by, way):
    found = check(tmp_path, typed_wrong("toe", 3, by))
    told = [note for note in found.notes if "stands" in note]
    assert len(told) == 1
    assert (
        f"asdug.csv:{TOES + 3} stands {abs(by):.2f} ft {way} of the line of wall front" in told[0]
    )


def test_floor_shots_outside_the_toes_are_told(tmp_path):
    hole = typed_wrong("floor", 3, -40.0)
    (told,) = [note for note in check(tmp_path, hole).notes if "outside the toes" in note]
    assert f"asdug.csv:{FLOORS + 3}" in told


def test_a_sound_hole_has_none_of_these_notes(tmp_path):
    notes = check(tmp_path, MadeHole(), asdug={"accuracy": 0.05}).notes
    assert len(notes) == 1
    assert notes[0].startswith("Shots are taken to be as good in plan as in height")


def test_without_codes_the_note_says_how_near_a_floor_shot_counts_as_a_toe(tmp_path):
    none = {key: [] for key in ("floor_codes", "toe_codes", "top_codes", "face_codes")}
    notes = check(tmp_path, MadeHole().text(codes=False), asdug=none).notes
    assert any("within 1 ft of the dig line counts as a toe" in note for note in notes)
