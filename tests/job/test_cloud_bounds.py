"""A cloud is cropped to what the job needs, and that changes no figure."""

import pytest

from terrain.base.errors import EdgeError
from terrain.job import ground as ground_module
from terrain.job.cloud_bounds import cloud_bounds
from terrain.job.grade import grade
from terrain.job.load import load_job
from terrain.job.volumes import volumes, work_out
from tests.job.made_cloud import cloud_job
from tests.job.made_job import small, write_job

LOT = {
    "boundary": [[-50.0, 100.0], [300.0, 100.0], [300.0, 350.0], [-50.0, 350.0]],
    "wall_grade": 106.0,
    "fall": 0.05,
    "fall_distance": 10.0,
    "cut_slope": 3.0,
    "fill_slope": 3.0,
}


@pytest.mark.parametrize("side", [0.5, [[0.0, 4.0], [4.0, 0.0]], 2.5])
def test_cropping_leaves_points_out_and_changes_no_volume(tmp_path, monkeypatch, side):
    job = cloud_job(tmp_path, dig={"floor": 94.0, "overdig": 2.0, "side": side})
    cropped = volumes(job)
    assert cropped.inputs[0].cloud.outside > 20_000
    monkeypatch.setattr(ground_module, "cloud_bounds", lambda job: None)
    whole = volumes(job)
    assert whole.inputs[0].cloud.outside == 0
    for one, other in zip(cropped.ledger.walls, whole.ledger.walls, strict=True):
        assert one.quantity.bank == pytest.approx(other.quantity.bank, rel=1e-9)
    assert cropped.ledger.daylight_area == pytest.approx(whole.ledger.daylight_area, rel=1e-9)


def test_the_lot_is_kept_whole(tmp_path, monkeypatch):
    job = cloud_job(tmp_path, lot=LOT)
    cropped = grade(job)
    shots = work_out(job).survey.shots
    assert shots.easting.min() < -50.0
    assert shots.northing.max() > 350.0
    monkeypatch.setattr(ground_module, "cloud_bounds", lambda job: None)
    whole = grade(job)
    assert cropped.lot.fill == pytest.approx(whole.lot.fill, rel=1e-9)
    assert cropped.lot.cut == pytest.approx(whole.lot.cut, rel=1e-9)


def test_the_higher_the_ground_the_farther_out_sides_climb(tmp_path):
    needed = cloud_bounds(cloud_job(tmp_path))
    low, high = needed.bounds(100.0), needed.bounds(120.0)
    assert high[0] < low[0]
    assert high[3] > low[3]
    # 1:1 sides from the floor at 92.5: 2 of overdig and 27.5 of climb, to a square corner, and 10 m
    assert high[2] == pytest.approx(148.0 + 2**0.5 * 29.5 + 10.0 / 0.3048)
    # a bird over the site crops no wider than ground 6 m above the floor does, nor a low top less
    assert needed.up_to(needed.usual_top)(500.0) == needed.bounds(92.5 + 6.0 / 0.3048)
    assert needed.up_to(needed.usual_top)(100.0) == low


def counted(monkeypatch):
    """The crops that a job's clouds are read in, in order."""
    asked, true = [], ground_module._read_within

    def counting(job, bounds):
        asked.append(bounds if bounds is None else bounds(1e9))
        return true(job, bounds)

    monkeypatch.setattr(ground_module, "_read_within", counting)
    return asked


def test_sides_that_climb_farther_than_the_first_crop_are_read_again_and_dug_the_same(
    tmp_path, monkeypatch
):
    job = cloud_job(tmp_path, dig={"floor": 70.0, "overdig": 2.0, "side": 2.5})
    asked = counted(monkeypatch)
    cropped = volumes(job)
    assert len(asked) == 2
    assert asked[1][2] > asked[0][2] + 20.0
    assert cropped.inputs[0].cloud.outside > 0
    monkeypatch.setattr(ground_module, "cloud_bounds", lambda job: None)
    whole = volumes(job)
    assert whole.inputs[0].cloud.outside == 0
    assert cropped.ledger.total.quantity.bank == pytest.approx(
        whole.ledger.total.quantity.bank, rel=1e-9
    )


def test_ground_low_enough_is_read_once(tmp_path, monkeypatch):
    asked = counted(monkeypatch)
    volumes(cloud_job(tmp_path))
    assert len(asked) == 1


def test_a_corner_too_sharp_for_the_crop_is_dug_from_the_whole_cloud(tmp_path, monkeypatch):
    tip = [[100.0, 200.0], [180.0, 200.0], [100.0, 216.0]]  # 11 degrees: a mitre ten times as far
    job = cloud_job(
        tmp_path,
        foundation={"corners": tip, "walls": ["front", "slant", "left"]},
        dig={"floor": 92.5, "overdig": 2.0, "side": 1.0},
    )
    asked = counted(monkeypatch)
    found = volumes(job)
    assert asked[-1] is None
    assert found.inputs[0].cloud.outside == 0


def test_a_survey_that_ends_too_soon_is_told_from_all_of_it(tmp_path):
    job = cloud_job(tmp_path, dig={"floor": -400.0, "overdig": 2.0, "side": 3.0})
    with pytest.raises(EdgeError, match="survey ends before the side"):
        volumes(job)


def test_no_crop_without_a_cloud_or_where_the_design_hangs_on_shots(tmp_path):
    (tmp_path / "a").mkdir()
    assert cloud_bounds(load_job(write_job(tmp_path / "a", small()))) is None
