"""What a later survey errs by: its own where its table says so, else as the ground's."""

import pytest

from terrain.base.errors import SpoilbankError
from terrain.job.later import errors_of
from terrain.job.load import load_job
from terrain.job.verify import verified
from tests.job.made_hole import MadeHole, hole_job

KEYS = ("accuracy", "horizontal_accuracy", "datum_accuracy")
GROUND = {key: 0.01 * k for k, key in enumerate(KEYS, start=1)} | {
    "correlated_accuracy": 0.04, "correlation_range": 30.0,
}  # fmt: skip
SCAN = {"correlated_accuracy": 0.07, "correlation_range": 12.0}


def job(tmp_path, **asdug):
    return load_job(hole_job(tmp_path, MadeHole(), existing=GROUND, asdug=asdug))


def told(tmp_path, **asdug):
    asked = job(tmp_path, **asdug)
    errors = errors_of(asked, asked.asdug[0])
    return {key: getattr(errors, key) for key in GROUND}


def test_what_a_table_leaves_out_is_as_the_ground_has_it(tmp_path):
    assert told(tmp_path) == GROUND


@pytest.mark.parametrize("own", [*({key: 0.5} for key in KEYS), SCAN])
def test_each_key_of_a_table_stands_for_itself_alone(tmp_path, own):
    assert told(tmp_path, **own) == GROUND | own


@pytest.mark.parametrize("key", list(SCAN))
def test_errors_that_near_shots_share_need_their_range(tmp_path, key):
    with pytest.raises(SpoilbankError) as caught:
        job(tmp_path, **{key: 1.0})
    (other,) = SCAN.keys() - {key}
    fault = next(f for f in caught.value.faults if f.key == f"asdug[1].{key}")
    assert f"has no use without asdug[1].{other}" in fault.message
    assert fault.line is not None


def test_a_hole_surveyed_with_errors_that_near_shots_share_is_less_sure(tmp_path):
    wide = []
    for name, own in (("plain", {}), ("scan", SCAN)):
        (tmp_path / name).mkdir()
        path = hole_job(tmp_path / name, MadeHole(), asdug={"accuracy": 0.02} | own)
        found = verified(load_job(path), lambda stage: None)
        wide.append((found.floor.high_volume.plus_minus_95, found.walls[0].amounts.net))
    (plain, net), (scan, other) = wide
    # 52 by 40 ft: a third as sure and less
    assert scan > 3.0 * plain
    assert other.plus_minus_95 > 1.2 * net.plus_minus_95
