"""A job changed in a live process answers as one begun afresh, and does again only what it must."""

import json
from copy import deepcopy
from typing import Any

import numpy as np
import pytest

from terrain.base.errors import SpoilbankError
from terrain.export.grade_json import grade_dict
from terrain.export.ledger_json import ledger_dict
from terrain.job import changed
from terrain.job.grade import graded_told
from terrain.job.graded import grade_out
from terrain.job.load import load_job, read_job
from terrain.job.volumes import silent, told, volumes, work_out
from tests.job.made_job import toml

JOB: dict[str, Any] = {
    "site": {"length_unit": "ft"},
    "existing": {"shots": ["shots.csv"], "accuracy": 0.05, "datum_accuracy": 0.03},
    "soil": {"material": "common earth"},
    "foundation": {
        "corners": [[0.0, 0.0], [40.0, 0.0], [40.0, 30.0], [0.0, 30.0]],
        "walls": ["front", "right", "back", "left"],
    },
    "dig": {
        "floor": 93.0,
        "overdig": 2.0,
        "side": 1.0,
        "topsoil_strip": 0.4,
        "pits": [
            {
                "name": "well",
                "corners": [[40.0, 10.0], [46.0, 10.0], [46.0, 16.0], [40.0, 16.0]],
                "floor": 94.0,
            }
        ],
    },
    "haul": {"truck": 14.0},
    "lot": {
        "boundary": [[-90, -90], [130, -90], [130, 120], [-90, 120]],
        "wall_grade": 101.5,
        "fall": 0.05,
        "fall_distance": 10.0,
        "cut_slope": 3.0,
        "fill_slope": 3.0,
    },
}


@pytest.fixture
def folder(tmp_path):
    random = np.random.default_rng(5)
    plan = random.uniform([-120, -120], [160, 150], (900, 2))
    upward = 100 + 0.02 * plan[:, 0] - 0.03 * plan[:, 1] + random.normal(0, 0.3, 900)
    places = zip(plan, upward, strict=True)
    rows = [f"{k},{n:.3f},{e:.3f},{u:.3f}" for k, ((e, n), u) in enumerate(places)]
    text = "point,northing,easting,elevation\n" + "\n".join(rows) + "\n"
    (tmp_path / "shots.csv").write_text(text)
    (tmp_path / "job.toml").write_text(toml(JOB))
    return tmp_path


def other_job(folder, *changes):
    """The job with values changed: (table, key, ..., value) each."""
    data = deepcopy(JOB)
    for *path, key, value in changes:
        table: Any = data
        for step in path:
            table = table[step]
        table[key] = value
    return read_job(toml(data), str(folder / "job.toml"))


def figures(answer):
    return json.dumps(ledger_dict(answer), sort_keys=True)


FOUNDATION = [[1000.0, 0.0], [1040.0, 0.0], [1040.0, 30.0], [1000.0, 30.0]]
CHANGES = {
    "floor": [("dig", "floor", 92.25)],
    "side and overdig": [("dig", "side", 0.5), ("dig", "overdig", 3.0)],
    "soil": [("soil", "swell", 0.4)],
    "no topsoil, no pit": [("dig", "topsoil_strip", 0.0), ("dig", "pits", [])],
    "corners": [("foundation", "corners", [[-4.0, 2.0], [36.0, 0.0], [40.0, 30.0], [0.0, 30.0]])],
    "accuracy of the shots": [("existing", "accuracy", 0.1)],
    "longest side": [("existing", "max_edge", 40.0)],
}
KEEPS = {"floor", "side and overdig", "soil", "no topsoil, no pit"}


@pytest.mark.parametrize("name", CHANGES)
def test_a_changed_job_answers_as_one_begun_afresh(folder, name):
    before = work_out(load_job(folder / "job.toml"))
    job = other_job(folder, *CHANGES[name])
    worked = changed.redo(before, job)
    assert figures(told(worked)) == figures(volumes(job))
    assert figures(told(worked)) != figures(told(before)), "the change changes something"
    assert (worked.existing is before.existing) == (name in KEEPS)


def test_a_changed_floor_reads_no_file_and_makes_no_triangles(folder, monkeypatch):
    before = work_out(load_job(folder / "job.toml"))
    fresh = figures(volumes(other_job(folder, ("dig", "floor", 92.25))))
    for name in ("work_out", "existing_ground"):
        monkeypatch.setattr(changed, name, None)
    (folder / "shots.csv").unlink()
    worked = changed.redo(before, changed.with_floor(before.job, 92.25))
    assert figures(told(worked)) == fresh


def test_floor_after_floor_comes_back_to_the_first(folder):
    first = work_out(load_job(folder / "job.toml"))
    worked = first
    for floor in (92.0, 95.5, 90.0, 93.0):
        worked = changed.redo(worked, changed.with_floor(worked.job, floor))
    assert figures(told(worked)) == figures(told(first))


@pytest.mark.parametrize("name", ["floor", "side and overdig", "longest side"])
def test_a_changed_lot_is_graded_as_one_begun_afresh(folder, name):
    before = grade_out(work_out(load_job(folder / "job.toml")), silent)
    job = other_job(folder, *CHANGES[name])
    again, fresh = changed.regrade(before, job), grade_out(work_out(job), silent)
    told_again, told_fresh, told_before = (
        json.dumps(grade_dict(graded_told(g), (), {}), sort_keys=True)
        for g in (again, fresh, before)
    )
    assert told_again == told_fresh != told_before
    assert (again.dug.screen is before.dug.screen) == (name in KEEPS)


def test_what_cannot_be_dug_is_told_and_leaves_what_was(folder):
    before = work_out(load_job(folder / "job.toml"))
    was = figures(told(before))
    with pytest.raises(SpoilbankError, match="survey ends"):
        changed.redo(before, changed.with_floor(before.job, -100.0))
    assert figures(told(before)) == was


def test_a_floor_that_the_wall_contradicts_is_refused(folder):
    chain = [("foundation", "top", 101.0), ("foundation", "wall_height", 8.0)]
    before = work_out(other_job(folder, *chain))
    with pytest.raises(SpoilbankError, match="floor"):
        changed.redo(before, changed.with_floor(before.job, 92.0))


def test_another_place_of_the_foundation_makes_the_ground_anew(folder):
    before = work_out(load_job(folder / "job.toml"))
    with pytest.raises(SpoilbankError, match="lies off the survey"):
        changed.redo(before, other_job(folder, ("foundation", "corners", FOUNDATION)))
