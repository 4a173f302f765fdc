"""The command line: what each command prints, writes and ends with."""

import io
import json
import os
import subprocess
import sys
import time
import tomllib
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from terrain.cli import run as cli_run
from terrain.cli.main import app
from terrain.cli.run import Progress
from tests.job.made_job import WALLS, changed, small, write_job

DRAWN = {"dig.glb", "dig.ply", "layers.gpkg", "surfaces.xml", "plan.dxf"}
COMMAND = [sys.executable, "-c", "from terrain.cli.main import main; main()"]


def run(*arguments: object) -> Result:
    return CliRunner().invoke(app, [str(a) for a in arguments])


def run_apart(*arguments: object, **environment: str) -> subprocess.CompletedProcess[bytes]:
    return subprocess.run(
        [*COMMAND, *map(str, arguments)],
        capture_output=True,
        env=os.environ | environment,
        timeout=120,
        check=False,
    )


def names_in(folder: Path) -> set[str]:
    return {p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file()}


def test_help_is_printed() -> None:
    done = run_apart("--help")
    assert done.returncode == 0
    assert b"volumes" in done.stdout


def test_help_loads_nothing_heavy() -> None:
    code = (
        "import sys\nfrom terrain.cli.main import app\n"
        "print([m for m in ('numpy', 'pydantic', 'rich', 'shapely', 'numba', 'scipy', 'pyproj', "
        "'matplotlib', 'laspy') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True)
    assert done.stdout.decode().strip() == "[]"


def test_help_lists_the_commands_there_are() -> None:
    said = run("--help").stdout
    assert all(name in said for name in ("demo", "check", "volumes"))


@pytest.mark.parametrize(
    "arguments",
    [["dig", "job.toml"], ["volumes"], ["volumes", "a", "b"], ["volumes", "a", "--outt", "b"]],
)
def test_wrong_use_ends_with_2(arguments: list[str]) -> None:
    result = run(*arguments)
    assert result.exit_code == 2
    assert result.stdout == ""
    assert "Usage" in result.stderr


def test_check_tells_what_it_understood_in_80_columns(tmp_path: Path) -> None:
    job = write_job(tmp_path, changed(small(), ("dig", "walls"), {"back": {"overdig": 3.5}}))
    result = run("check", job)
    assert result.exit_code == 0, result.stderr
    assert max(map(len, result.stdout.splitlines())) <= 80
    for told in ("ft (international foot)", "5 shots", "shots.csv", "48.000", "1 to 3: 60.000",
                 "92.500  floor of the dig", "3.500", "1 per 1", "clay: swell 0.43"):  # fmt: skip
        assert told in result.stdout
    assert names_in(tmp_path) == {"job.toml", "shots.csv", "lines.geojson", "foundation.csv"}


def test_check_as_json_is_json_and_nothing_else(tmp_path: Path) -> None:
    data = changed(small(), ("foundation", "footing"), {"width": 2, "depth": 1, "projection": 0.5})
    result = run("check", write_job(tmp_path, data), "--json")
    told = json.loads(result.stdout)
    assert told["ground"]["shots"] == 5
    assert told["ground"]["area"] == pytest.approx(200 * 150)
    assert [w["wall"] for w in told["walls"]] == WALLS
    assert {w["working_room"] for w in told["walls"]} == {1.5}
    assert [w["length"] for w in told["foundation"]["walls"]] == [48.0, 36.0, 48.0, 36.0]
    assert {d["length"] for d in told["foundation"]["diagonals"]} == {60.0}
    assert told["levels"][-1] == {"name": "floor of the dig", "elevation": 92.5, "how": "given"}
    assert told["truck"] is None


def test_check_writes_only_where_asked(tmp_path: Path) -> None:
    job = write_job(tmp_path, small())
    assert run("check", job, "--out", tmp_path / "a" / "b").exit_code == 0
    assert names_in(tmp_path / "a") == {"b/check.json"}
    assert json.loads((tmp_path / "a" / "b" / "check.json").read_text())["title"] == "job"


def test_a_header_the_job_contradicts_is_a_warning_on_top_and_a_caution(tmp_path: Path) -> None:
    job = write_job(tmp_path, small())
    shots = tmp_path / "shots.csv"
    header, rows = shots.read_text().split("\n", 1)
    columns = [name.strip() for name in header.split(",")]
    job = write_job(tmp_path, changed(small(), ("existing", "columns"), columns))
    swap = {"easting": "northing", "northing": "easting"}
    shots.write_text(",".join(swap.get(c, c) for c in columns) + "\n" + rows)
    said = run("check", job).stdout
    assert "WARNING" in said
    assert said.index("WARNING") < said.index("Existing ground")
    assert said.index("existing.columns") < said.index("Existing ground")
    ledger = json.loads(run("volumes", job, "--json").stdout)
    told = [c["message"] for c in ledger["cautions"] if c["code"] == "columns-disagree"]
    assert len(told) == 1
    assert '"northing" as easting' in told[0]


def test_check_shows_where_swapped_columns_would_put_the_house(tmp_path: Path) -> None:
    job = write_job(tmp_path, small())
    said = " ".join(run("check", job).stdout.split())
    first = "point 1 (shots.csv:2), is read as 50.000 east, 150.000 north, 100.000 up."
    assert "The first shot, " + first in said
    reach = "by 50.0 ft to the west, 50.0 south, 102.0 east, 64.0 north."
    assert "The survey reaches past its outermost corners " + reach in said
    assert "Only three walls" not in said
    told = json.loads(run("check", job, "--json").stdout)
    assert told["ground"]["first"] == {
        "place": "shots.csv:2", "point": "1",
        "easting": 50.0, "northing": 150.0, "elevation": 100.0,
    }  # fmt: skip
    assert told["foundation"]["beyond"] == {"west": 50, "south": 50, "east": 102, "north": 64}


def test_check_asks_after_a_fourth_corner(tmp_path: Path) -> None:
    data = changed(small(), ("foundation", "corners"), [[100, 200], [148, 200], [148, 236]])
    job = write_job(tmp_path, changed(data, ("foundation", "walls"), WALLS[:3]))
    assert "Only three walls: is a corner missing?" in run("check", job).stdout


def test_check_reads_a_foundation_from_its_file(tmp_path: Path) -> None:
    data = changed(small(), ("foundation",), {"outline": "foundation.csv", "walls": WALLS})
    told = json.loads(run("check", write_job(tmp_path, data), "--json").stdout)
    assert told["foundation"]["area"] == 48 * 36


def test_check_prints_the_misclosure_and_each_stakes_residual(tmp_path: Path) -> None:
    data = changed(
        small(), ("foundation",),
        {"stakes": "STAKE", "lengths": [48, 36, 48.05, 36], "walls": WALLS},
    )  # fmt: skip
    job = write_job(tmp_path, data)
    with (tmp_path / "shots.csv").open("a") as file:
        for northing, easting in ((200, 100), (200, 148.02), (236, 148), (236, 100)):
            file.write(f"S,{northing},{easting},100.2,stake\n")
    result = run("check", job)
    assert result.exit_code == 0, result.stderr
    assert "miss closing by 0.050 ft" in result.stdout
    assert "Stakes stand off their corners by (ft) 1: 0.0" in result.stdout


def test_volumes_prints_a_table_and_writes_its_files_beside_the_job(tmp_path: Path) -> None:
    job = write_job(tmp_path, small())
    result = run("volumes", job)
    assert result.exit_code == 0, result.stderr
    assert all(wall in result.stdout for wall in WALLS)
    assert max(len(s) for s in result.stdout.split("\nWritten")[0].splitlines()) <= 80
    written = {"ledger.csv", "ledger.json", "report.html", *DRAWN}
    assert names_in(tmp_path / "out") == written
    assert all(name in result.stdout for name in written)
    assert "No plan.geojson: it holds longitude and latitude only" in result.stdout


def test_a_job_with_a_crs_gets_its_plan_in_degrees_too(tmp_path: Path) -> None:
    job = write_job(tmp_path, changed(small(), ("site", "crs"), "EPSG:2223"))
    result = run("volumes", job)
    assert result.exit_code == 0, result.stderr
    assert names_in(tmp_path / "out") >= {"plan.geojson", *DRAWN}
    assert "No plan.geojson" not in result.stdout

    write_job(tmp_path, small())
    result = run("volumes", job)
    assert "No plan.geojson" in result.stdout
    assert "The plan.geojson that stands there is from before" in result.stdout


def test_a_result_is_not_written_over_the_ground_it_was_read_from(tmp_path: Path) -> None:
    job = write_job(tmp_path, small())
    assert run("volumes", job, "--out", tmp_path).exit_code == 0
    ground = (tmp_path / "surfaces.xml").read_bytes()
    again = changed(small(), ("existing",), {"shots": ["surfaces.xml"], "surface": "existing"})
    result = run("volumes", write_job(tmp_path, again), "--out", tmp_path)
    assert result.exit_code == 1
    assert "the job is read from this file" in result.stderr
    assert (tmp_path / "surfaces.xml").read_bytes() == ground


def test_volumes_as_json_writes_nothing_unless_asked(tmp_path: Path) -> None:
    job = write_job(tmp_path, small())
    told = json.loads(run("volumes", job, "--json").stdout)
    assert [row["wall"] for row in told["walls"]] == WALLS
    assert not (tmp_path / "out").exists()
    again = run("volumes", job, "--json", "--out", tmp_path / "here")
    assert json.loads(again.stdout)["total"] == told["total"]
    kept = json.loads((tmp_path / "here" / "ledger.json").read_text(encoding="utf-8"))
    assert kept["total"] == told["total"]


def test_an_out_folder_that_is_a_file_is_refused(tmp_path: Path) -> None:
    job = write_job(tmp_path, small())
    for command in ("check", "volumes"):
        result = run(command, job, "--out", tmp_path / "shots.csv")
        assert result.exit_code == 1
        assert "shots.csv: is a file; name a folder" in result.stderr


def test_a_path_with_spaces_and_unicode_works_on_any_terminal(tmp_path: Path) -> None:
    folder = tmp_path / "Grüne Straße 7"
    data = changed(changed(small(), ("title",), "Höhe ± 3"), ("existing", "shots"), ["測 量.csv"])
    job = write_job(folder, data, "Büro – Haus.toml")
    (folder / "shots.csv").rename(folder / "測 量.csv")
    for encoding in ("utf-8", "ascii", "latin-1"):
        for command in ("check", "volumes"):
            done = run_apart(command, job, PYTHONIOENCODING=encoding)
            assert done.returncode == 0, done.stderr
            assert done.stderr == b""
            done.stdout.decode(encoding)
    assert json.loads(run_apart("volumes", job, "--json", PYTHONIOENCODING="ascii").stdout)
    gone = run_apart("volumes", folder / "żadna.toml", PYTHONIOENCODING="ascii")
    assert (gone.returncode, gone.stdout) == (1, b"")
    assert b"no such job file" in gone.stderr


def test_a_reader_that_goes_away_is_no_traceback(tmp_path: Path) -> None:
    job = write_job(tmp_path, small())
    for command, option in (("check", []), ("check", ["--json"]), ("volumes", ["--json"])):
        with subprocess.Popen(
            [*COMMAND, command, str(job), *option],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
        ) as process:
            assert process.stdout is not None
            assert process.stderr is not None
            process.stdout.close()
            said = process.stderr.read()
            process.wait(timeout=60)
        assert b"Traceback" not in said
        assert process.returncode == 1


class Terminal(io.StringIO):
    """A terminal to write to."""

    encoding = "utf-8"

    def isatty(self) -> bool:
        return True


def test_progress_is_told_on_a_terminal_and_wiped(monkeypatch: pytest.MonkeyPatch) -> None:
    terminal = Terminal()
    monkeypatch.setattr(sys, "stderr", terminal)
    monkeypatch.setattr(cli_run, "PROGRESS_AFTER", 0.0)
    with Progress().shown() as progress:
        progress("digging")
        time.sleep(0.3)
    assert "digging ..." in terminal.getvalue()
    quiet = io.StringIO()
    monkeypatch.setattr(sys, "stderr", quiet)
    with Progress().shown() as progress:
        progress("digging")
        time.sleep(0.1)
    assert quiet.getvalue() == ""


def test_quick_work_tells_no_progress(monkeypatch: pytest.MonkeyPatch) -> None:
    terminal = Terminal()
    monkeypatch.setattr(sys, "stderr", terminal)
    with Progress().shown() as progress:
        progress("digging")
    assert "digging" not in terminal.getvalue()


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (KeyboardInterrupt(), "Stopped; nothing was written"),
        (MemoryError(), "not enough memory"),
        (PermissionError(13, "Permission denied", "shots.csv"), "shots.csv: Permission denied"),
        (OSError(28, "No space left on device"), "No space left on device"),
    ],
)
def test_what_the_machine_refuses_is_said_in_a_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, error: BaseException, words: str
) -> None:
    def refuse(*_: object) -> None:
        raise error

    monkeypatch.setattr("terrain.job.check.check", refuse)
    result = run("check", write_job(tmp_path, small()))
    assert result.exit_code == 1
    assert result.stdout == ""
    assert words in result.stderr
    assert len(result.stderr.splitlines()) == 1


def test_the_demo_runs_and_names_the_page_to_open(tmp_path: Path) -> None:
    folder = tmp_path / "try it"
    result = run("demo", folder)
    assert result.exit_code == 0, result.stderr
    page = folder / "out" / "report.html"
    assert f"Open {page}" in result.stdout
    assert page.is_file()
    assert "invented" in tomllib.loads((folder / "job.toml").read_text())["title"]
    assert run("demo", folder).exit_code == 0


def test_the_demo_overwrites_no_job_of_yours(tmp_path: Path) -> None:
    job = write_job(tmp_path, small())
    before = job.read_bytes()
    result = run("demo", tmp_path)
    assert result.exit_code == 1
    assert "job.toml: is there already and is not the demo's" in result.stderr
    assert job.read_bytes() == before
    assert not (tmp_path / "out").exists()
