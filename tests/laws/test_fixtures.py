"""The two invented lots: the main question against what the oracle derived, part by part."""

import hashlib
import importlib.util
import json
from pathlib import Path
from typing import Any

import laspy
import numpy as np
import pytest

from terrain.job.load import load_job
from terrain.job.volumes import volumes
from tests.oracles.job import expected

ROOT = Path(__file__).parents[2]
JOBS = {
    "hillside": ROOT / "terrain" / "cli" / "demo_job" / "job.toml",
    "benched": ROOT / "fixtures" / "benched" / "job.toml",
}
AGREES = 1e-9


def truth(name: str) -> dict[str, Any]:
    return json.loads((ROOT / "fixtures" / name / "expected.json").read_text(encoding="utf-8"))


@pytest.fixture(scope="module", params=list(JOBS))
def both(request):
    return volumes(load_job(JOBS[request.param])).ledger, truth(request.param)


def near(seen: float | None, wanted: float, gross: float) -> None:
    assert seen == pytest.approx(wanted, rel=AGREES, abs=AGREES * gross)


def test_every_part_of_every_wall_is_the_oracles(both):
    answer, wanted = both
    gross = wanted["total"]["bank"]
    assert [w.wall for w in answer.walls] == [w["wall"] for w in wanted["walls"]]
    for row, known in zip(answer.walls, wanted["walls"], strict=True):
        near(row.quantity.bank, known["bank"], gross)
        near(row.quantity.loose, known["loose"], gross)
        near(row.quantity.compacted, known["compacted"], gross)
        near(row.topsoil, known["topsoil"], gross)
        for part, volume in known["parts"].items():
            near(getattr(row.parts, part), volume, gross)


def test_every_pit_ramp_and_trench_adds_what_the_oracle_says(both):
    answer, wanted = both
    assert [(p.name, p.kind) for p in answer.pits] == [
        (p["name"], p["kind"]) for p in wanted["pits"]
    ]
    for row, known in zip(answer.pits, wanted["pits"], strict=True):
        near(row.quantity.bank, known["bank"], wanted["total"]["bank"])
        near(row.topsoil, known["topsoil"], wanted["total"]["bank"])


def test_the_total_is_the_oracles_in_all_measures(both):
    answer, wanted = both
    total = answer.total
    near(total.quantity.bank, wanted["total"]["bank"], 0.0)
    near(total.quantity.loose, wanted["total"]["loose"], 0.0)
    near(total.quantity.compacted, wanted["total"]["compacted"], 0.0)
    near(total.topsoil, wanted["total"]["topsoil"], 0.0)
    assert total.loads == wanted["total"]["loads"]
    near(answer.daylight_area, wanted["daylight_area"], 0.0)
    near(answer.deepest_cut, wanted["deepest_cut"], 0.0)


def test_the_plus_or_minus_of_the_survey_is_the_oracles_row_by_row(both):
    answer, wanted = both
    gross = wanted["total"]["survey_plus_minus_95"]
    near(answer.total.doubt.survey, gross, 0.0)
    rows = [*answer.walls, *answer.pits]
    for row, known in zip(rows, wanted["walls"] + wanted["pits"], strict=True):
        near(row.doubt.survey, known["survey_plus_minus_95"], gross)
        assert row.bank_plus_minus_95 == row.doubt.together


@pytest.mark.parametrize("name", list(JOBS))
def test_the_oracle_still_derives_the_committed_truth(name):
    derived, committed = expected(JOBS[name]), truth(name)
    for mine, theirs in zip(_numbers(derived), _numbers(committed), strict=True):
        assert mine == pytest.approx(theirs, rel=1e-9, abs=1e-9)


def _numbers(value: Any) -> list[float]:
    if isinstance(value, dict):
        return [n for v in value.values() for n in _numbers(v)]
    if isinstance(value, list):
        return [n for v in value for n in _numbers(v)]
    return [value] if isinstance(value, (int, float)) else []


def _script(name: str) -> Any:
    spec = importlib.util.spec_from_file_location(name, ROOT / "fixtures" / name / "make.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_benched_cloud_is_what_its_script_makes(tmp_path):
    made = laspy.read(_script("benched").make(tmp_path))
    kept = laspy.read(ROOT / "fixtures" / "benched" / "cloud.laz")
    assert len(kept) == 200_000
    for field in ("X", "Y", "Z", "classification"):
        assert np.array_equal(made[field], kept[field])


def test_the_hillside_shots_are_what_their_script_makes(tmp_path, monkeypatch):
    script = _script("hillside")
    monkeypatch.setattr(script, "DEMO", tmp_path)
    script.main()
    made = hashlib.sha256((tmp_path / "shots.csv").read_bytes()).hexdigest()
    kept = JOBS["hillside"].parent / "shots.csv"
    assert made == hashlib.sha256(kept.read_bytes()).hexdigest()
