"""`spoilbank plan`: what it prints, writes and refuses."""

import csv
import json
from pathlib import Path

import pyogrio
import pytest
from typer.testing import CliRunner, Result

from terrain.cli.demo import write_demo
from terrain.cli.main import app
from tests.job.made_job import small, write_job


def run(*arguments: object) -> Result:
    return CliRunner().invoke(app, [str(a) for a in arguments])


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_demo(tmp_path_factory.mktemp("demo"))


def test_the_demo_is_planned_in_eighty_columns(demo: Path) -> None:
    done = run("plan", demo)
    assert done.exit_code == 0, done.output
    lines = done.stdout.split("\nWritten to ")[0].splitlines()
    assert max(map(len, lines)) <= 80
    for words in ("First stand: 2", "Orders compared", "Passes", "Places", "Be careful", "Assumed"):
        assert words in done.stdout
    written = {p.name for p in (demo.parent / "out").iterdir()}
    assert {"plan.json", "plan_passes.csv", "plan_stakes.csv", "plan.gpkg"} <= written


def test_the_files_tell_the_same_plan(demo: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    told = json.loads(run("plan", demo, "--json", "--out", out).stdout)
    assert json.loads((out / "plan.json").read_text())["passes"] == told["passes"]
    with (out / "plan_passes.csv").open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert [int(row["stand"]) for row in rows] == [one["stand"] for one in told["passes"]]
    bank = sum(float(row["bank (yd3)"]) for row in rows)
    assert bank == pytest.approx(sum(one["bank"] for one in told["passes"]), rel=1e-12)
    with (out / "plan_stakes.csv").open(newline="", encoding="utf-8") as file:
        stakes = {row["point"]: row for row in csv.DictReader(file)}
    for one in told["passes"]:
        stake = stakes[f"S{one['stand']}"]
        assert float(stake["easting"]) == pytest.approx(one["position"][0], abs=1e-3)
        assert float(stake["northing"]) == pytest.approx(one["position"][1], abs=1e-3)
    layers = {name for name, _ in pyogrio.list_layers(out / "plan.gpkg")}
    assert layers == {"stands", "tracks", "ways", "passes", "piles", "trucks", "rim_corners"}
    _, stands = pyogrio.read_arrow(out / "plan.gpkg", layer="stands")
    assert sum(stands["bank"].to_pylist()) == pytest.approx(bank, rel=1e-12)


def test_json_alone_writes_nothing(tmp_path: Path) -> None:
    path = write_job(tmp_path, small() | {"machine": {"weight_tonnes": 8.0}})
    done = run("plan", path, "--json")
    assert done.exit_code == 0, done.output
    assert json.loads(done.stdout)["orders"][0]["rim_corners"] == 1
    assert not (tmp_path / "out").exists()


def test_a_dig_above_the_ground_is_refused_by_its_key(tmp_path: Path) -> None:
    job = small()
    job["dig"]["floor"] = 140.0
    done = run("plan", write_job(tmp_path, job))
    assert done.exit_code == 1
    assert "dig.floor" in done.stderr
    assert not (tmp_path / "out").exists()
