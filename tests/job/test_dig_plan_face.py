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


def test_the_face_stands_as_high_above_the_tracks_as_the_ground_dug_rises_above_theirs(tmp_path):
    """A plane that rises 0.1 a foot eastward: what is dug rises by a tenth of how far east it
    reaches past the middle of the tracks.
    """
    job = write_job(tmp_path, small() | {"machine": {"weight_tonnes": 14.0}})
    spots = [(e, n) for n in (150, 300) for e in (50, 250)]
    shots = [f"{k},{n},{e},{102 + 0.1 * (e - 100):.2f}," for k, (e, n) in enumerate(spots)]
    lines = ["point,northing,easting,elevation,code", *shots]
    (tmp_path / "shots.csv").write_text("\n".join(lines) + "\n")
    answer = plan(load_job(job))
    faces = [one for one in answer.passes if one.face is not None]
    for one in faces:
        past = float(shapely.bounds(one.dug)[2]) - one.stand.spot[0]
        assert one.face.high == pytest.approx(max(0.1 * past, 0.0), abs=0.01)
    high = [one.face.high for one in faces]
    assert max(high) > 1.0
    assert min(high) == 0.0


def test_softer_soil_finds_more_faces_too_near(plans):
    near = {
        name: sum(bool(one.face and one.face.steep) for one in answer.passes)
        for name, answer in plans.items()
    }
    assert near["C"] > near["rock"]


def test_a_face_too_near_is_said_of_exactly_the_stands_that_have_one(plans):
    answer = plans["C"]
    steep = {
        one.stand.number: one.face.steep for one in answer.passes if one.face and one.face.steep
    }
    assert steep
    for ahead, deep, wanted in steep.values():
        assert ahead < wanted == pytest.approx(answer.spoil.setback + 1.5 * deep)
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


def test_a_pass_names_the_walls_of_whose_sides_it_digs(plans):
    """By the ground it digs outside the dig line, nearest to which wall that lies."""
    answer = plans["rock"]
    corners, names = answer.site.corners, answer.site.walls
    lines = [shapely.LineString([corners[k - 1], corners[k]]) for k in (*range(1, len(names)), 0)]
    inside = shapely.Polygon(answer.site.dig_line)
    seen = set()
    for one in answer.passes:
        assert set(one.sides) <= set(names)
        out = one.dug.difference(inside.buffer(0.01))
        assert (out.area > 1.0) <= bool(one.sides)
        for name in one.sides:
            line = lines[names.index(name)]
            assert out.distance(line) <= inside.exterior.distance(line) + 8.0
            seen.add(name)
    assert seen == set(names)
