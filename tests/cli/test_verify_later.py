"""`spoilbank verify` on progress, piles, soil and graded lot: what it prints, writes, refuses."""

import json
import re
from pathlib import Path
from typing import Any

import pytest
import rasterio
from typer.testing import CliRunner, Result

from terrain.cli.main import app
from tests.job.made_graded import design_shots
from tests.job.made_graded import written as written_graded
from tests.job.made_job import toml
from tests.job.made_piles import heap, written
from tests.job.test_soil_used import AREA, BANK, job_with_surveys, loose_of

KEYS = {"progress", "piles", "soil", "asgraded"}


def run(*arguments: object) -> Result:
    return CliRunner().invoke(app, ["verify", *(str(a) for a in arguments)])


def made(folder: Path, **changes: Any) -> Path:
    """A job with a hole of one day, a heap of 1.3 times it, and a lot graded as asked."""
    data = job_with_surveys(folder, soil={"material": "clay"})
    (folder / "graded.csv").write_text(written_graded(design_shots()))
    data |= {"asgraded": [{"date": "2027-07-01", "shots": ["graded.csv"]}]} | changes
    path = folder / "job.toml"
    path.write_text(toml(data))
    return path


def test_json_holds_every_survey_under_keys_that_stay_and_writes_nothing(tmp_path: Path) -> None:
    done = run(made(tmp_path), "--json")
    assert done.exit_code == 0, done.output
    told = json.loads(done.stdout)
    assert {"floor", "walls", "corners", "undercut", "verdict", "todo"} | KEYS <= told.keys()
    (day,) = told["progress"]
    assert day["total"]["dug"]["bank"] == pytest.approx(BANK / 27, rel=1e-9)
    assert day["total"]["left"]["bank"] == pytest.approx(0.5 * AREA / 27, rel=1e-9)
    assert [row["name"] for row in day["rows"]] == ["front", "right", "back", "left"]
    assert told["soil"]["swell"] == pytest.approx(0.3, abs=1e-9)
    assert told["soil"]["may_be_used"] is True
    assert told["soil"]["used"] is False
    (piles,) = told["piles"]
    assert piles["piles"][0]["name"] == "heap"
    back = next(side for side in piles["sides"] if side["wall"] == "back")
    # what is left along the wall comes loose by the swell the job goes by, clay's 0.43
    left = next(row for row in day["rows"] if row["name"] == "back")["left"]["bank"]
    assert back["to_come"] == pytest.approx(1.43 * left, rel=1e-9)
    assert back["spare"] == pytest.approx(back["stock"] + back["to_come"] - back["needs"], rel=1e-9)
    (graded,) = told["asgraded"]
    assert graded["shots"]["within"] == graded["shots"]["count"] == 16
    assert {fall["verdict"] for fall in graded["falls"]} == {"within doubt"}
    assert {raster["path"] for raster in graded["rasters"]} == {None}
    assert not (tmp_path / "out").exists()


def test_the_rasters_are_written_beside_with_the_day_in_them(tmp_path: Path) -> None:
    done = run(made(tmp_path), "--out", tmp_path / "o")
    assert done.exit_code == 0, done.output
    names = {path.name for path in (tmp_path / "o").iterdir()}
    assert {"verify.json", "as_graded_2027-07-01.tif", "as_graded_error_2027-07-01.tif"} <= names
    told = json.loads((tmp_path / "o" / "verify.json").read_text())
    for raster in told["asgraded"][0]["rasters"]:
        with rasterio.open(raster["path"]) as file:
            assert file.tags()["SURVEY_DATE"] == "2027-07-01"
    for words in ("How far the dig is", "Piles, 2027-05-06", "The lot as graded", "Swell 0.300"):
        assert words in done.stdout
    lines = done.stdout.split("\nWritten to ")[0].splitlines()
    assert max(map(len, lines)) <= 80


def test_page_and_terminal_begin_with_a_line_a_stage_that_leads_to_its_part(tmp_path: Path) -> None:
    done = run(made(tmp_path), "--out", tmp_path / "o")
    assert done.exit_code == 0, done.output
    page = (tmp_path / "o" / "verify.html").read_text()
    head = page[page.index('class="stages"') : page.index('class="answer')]
    lines = re.findall(r'href="#(\w+)">([^<]+)</a> <small>([^<]+)</small>.*?<b>([^<]+)</b>', head)
    assert [(part, date) for part, _, date, _ in lines] == [
        ("hole", "2027-05-05"), ("dig", "2027-05-05"), ("piles", "2027-05-06"),
        ("graded", "2027-07-01"),
    ]  # fmt: skip
    assert all(f'id="{part}"' in page for part, *_ in lines)
    first, last = done.stdout.split("\nIn short\n")
    for _, name, date, verdict in lines:
        assert f"{name}, {date}: {verdict}." in first
        assert f"{name}, {date}: {verdict}." in last
    # the heap holds 1.3 times the hole, far less is needed round the house, and none is hauled
    assert lines[2][3] == "Enough earth"
    # the fall asked for, and shots that may err: nothing fails, nothing is sure
    assert lines[3][3] == "Not sure"


def test_every_cell_of_a_table_that_folds_into_blocks_names_its_column(tmp_path: Path) -> None:
    done = run(made(tmp_path), "--out", tmp_path / "o")
    assert done.exit_code == 0, done.output
    page = (tmp_path / "o" / "verify.html").read_text()
    tables = re.findall(r'<table[^>]*class="[^"]*blocks[^"]*">(.*?)</table>', page, re.S)
    assert len(tables) >= 5
    for table in tables:
        head, *rows = re.findall(r"<tr.*?</tr>", table, re.S)
        columns = len(re.findall("<th", head)) - 1
        named = [re.findall(r'<td[^>]*data-of="([^"]*)"', row) for row in rows]
        assert {len(row) for row in named} == {columns}
        assert all(len(set(row)) == columns and row == named[0] for row in named)
        assert all(row.count("<td") == columns for row in rows)
    # the columns of figures smaller than their doubt are grey, the others are not
    for cell in re.findall(r"<td[^>]*>[^<]*\*</td>", page):
        assert 'class="unsure' in cell


def test_a_graded_lot_is_checked_without_any_hole(tmp_path: Path) -> None:
    done = run(made(tmp_path, asdug=[], piles=[]), "--json")
    assert done.exit_code == 0, done.output
    told = json.loads(done.stdout)
    assert "walls" not in told
    assert told["progress"] == told["piles"] == []
    assert told["soil"] is None
    assert len(told["asgraded"]) == 1


def test_a_job_without_any_later_survey_says_what_to_give(tmp_path: Path) -> None:
    done = run(made(tmp_path, asdug=[], piles=[], asgraded=[]))
    assert done.exit_code == 1
    assert "[[asdug]], [[piles]] or [[asgraded]]" in done.stderr


def test_a_hole_that_is_not_whole_is_told_and_leaves_piles_without_a_swell(tmp_path: Path) -> None:
    path = made(tmp_path)
    inner = [(e, n, 98.5, "floor") for e in (8.0, 20.0, 32.0) for n in (7.0, 15.0, 23.0)]
    (tmp_path / "asdug.csv").write_text(written(inner))
    data = path.read_text().replace(', toe_codes = ["toe"]', "")
    path.write_text(data)
    done = run(path, "--json")
    assert done.exit_code == 0, done.output
    told = json.loads(done.stdout)
    assert told["progress"] == []
    assert told["soil"] is None
    assert told["piles"][0]["piles"]
    assert any("No progress on 2027-05-05" in note for note in told["notes"])


@pytest.mark.parametrize(
    ("file", "text", "words"),
    [
        ("piles.csv", written(heap((10.0, 50.0), (30.0, 30.0), -9.0, "heap")), "below the exist"),
        ("piles.csv", written(heap((10.0, 50.0), (30.0, 30.0), 9.0, "heap")[:2]), "three at least"),
        (
            "piles.csv",
            written([(e, n, z + 8, c) for e, n, z, c in heap((10, 50), (30, 30), 9.0, "heap")]),
            "no foot",
        ),
        (
            "graded.csv",
            written_graded([(e + 9e3, n, z, line) for e, n, z, line in design_shots()]),
            "another lot",
        ),
        ("graded.csv", "northing,easting,elevation\n1,2\n", "graded.csv"),
    ],
)
def test_bad_shots_are_refused_at_their_row_and_nothing_is_written(
    tmp_path: Path, file: str, text: str, words: str
) -> None:
    path = made(tmp_path)
    (tmp_path / file).write_text(text)
    done = run(path, "--out", tmp_path / "o")
    assert done.exit_code == 1
    assert words in done.stderr
    assert file in done.stderr
    assert "Traceback" not in done.output
    assert not (tmp_path / "o").exists()


def test_a_missing_file_and_days_out_of_order_are_refused_with_their_place(tmp_path: Path) -> None:
    path = made(tmp_path)
    (tmp_path / "graded.csv").unlink()
    done = run(path)
    assert done.exit_code == 1
    assert "graded.csv" in done.stderr
    surveys = [{"date": d, "shots": ["piles.csv"]} for d in ("2027-05-06", "2027-05-05")]
    done = run(made(tmp_path / "b", piles=surveys))
    assert done.exit_code == 1
    assert "piles[2].date" in done.stderr
    assert "order of their days" in done.stderr


def test_the_swell_that_is_used_is_told_as_used(tmp_path: Path) -> None:
    done = run(made(tmp_path, soil={"material": "clay", "measured": True}), "--json")
    soil = json.loads(done.stdout)["soil"]
    assert soil["used"] is True
    assert soil["job_swell"] == 0.43
    assert loose_of(900.0) == 3.0
