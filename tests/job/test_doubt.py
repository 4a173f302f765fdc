"""The doubt of a job: its keys, the shots told by name and place, what stands in JSON and CSV."""

import csv
import io
import math
from pathlib import Path

import numpy as np
import pytest

from terrain.base.errors import JobError
from terrain.export.grade_json import grade_dict
from terrain.export.ledger_csv import DOUBT_PARTS, ledger_csv
from terrain.export.ledger_json import ledger_dict
from terrain.job.grade import grade
from terrain.job.load import load_job
from terrain.job.volumes import told, work_out
from tests.laws.jobs import ledger, write_job

SQUARE = np.array([[40.0, 40.0], [80.0, 40.0], [80.0, 70.0], [40.0, 70.0]])
WALLS = ("front", "right", "back", "left")
DIG = "floor = 92.0\noverdig = 2.0\nside = 1.0"
FULL = (
    "horizontal_accuracy = 0.1\ndatum_accuracy = 0.03\ncorrelated_accuracy = 0.04\n"
    "correlation_range = 25.0"
)
DEMO = "terrain/cli/demo_job/job.toml"


def hillside(count=90, seed=2):
    rng = np.random.default_rng(seed)
    plan = rng.uniform(0, 120, (count, 2))
    corners = np.array([[-5.0, -5.0], [125.0, -5.0], [125.0, 125.0], [-5.0, 125.0]])
    plan = np.concatenate([plan, corners])
    return np.column_stack([plan, 100 + 0.08 * plan[:, 1] + rng.normal(0, 0.2, len(plan))])


@pytest.fixture(scope="module")
def demo():
    worked = work_out(load_job(DEMO))
    return worked, told(worked)


def test_each_key_makes_its_own_part_and_no_other(tmp_path):
    """One key more at a time, beside the accuracy that every made job has."""
    parts = {
        "": {"random"},
        "horizontal_accuracy = 0.1": {"random", "horizontal"},
        "datum_accuracy = 0.03": {"random", "datum"},
        "correlated_accuracy = 0.04\ncorrelation_range = 25.0": {"random", "correlated"},
    }
    for keys, wanted in parts.items():
        job = write_job(tmp_path, hillside(), SQUARE, WALLS, DIG, existing=keys)
        doubt = ledger(job).total.doubt
        known = {p for p in ("random", "horizontal", "datum", "correlated")
                 if getattr(doubt, p) is not None}  # fmt: skip
        assert known == wanted
        assert doubt.terrain > 0


def test_a_part_known_twice_as_well_is_half_as_wide(tmp_path):
    job = write_job(tmp_path, hillside(), SQUARE, WALLS, DIG, existing=FULL)
    one = ledger(job).total.doubt
    halves = "horizontal_accuracy = 0.05\ndatum_accuracy = 0.015\ncorrelated_accuracy = 0.02\n"
    other = write_job(
        tmp_path, hillside(), SQUARE, WALLS, DIG, existing=halves + "correlation_range = 25.0"
    )
    two = ledger(other).total.doubt
    for part in ("horizontal", "datum", "correlated"):
        assert getattr(two, part) == pytest.approx(getattr(one, part) / 2)
    squares = (one.random, one.horizontal, one.datum, one.correlated, one.terrain)
    assert one.together == pytest.approx(math.hypot(*squares))


def test_a_survey_that_nothing_is_said_of_has_no_doubt(tmp_path):
    job = write_job(tmp_path, hillside(), SQUARE, WALLS, DIG)
    job.write_text(job.read_text().replace("accuracy = 0.05\n", ""))
    worked = work_out(load_job(job))
    answer = told(worked)
    assert answer.doubt is None
    assert answer.ledger.total.doubt is None
    assert ledger_dict(answer)["doubt"] is None
    assert ledger_dict(answer)["total"]["bank_plus_minus_95"] is None


@pytest.mark.parametrize(
    ("keys", "fault"),
    [
        ("correlated_accuracy = 0.1", "existing.correlated_accuracy"),
        ("correlation_range = 10.0", "existing.correlation_range"),
        ("horizontal_accuracy = -0.1", "existing.horizontal_accuracy"),
        ("correlated_accuracy = 0.1\ncorrelation_range = 0.0", "existing.correlation_range"),
        ('horizontal_accuracy = "good"', "existing.horizontal_accuracy"),
    ],
)
def test_keys_that_mean_nothing_are_refused_by_name(tmp_path, keys, fault):
    job = write_job(tmp_path, hillside(), SQUARE, WALLS, DIG, existing=keys)
    with pytest.raises(JobError) as caught:
        load_job(job)
    assert [f.key for f in caught.value.faults] == [fault]


def test_the_carrying_shots_are_told_as_the_file_has_them(demo):
    _, answer = demo
    lines = Path("terrain/cli/demo_job/shots.csv").read_text(encoding="utf-8").splitlines()
    rows = {row["point"]: row for row in csv.DictReader(lines)}
    assert len(answer.doubt.shots) == 5
    for shot in answer.doubt.shots:
        row = rows[shot.name]
        assert shot.easting == pytest.approx(float(row["easting"]), abs=1e-9)
        assert shot.northing == pytest.approx(float(row["northing"]), abs=1e-9)
        assert shot.elevation == float(row["elevation"])
        file, line = shot.place.split(":")
        assert file == "shots.csv"
        assert lines[int(line) - 1].startswith(f"{shot.name},")
    shares = [s.share for s in answer.doubt.shots]
    assert shares == sorted(shares, reverse=True)


def test_the_next_shot_lies_in_the_dig_and_narrows_the_total(demo):
    worked, answer = demo
    best = answer.doubt.next_shot
    corners = worked.layout.frame.to_site(worked.layout.design.corners)
    reach = 25.0
    assert corners[:, 0].min() - reach < best.easting < corners[:, 0].max() + reach
    assert corners[:, 1].min() - reach < best.northing < corners[:, 1].max() + reach
    assert 0 < best.plus_minus_95 < answer.ledger.total.bank_plus_minus_95


def test_json_has_each_part_of_each_row_apart(demo):
    _, answer = demo
    found = ledger_dict(answer)
    for row in (found["total"], *found["walls"], *found["pits"]):
        doubt = row["doubt"]
        assert set(doubt) == {
            "random", "horizontal", "datum", "correlated", "terrain", "together",
        }  # fmt: skip
        assert row["bank_plus_minus_95"] == doubt["together"]
        squares = [v for k, v in doubt.items() if k != "together" and v is not None]
        assert doubt["together"] == pytest.approx(math.hypot(*squares), abs=1e-12)
    for wall in found["walls"]:
        assert set(wall["part_doubts"]) == {"core", "overdig", "side", "footing"}
    assert "do not add" in found["doubt"]["do_not_add"]
    assert found["doubt"]["left_out"] > 20
    assert len(found["doubt"]["shots"]) == 5


def test_csv_has_each_part_of_each_row_apart(demo):
    _, answer = demo
    rows = list(csv.DictReader(io.StringIO(ledger_csv(answer), newline=""), strict=True))
    total = answer.ledger.total.doubt
    for of, part in DOUBT_PARTS.items():
        seen, wanted = rows[-1][f"plus or minus by {of} (yd3)"], getattr(total, part)
        assert seen == ("" if wanted is None else repr(wanted))
    side = next(r for r in rows if r["row"] == "part" and r["part"] == "side")
    first = answer.ledger.walls[0].part_doubts["side"]
    assert float(side["bank plus or minus, 95 % (yd3)"]) == first.together
    assert float(side["plus or minus by datum (yd3)"]) == first.datum
    assert {len(r) for r in csv.reader(io.StringIO(ledger_csv(answer), newline=""))} == {15}


def test_the_finished_lots_figures_have_theirs_by_side_and_in_all():
    answer = grade(load_job(DEMO))
    found = grade_dict(answer, (), {})
    assert len(found["walls"]) == len(answer.doubts.sides) > 3
    for row, doubt in zip(
        (*found["walls"], found["lot"]), (*answer.doubts.sides, answer.doubts.lot), strict=True
    ):
        assert set(row["doubt"]) == {"earth_out", "backfill", "grade_fill", "cut", "surplus"}
        for figure, told_of in row["doubt"].items():
            assert told_of["together"] == getattr(doubt, figure).together
    # the earth out of all sides is as sure as all dug and cut is, and more doubtful than the dig
    lot = answer.doubts.lot
    assert lot.earth_out.datum > work_out(load_job(DEMO)).figures.doubts.total.datum / 27
    assert lot.surplus.together > 0.0
