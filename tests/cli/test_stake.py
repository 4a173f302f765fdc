"""`spoilbank stake`: what it prints and writes."""

import csv
import json
from pathlib import Path

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


def test_stakes_for_the_dig_are_told_apart_from_those_for_grading(demo: Path) -> None:
    done = run("stake", demo)
    assert done.exit_code == 0, done.output
    with (demo.parent / "out" / "stakes.csv").open(newline="", encoding="utf-8") as file:
        kinds = [row["code"] for row in csv.DictReader(file)]
    dig = sum(kind in ("dig corner", "daylight") for kind in kinds)
    assert f"{dig} stakes for the dig: D at corners" in done.output
    assert f"{len(kinds) - dig} for grading, after the backfill: A at the house" in done.output
    assert "finished ground on sheets of its own" in done.output
    assert "apron" not in done.output
    assert set(kinds) == {"dig corner", "daylight", "apron"}


def test_a_job_without_a_lot_has_stakes_for_the_dig_alone(tmp_path: Path) -> None:
    done = run("stake", write_job(tmp_path, small()), "--out", tmp_path / "o")
    assert done.exit_code == 0, done.output
    assert "for grading" not in done.output
    assert 'id="finished"' not in (tmp_path / "o" / "cut_sheet.html").read_text("utf-8")


def test_json_alone_goes_to_standard_output(demo: Path) -> None:
    told = json.loads(run("stake", demo, "--json").stdout)
    assert {one["point"][0] for one in told["stakes"]} == {"D", "L", "A"}
