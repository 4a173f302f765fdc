"""`spoilbank verify` of a hole: keys that stay, files, a page that repeats the record, refusals."""

import csv
import json
import re
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner, Result

from terrain.base.units import LENGTH_UNITS
from terrain.cli.demo import write_demo
from terrain.cli.main import app
from terrain.survey.read import ReadOptions, read_shots
from tests.job.made_hole import FLOOR, MadeHole, hole_job

FLOOR_KEYS = {"within", "high_volume", "low_volume", "worst_high", "worst_low"}
WALL_KEYS = {
    "wall", "overdig", "turn_degrees", "bow", "bow_at", "batter", "overdug", "underdug", "verdict",
}  # fmt: skip
KEYS = {"floor", "walls", "corners", "undercut", "verdict", "todo"}


def run(*arguments: object) -> Result:
    return CliRunner().invoke(app, ["verify", *(str(a) for a in arguments)])


def faulty() -> MadeHole:
    hole = MadeHole().moved(0.4, 0.0)
    hole.floor[3, 2] += 0.35
    return hole


def made(folder: Path, hole: MadeHole | str | None = None, **changes: Any) -> Path:
    return hole_job(folder, faulty() if hole is None else hole, **changes)


def test_json_has_the_keys_that_stay_and_writes_nothing(tmp_path: Path) -> None:
    done = run(made(tmp_path), "--json")
    assert done.exit_code == 0, done.output
    told = json.loads(done.stdout)
    assert told.keys() >= KEYS
    assert told["floor"].keys() >= FLOOR_KEYS
    for wall in told["walls"]:
        assert wall.keys() >= WALL_KEYS
        assert {"least", "mean", "most"} <= wall["overdig"].keys()
        assert wall["verdict"] in {"ready", "trim", "not enough shots"}
        assert wall["net"] == pytest.approx(wall["overdug"] - wall["underdug"], abs=0.3)
    for corner in told["corners"]:
        assert {"between", "angle_degrees", "offset"} <= corner.keys()
    assert [wall["wall"] for wall in told["walls"]] == ["front", "right", "back", "left"]
    assert told["verdict"] == "trim"
    assert not (tmp_path / "out").exists()


def test_json_of_a_hole_without_a_ring_says_null_where_nothing_is_known(tmp_path: Path) -> None:
    hole = MadeHole(toe=MadeHole().toe[:3, :2])
    told = json.loads(run(made(tmp_path, hole), "--json").stdout)
    left = next(wall for wall in told["walls"] if wall["wall"] == "left")
    assert left["overdig"]["least"] is left["turn_degrees"] is left["overdug"] is None
    assert left["verdict"] == told["verdict"] == "not enough shots"
    assert told["undercut"] is None


def test_stake_points_are_read_back_by_our_own_reader(tmp_path: Path) -> None:
    done = run(made(tmp_path), "--out", tmp_path / "o")
    assert done.exit_code == 0, done.output
    options = ReadOptions(unit=LENGTH_UNITS["ft"], folder=tmp_path / "o")
    shots = read_shots(["verify_stakes.csv"], options).shots
    told = json.loads((tmp_path / "o" / "verify.json").read_text())
    assert len(shots) == sum(one["stakes"] for one in told["todo"])
    assert set(shots.elevation.tolist()) == {FLOOR}
    with (tmp_path / "o" / "verify_stakes.csv").open() as file:
        assert next(csv.reader(file))[:4] == ["point", "northing", "easting", "elevation"]


def test_points_to_stake_have_one_name_in_list_map_file_and_terminal(tmp_path: Path) -> None:
    done = run(made(tmp_path), "--out", tmp_path / "o")
    page = (tmp_path / "o" / "verify.html").read_text()
    text = " ".join(done.stdout.split())
    told = json.loads((tmp_path / "o" / "verify.json").read_text())
    with (tmp_path / "o" / "verify_stakes.csv").open(newline="") as file:
        points = list(csv.DictReader(file))
    listed = re.findall(r"<li><b>(V\d+)</b> E ([\d.]+) N ([\d.]+), elevation", page)
    assert [name for name, _, _ in listed] == [point["point"] for point in points]
    for (_, easting, northing), point in zip(listed, points, strict=True):
        assert float(easting) == pytest.approx(float(point["easting"]), abs=0.006)
        assert float(northing) == pytest.approx(float(point["northing"]), abs=0.006)
    last = 0
    for one in told["todo"]:
        first, last = last + 1, last + one["stakes"]
        said = f"point V{first}" if first == last else f"points V{first} to V{last}"
        assert not one["stakes"] or f"Stake {said}." in text
    assert last == len(points) > 1
    maps = page.split("<svg")[1:]
    shown = [set(re.findall(r">(V\d+)(?: [+−][\d.]+)?</text>", drawing)) for drawing in maps]
    assert {point["point"] for point in points} in shown


def test_the_page_and_the_terminal_repeat_the_record(tmp_path: Path) -> None:
    done = run(made(tmp_path), "--out", tmp_path / "o")
    told = json.loads((tmp_path / "o" / "verify.json").read_text())
    page = (tmp_path / "o" / "verify.html").read_text()
    assert "Not ready" in page
    assert "Not ready" in done.stdout
    things = f"{len(told['todo'])} things"
    # the answer comes first and, when it has been moved out of sight, once more
    first, last = done.stdout.split("\nIn short\n")
    for part in (first, last):
        assert f"Not ready. There is work to do before the concrete crew comes. {things} to do" in (
            " ".join(part.split())
        )
        for one in told["todo"]:
            assert one["message"] in " ".join(part.split())
    for one in told["todo"]:
        assert one["message"] in page
    for wall in told["walls"]:
        row = next(line for line in page.splitlines() if f">{wall['wall']}</span>" in line)
        for figure in wall["overdig"]:
            if not figure.endswith("plus_minus_95"):
                assert f"{wall['overdig'][figure]:.2f}" in row
    assert f"{told['floor']['within']:.0%}".replace("%", " %") in page
    assert f"+{told['floor']['worst_high']:.2f}" in page
    assert max(map(len, done.stdout.split("\nWritten to ")[0].splitlines())) <= 80


def test_the_page_needs_no_network_runs_no_script_and_holds_both_drawings(tmp_path: Path) -> None:
    run(made(tmp_path), "--out", tmp_path / "o")
    page = (tmp_path / "o" / "verify.html").read_text()
    assert "<script" not in page
    links = re.findall(r'(?:src|href)="([^"]*)"', page)
    assert all(link.startswith("#") for link in links)
    assert re.search(r"default-src (&#39;|')none(&#39;|')", page)
    for name in ("hole-wide", "hole-slim"):
        assert f'id="{name}-window"' in page
    ids = re.findall(r'\bid="([^"]*)"', page)
    assert len(ids) == len(set(ids))


def test_names_that_look_like_markup_or_formulas_stay_names(tmp_path: Path) -> None:
    path = made(tmp_path)
    named = path.read_text().replace('"left"', '"=<b onload=x>left"')
    path.write_text(named)
    done = run(path, "--out", tmp_path / "o")
    assert done.exit_code == 0, done.output
    page = (tmp_path / "o" / "verify.html").read_text()
    assert "<b onload" not in page
    assert "&lt;b onload=x&gt;left" in page
    with (tmp_path / "o" / "verify_stakes.csv").open(newline="") as file:
        cells = [cell for row in csv.reader(file) for cell in row]
    assert not any(cell.startswith("=") for cell in cells)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ("lot", "another lot or on another grid"),
        ("metres", "metres"),
        ("above", "above the ground that was there before"),
        ("codes", "no shot has one of these codes"),
        ("number", "is not a number"),
        ("missing", "asdug.csv"),
    ],
)
def test_bad_shots_are_refused_with_their_place_and_nothing_is_written(
    tmp_path: Path, change: str, words: str
) -> None:
    hole = MadeHole()
    if change == "lot":
        hole.moved(9000.0, 0.0)
    for points in (hole.toe, hole.floor):
        if change == "metres":
            points *= 0.3048
        if change == "above":
            points[:, 2] += 15.0
    text = hole.text()
    if change == "number":
        text = text.replace("92.0", "9z.0", 1)
    asdug = {"toe_codes": ["nose"], "floor_codes": [], "top_codes": [], "face_codes": []}
    path = made(tmp_path, text, asdug=asdug if change == "codes" else {})
    if change == "missing":
        (tmp_path / "asdug.csv").unlink()
    done = run(path, "--out", tmp_path / "o")
    assert done.exit_code == 1
    assert words in done.stderr
    assert "asdug" in done.stderr
    assert "Traceback" not in done.output
    assert not (tmp_path / "o").exists()


def test_a_day_that_was_not_surveyed_is_refused(tmp_path: Path) -> None:
    done = run(made(tmp_path), "--date", "2027-01-01")
    assert done.exit_code == 1
    assert "those there are: 2027-05-04" in done.stderr


def test_the_demo_has_a_hole_to_verify_and_finds_the_faults_that_were_put_in(
    tmp_path: Path,
) -> None:
    told = json.loads(run(write_demo(tmp_path), "--json").stdout)
    verdicts = {wall["wall"]: wall["verdict"] for wall in told["walls"]}
    assert [name for name, verdict in verdicts.items() if verdict != "ready"] == ["patio"]
    assert [one["what"] for one in told["todo"]] == ["trim wall", "trim floor", "dig"]
    # put in: pit, ramp and trench of the design are not begun
    assert all(name in told["todo"][2]["message"] for name in ("areaway", "way in", "porch piers"))
    rows = {row["name"]: row for row in told["progress"][-1]["rows"]}
    left = sum(rows[name]["left"]["bank"] for name in ("areaway", "way in", "porch piers"))
    assert told["todo"][2]["volume"] == pytest.approx(left, rel=1e-12)
    patio = next(wall for wall in told["walls"] if wall["wall"] == "patio")
    # put in: 0.5 ft short, the floor up to 0.3 ft high, each shot with a scatter of 0.02 ft
    assert patio["overdig"]["least"] == pytest.approx(1.5, abs=0.1)
    assert 0.15 < told["floor"]["worst_high"] < 0.35
    easting, northing = told["floor"]["worst_high_at"]
    assert (easting - 520.0) ** 2 + (northing - 346.0) ** 2 < 25.0


def test_the_same_job_gives_the_same_bytes(tmp_path: Path) -> None:
    path = made(tmp_path)
    for out in ("a", "b"):
        run(path, "--out", tmp_path / out)
    files = sorted(file.name for file in (tmp_path / "a").iterdir())
    assert files == ["verify.html", "verify.json", "verify_stakes.csv"]
    for name in files:
        assert (tmp_path / "a" / name).read_bytes() == (tmp_path / "b" / name).read_bytes()
