"""`spoilbank grade`: what it prints, writes and refuses."""

import json
import re
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from terrain.cli.demo import write_demo
from terrain.cli.main import app
from tests.job.made_job import changed, small, write_job


def run(*arguments: object) -> Result:
    return CliRunner().invoke(app, [str(a) for a in arguments])


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_demo(tmp_path_factory.mktemp("demo"))


def test_the_demo_is_graded_in_eighty_columns(demo: Path) -> None:
    done = run("grade", demo)
    assert done.exit_code == 0, done.output
    lines = done.stdout.split("\nWritten to ")[0].splitlines()
    assert max(map(len, lines)) <= 80
    for words in (
        "takes out",
        "street",
        "The lot: haul off",
        "truck loads",
        "topsoil, not counted there",
        "The ground falls away from all 13 walls",
        "2 of them new",
        "yd³",
        "USD",
        "Fall from the house",
        "balances",
        "Be careful",
    ):
        assert words in done.stdout
    # one sign for each thing
    assert not re.search(r"yd3|ft2|[ ,(]-\d", done.stdout)
    written = {p.name for p in (demo.parent / "out").iterdir()}
    assert {"grade.json", "finished_grade.tif", "cut_fill_mean.tif"} <= written


def test_json_alone_goes_to_standard_output_and_writes_nothing(demo: Path, tmp_path: Path) -> None:
    done = run("grade", demo, "--json")
    told = json.loads(done.stdout)
    assert {"walls", "lot", "balance", "rasters", "untied", "drainage", "cautions"} <= told.keys()
    assert {raster["path"] for raster in told["rasters"]} == {None}
    assert told["lot"]["topsoil_left_bank"] > 0.0 == told["lot"]["topsoil_lacking_bank"]
    assert told["balance"]["currency"] == "USD"
    assert told["falls"]["passing"] == len(told["falls"]["walls"]) == 13
    assert told["falls"]["failing"] == told["falls"]["unseen"] == []
    mean = next(r for r in told["rasters"] if r["name"] == "cut_fill_mean")
    change = told["lot"]["fill"] - told["lot"]["cut"]
    assert mean["volume"] == pytest.approx(change, abs=1e-9 * told["lot"]["fill"])
    assert mean["volume_by_cells"] == pytest.approx(change, abs=1e-9 * told["lot"]["fill"])
    out = tmp_path / "out"
    told = json.loads(run("grade", demo, "--json", "--out", out).stdout)
    for raster in told["rasters"]:
        assert Path(raster["path"]).is_file()
    assert json.loads((out / "grade.json").read_text())["balance"] == told["balance"]


def test_a_cell_too_fine_is_refused_with_one_that_fits(tmp_path: Path) -> None:
    line = [[60.0, 160.0], [240.0, 160.0], [240.0, 290.0], [60.0, 290.0]]
    lot = {"boundary": line, "wall_grade": 100.8, "cell": 0.001}
    done = run("grade", write_job(tmp_path, small() | {"lot": lot}))
    assert done.exit_code == 1
    assert "lot.cell" in done.stderr
    assert "fits" in done.stderr
    assert not (tmp_path / "out").exists()


def test_a_job_without_a_lot_says_what_is_missing(tmp_path: Path) -> None:
    done = run("grade", write_job(tmp_path, small()))
    assert done.exit_code == 1
    assert "[lot] is required" in done.stderr
    done = run("grade", write_job(tmp_path, changed(small(), ("lot",), {"wall_grade": 100.8})))
    assert done.exit_code == 1
    assert "lot.boundary" in done.stderr
