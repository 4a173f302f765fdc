"""A job whose ground is level notes and tapes, or a phone's positions: read, checked, dug."""

from dataclasses import replace

import numpy as np
import pytest

from terrain.base.errors import SpoilbankError
from terrain.job.ground import existing_ground, read_survey
from terrain.job.load import load_job
from terrain.job.volumes import volumes, work_out
from tests.job.made_job import RECTANGLE, WALLS, small, write_job

FLOOR = 92.0


def ground(easting, northing):
    return 100.0 + 0.02 * (easting - 124.0) - 0.03 * (northing - 218.0)


def level_job(folder, *, backwards=False, bench=100.0, error=0.0):
    """Nine points off each wall by station and offset, read from one set-up and closed on BM2."""
    job = small()
    corners = RECTANGLE[::-1] if backwards else RECTANGLE
    walls = [WALLS[2], WALLS[1], WALLS[0], WALLS[3]] if backwards else WALLS
    job["foundation"] = {"corners": corners, "walls": walls}
    job["dig"]["floor"] = FLOOR
    job["existing"] = {"notes": ["level.csv"], "marks": {"BM1": bench, "BM2": 101.0}}
    rows = ["point,bs,rod,fs,wall,stationing,offset,code", "BM1,5.5,,,,,,"]
    height, number = bench + 5.5, 0
    for k, wall in enumerate(walls):
        start, end = np.array(corners[k]), np.array(corners[(k + 1) % 4])
        along = (end - start) / np.hypot(*(end - start))
        outward = np.array([along[1], -along[0]]) * (-1 if backwards else 1)
        for station in (-40.0, 0.0, 24.0, 88.0):
            for offset in (3.0, 45.0):
                spot = start + station * along + offset * outward
                reading = height - ground(*spot)
                number += 1
                rows.append(f"p{number},,{float(reading)!r},,{wall},{station},{offset},ground")
    rows.append(f"BM2,,,{height - 101.0 + error!r},,,,")
    path = write_job(folder, job)
    (folder / "level.csv").write_text("\n".join(rows) + "\n")
    return path


@pytest.mark.parametrize("backwards", [False, True])
def test_a_laser_a_rod_and_a_tape_give_the_ground_and_the_dig(tmp_path, backwards):
    job = load_job(level_job(tmp_path, backwards=backwards))
    survey = read_survey(job)
    upward = [ground(e, n) for e, n in survey.shots.plan]
    assert np.allclose(survey.shots.elevation, upward, atol=1e-9)
    assert len(survey.shots) == 32
    assert survey.files[0].kind == "level notes"
    answer = volumes(job)
    # 52 x 40 at the floor, 1:1 sides under a plane: the frustum by Qhull
    assert answer.ledger.total.quantity.bank == pytest.approx(dug_by_qhull(), rel=1e-9)
    assert any("closes on BM2 by +0.000" in note for note in answer.notes)


def dug_by_qhull():
    from scipy.spatial import ConvexHull, HalfspaceIntersection

    faces = [[-0.02, 0.03, 1.0, -ground(0.0, 0.0)], [0.0, 0.0, -1.0, FLOOR]]
    for east, north, reach in ((1, 0, 150), (-1, 0, -98), (0, 1, 238), (0, -1, -198)):
        faces.append([east, north, -1.0, FLOOR - reach])
    body = HalfspaceIntersection(np.array(faces), np.array([124.0, 218.0, FLOOR + 1.0]))
    return ConvexHull(body.intersections - body.intersections.mean(axis=0)).volume / 27


def test_notes_that_do_not_close_are_refused_with_file_and_line(tmp_path):
    job = load_job(level_job(tmp_path, error=0.2))
    with pytest.raises(SpoilbankError) as caught:
        volumes(job)
    assert "level.csv:35" in str(caught.value)
    assert "0.200 ft low" in str(caught.value)


def test_the_notes_accuracy_enters_the_doubt_of_the_volume(tmp_path):
    job = load_job(level_job(tmp_path))
    survey = read_survey(job)
    # two readings tie the set-up: its variance is 1/2 of a reading's, a side shot's 3/2
    assert np.allclose(survey.shots.accuracy, 0.01 * np.sqrt(1.5), rtol=1e-6)
    assert volumes(job).ledger.total.bank_plus_minus_95 > 0


def test_each_shots_accuracy_goes_with_its_own_place_in_the_ground(tmp_path):
    job = load_job(level_job(tmp_path))
    worked = work_out(job)
    shots, tin = worked.survey.shots, worked.existing.tin
    own = np.linspace(0.01, 0.5, len(shots))
    survey = replace(worked.survey, shots=replace(shots, accuracy=own))
    each = existing_ground(job, survey, worked.layout.frame).ground.errors.each
    plan = worked.layout.frame.to_site(tin.points[:, :2])
    for spot, accuracy in zip(plan, each, strict=True):
        (k,) = np.flatnonzero(np.hypot(*(shots.plan - spot).T) < 1e-6)
        assert accuracy == own[k]


def phone_job(folder, extra=""):
    """A house on level ground that a phone took in a grid; `extra` ends header and rows."""
    job = small()
    job["site"] = {"length_unit": "m", "crs": "EPSG:32615"}
    job["foundation"]["corners"] = [[500020.0, 4983020.0], [500032.0, 4983020.0],
                                    [500032.0, 4983030.0], [500020.0, 4983030.0]]  # fmt: skip
    job["dig"] = {"floor": 267.0, "overdig": 0.6, "side": 1.0}
    job["existing"] = {"positions": ["phone.csv"], "phone": {"heights": "sea level"}}
    path = write_job(folder, job)
    import pyproj

    east, north = np.meshgrid(500000.0 + 6.0 * np.arange(9), 4983000.0 + 6.0 * np.arange(9))
    lon, lat = pyproj.Proj("EPSG:32615")(east.ravel(), north.ravel(), inverse=True)
    header, ending = ("latitude,longitude,height", "270.0")
    if extra:
        header, ending = f"{header},vertical_accuracy", f"{ending},{extra}"
    rows = [header] + [f"{b:.9f},{a:.9f},{ending}" for a, b in zip(lon, lat, strict=True)]
    (folder / "phone.csv").write_text("\n".join(rows))
    return path


def test_a_phones_positions_give_a_ground_with_its_own_great_doubt(tmp_path):
    answer = volumes(load_job(phone_job(tmp_path, "4.0")))
    total = answer.ledger.total
    assert total.quantity.bank == pytest.approx(13.2 * 11.2 * 3 + 24.4 * 9 + 36, rel=1e-4)
    assert total.bank_plus_minus_95 > 0.25 * total.quantity.bank
    assert "doubtful-survey" in {caution.code for caution in answer.ledger.cautions}


def test_what_makes_a_phones_volume_meaningless_is_told_beside_the_answer(tmp_path):
    answer = volumes(load_job(phone_job(tmp_path, "4.0")))
    assert any("no volume of a basement can be had" in note for note in answer.warnings)
    assert "positions-too-rough" in {caution.code for caution in answer.ledger.cautions}
    good = volumes(load_job(phone_job(tmp_path, "0.02")))
    assert not good.warnings


def test_positions_that_say_nothing_of_their_accuracy_have_no_plus_or_minus(tmp_path):
    path = phone_job(tmp_path)
    answer = volumes(load_job(path))
    assert answer.ledger.total.bank_plus_minus_95 is None
    assert any("says nothing of the accuracy" in note for note in answer.warnings)
    path.write_text(path.read_text().replace("[existing]", "[existing]\naccuracy = 0.5", 1))
    assert volumes(load_job(path)).ledger.total.bank_plus_minus_95 > 0


def test_accuracies_that_files_state_shot_by_shot_are_told_as_what_the_doubt_rests_on(tmp_path):
    said = dict(volumes(load_job(level_job(tmp_path))).assumed)["Accuracy"]
    assert said.startswith("0.012 ft shot by shot, as the survey itself says")
    (tmp_path / "phone").mkdir()
    path = phone_job(tmp_path / "phone")
    assert "none given" in dict(volumes(load_job(path)).assumed)["Accuracy"]
