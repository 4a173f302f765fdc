"""The face in front of a stand: how deep, how near, and where it comes too near."""

import re

import numpy as np
import pytest
import shapely

from terrain.job.dig_plan import plan
from terrain.job.load import load_job
from tests.job.made_job import small, write_job


def planned(folder, soil, **machine):
    """A plan of a made job whose soil is of a class, or of none."""
    given = {"soil": small()["soil"] | soil, "machine": {"weight_tonnes": 14.0} | machine}
    return plan(load_job(write_job(folder, small() | given)))


def ahead_of(one):
    """From the front of the tracks to the nearest ground dug."""
    front = (one.stand.tracks[0] + one.stand.tracks[1]) / 2
    turn = np.radians(one.stand.heading)
    facing = np.array([np.sin(turn), np.cos(turn)])
    return float(((shapely.get_coordinates(one.dug) - front) @ facing).min())


@pytest.fixture(scope="module")
def plans(tmp_path_factory):
    """Of stable rock with upright sides allowed, and of the softest class."""
    soils = {"rock": {"class": "stable rock"}, "C": {"class": "C"}}
    return {name: planned(tmp_path_factory.mktemp(name), soil) for name, soil in soils.items()}


def test_the_face_of_a_stand_is_in_front_of_it_and_no_nearer_than_the_nearest_ground_dug(plans):
    for answer in plans.values():
        setback = answer.spoil.setback
        for one in answer.passes:
            assert (one.face is None) == (one.stand.kind == "floor")
            if one.face is not None:
                assert ahead_of(one) >= setback - 0.01
                assert one.face.ahead >= ahead_of(one) - 0.01
                assert one.face.deep <= max(cut.depth[1] for cut in answer.ground.cuts) + 0.5


def test_softer_soil_keeps_the_tracks_farther_from_deep_faces(plans):
    def shares(answer):
        return [
            one.face.ahead / one.face.deep
            for one in answer.passes
            if one.face and one.face.deep > 4
        ]

    assert np.median(shares(plans["C"])) > np.median(shares(plans["rock"]))


def test_a_face_too_near_is_said_of_exactly_the_stands_that_have_one(plans):
    answer = plans["C"]
    steep = {
        one.stand.number: one.face.steep for one in answer.passes if one.face and one.face.steep
    }
    assert steep
    for ahead, deep, wanted in steep.values():
        assert ahead < wanted == pytest.approx(max(answer.spoil.setback, 1.5 * deep))
    (said,) = [c.message for c in answer.cautions if c.code == "plan-face-near"]
    told = re.search(r"from stands? ([\d, ]+), since", said).group(1)
    assert {int(number) for number in told.split(",")} == set(steep)
    worst = min(steep, key=lambda number: steep[number][0] - steep[number][2])
    assert f"most from stand {worst}, where a face {steep[worst][1]:.1f} ft deep" in said


def test_how_far_off_faces_stay_is_said_by_the_soil_s_class(plans):
    said = {
        name: next(c.message for c in answer.cautions if c.code == "plan-face")
        for name, answer in plans.items()
    }
    assert "or 1.5:1 for its soil if that is flatter" in said["C"]
    assert "for its soil" not in said["rock"]
