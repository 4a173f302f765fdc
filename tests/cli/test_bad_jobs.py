"""Every bad job ends with status 1 and one clear message, and leaves nothing behind."""

import math
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner, Result

from terrain.cli.main import app
from tests.job.made_job import RECTANGLE, WALLS, changed, full, small, toml, without, write_job

CROSSED = [RECTANGLE[0], RECTANGLE[2], RECTANGLE[1], RECTANGLE[3]]
STEP = {"name": "a", "width": 4.0, "line": [[100, 100], [110, 100], [110, 102], [100, 102]]}
RAMP = {"name": "a", "run_per_rise": 4.0, "width": 4.0}
TRENCH = {"name": "a", "floor": 96.0, "width": 1.0, "line": [[100, 100], [110, 100]]}
PIT = {"name": "a", "floor": 94.0, "corners": [[150, 212], [153, 212], [153, 218]]}
FOOTING = {"width": 1.5, "depth": 1.0, "projection": 0.5}
BEARING = {
    "first_corner": [100.0, 200.0], "bearing": 90.0, "lengths": [48, 36, 47, 36], "walls": WALLS,
}  # fmt: skip
STAKES = {"stakes": "stake", "lengths": [48, 36, 48, 36], "walls": WALLS}

BAD: list[tuple[str, tuple[str | int, ...], Any, str, str]] = [
    ("walls that cross", ("foundation", "corners"), CROSSED, "foundation.corners", "cross"),
    ("a corner twice in a row", ("foundation", "corners"),
     [*RECTANGLE[:3], RECTANGLE[2]], "foundation.corners", "no length"),
    ("a ring closed by its first corner", ("foundation",),
     {"corners": [*RECTANGLE, RECTANGLE[0]], "walls": [*WALLS, "e"]},
     "foundation.corners", "closes by itself"),
    ("corners on one line", ("foundation", "corners"),
     [[0, 0], [10, 0], [20, 0], [30, 0]], "foundation.corners", "one line"),
    ("two corners", ("foundation", "corners"), RECTANGLE[:2], "foundation.corners", "at least 3"),
    ("too few names", ("foundation", "walls"), WALLS[:3], "foundation.walls", "3 wall names"),
    ("a name twice", ("foundation", "walls"), ["a", "a", "b", "c"], "foundation.walls[2]", "two"),
    ("a blank name", ("foundation", "walls"), ["", "a", "b", "c"], "foundation.walls[1]", "name"),
    ("a corner not a number", ("foundation", "corners"),
     [[math.nan, 0], *RECTANGLE[1:]], "foundation.corners[1]", "not [nan, 0]"),
    ("a corner at infinity", ("foundation", "corners"),
     [*RECTANGLE[:3], [0, math.inf]], "foundation.corners[4]", "not [0, inf]"),
    ("a corner in space", ("foundation", "corners"),
     [*RECTANGLE[:3], [0, 236, 4]], "foundation.corners[4]", "[easting, northing]"),
    ("walls that do not close", ("foundation",), BEARING, "foundation.lengths", "1.000 ft"),
    ("turns that do not close", ("foundation",),
     BEARING | {"turns": [90, 90, 90, 80]}, "foundation.turns", "350"),
    ("no stakes", ("foundation",), STAKES, "foundation.stakes", '0 shots have the code "stake"'),
    ("an outline file that is not there", ("foundation",),
     {"outline": "no.csv", "walls": WALLS}, "foundation.outline", "no file"),
    ("two forms at once", ("foundation", "outline"), "foundation.csv", "foundation.outline", "one"),
    ("floor not a number", ("dig", "floor"), math.nan, "dig.floor", "finite"),
    ("floor at infinity", ("dig", "floor"), -math.inf, "dig.floor", "finite"),
    ("floor as text", ("dig", "floor"), "92.5", "dig.floor", 'not "92.5"'),
    ("floor as truth", ("dig", "floor"), True, "dig.floor", "not true"),
    ("overdig inwards", ("dig", "overdig"), -2.0, "dig.overdig", "at least 0"),
    ("an empty side", ("dig", "side"), [], "dig.side", "wanted"),
    ("a side of nothing", ("dig", "side"), [[0, 0]], "dig.side", "goes nowhere"),
    ("a side all run", ("dig", "side"), [[4, 0]], "dig.side", "never rises"),
    ("a side downwards", ("dig", "side"), [[1, -1]], "dig.side", "less than 0"),
    ("a side of endless tiny steps", ("dig", "side"), [[0, 1e-9], [1, 0]], "dig.side", "rise"),
    ("an unknown wall", ("dig", "walls"), {"bak": {"side": 1}}, "dig.walls.bak", '"back"'),
    ("a wall's unknown key", ("dig", "walls"), {"back": {"sid": 1}}, "dig.walls.back.sid", "side"),
    ("pits of one name", ("dig", "pits"), [PIT, PIT], "dig.pits[2].name", "dig.pits[1]"),
    ("a pit and a trench of one name", ("dig",),
     {"floor": 92.5, "overdig": 2, "side": 1, "pits": [PIT], "trenches": [TRENCH]},
     "dig.trenches[1].name", "dig.pits[1]"),
    ("a pit that crosses itself", ("dig", "pits"),
     [PIT | {"corners": CROSSED}], "dig.pits[1].corners", "cross"),
    ("a pit with no floor", ("dig", "pits"),
     [{k: v for k, v in PIT.items() if k != "floor"}], "dig.pits[1].floor", "required"),
    ("a ramp that folds over itself", ("dig", "ramps"), [RAMP | STEP], "dig.ramps[1].line", "fold"),
    ("a level ramp", ("dig", "ramps"),
     [RAMP | STEP | {"run_per_rise": 0}], "dig.ramps[1].run_per_rise", "over 0"),
    ("a trench of one point", ("dig", "trenches"),
     [TRENCH | {"line": [[1, 1]]}], "dig.trenches[1].line", "at least 2"),
    ("a trench from a point to itself", ("dig", "trenches"),
     [TRENCH | {"line": [[1, 1], [1, 1]]}], "dig.trenches[1].line", "the same"),
    ("a trench with no width", ("dig", "trenches"),
     [TRENCH | {"width": 0}], "dig.trenches[1].width", "over 0"),
    ("a trench that doubles back", ("dig", "trenches"),
     [TRENCH | {"line": [[1, 1], [9, 1], [1, 1.1]]}], "dig.trenches[1].line", "doubles back"),
    ("a floor that is not the chain's", ("foundation",),
     {"corners": RECTANGLE, "walls": WALLS, "top": 100, "wall_height": 8},
     "dig.floor", "top 100 less the wall 8 is 92"),
    ("a footing above the floor", ("foundation", "footing"),
     FOOTING | {"bottom": 93.0}, "foundation.footing.bottom", "above the floor 92.5"),
    ("a footing narrower than it stands out", ("foundation", "footing"),
     FOOTING | {"projection": 2.0}, "foundation.footing.projection", "not less"),
    ("a crs of another unit", ("site", "crs"), "EPSG:26912", "site.crs", '"m"'),
    ("a crs in degrees", ("site", "crs"), "EPSG:4326", "site.crs", "not projected"),
    ("a crs that is none", ("site", "crs"), "EPSG:0", "site.crs", "PROJ"),
    ("an unknown unit", ("site", "length_unit"), "yd", "site.length_unit", '"ftUS"'),
    ("no shots", ("existing", "shots"), [], "existing.shots", "names no file"),
    ("shots that are not there", ("existing", "shots"), ["a.csv"], "existing.shots[1]", "no file"),
    ("a folder of shots", ("existing", "shots"), ["."], "existing.shots[1]", "a folder"),
    ("a code no shot has", ("existing", "breaklines"), ["kerb"], "existing.breaklines", "kerb"),
    ("a mark no shot is", ("existing", "marks"), {"BM9": 1.0}, "existing.marks.BM9", "BM1"),
    ("a column that is none", ("existing", "columns"),
     ["point", "height", "code"], "existing.columns[2]", "not a column"),
    ("an unknown soil", ("soil", "material"), "cheese", "soil.material", "cheese"),
    ("a soil that vanishes", ("soil", "shrink"), 1.0, "soil.shrink", "1"),
    ("a truck of nothing", ("haul", "truck"), 0, "haul.truck", "over 0"),
    ("a table of no question", ("weather",), {"rain": 5}, "weather", "unknown table"),
    ("a misspelt table", ("haull",), {"truck": 5}, "haull", "[haul]"),
    ("a title that is a number", ("title",), 7, "title", "text in quotes"),
]  # fmt: skip

RAW: list[tuple[str, bytes, str]] = [
    ("empty", b"", "is empty"),
    ("blank", b"\n \n", "is empty"),
    ("binary", bytes(range(256)) * 40, "not a text file"),
    ("a picture", b"\x89PNG\r\n\x1a\n\0\0", "not a text file"),
    ("Latin-1", toml(small()).encode() + 'title = "Stra\xdfe"\n'.encode("latin-1"), "not UTF-8"),
    ("UTF-16", toml(small()).encode("utf-16"), "UTF-16"),
    ("a key twice", b"[site]\nlength_unit = 'ft'\nlength_unit = 'm'\n", ":3:"),
    ("a table twice", b"[site]\n[site]\n", ":2:"),
    ("an open bracket", b"[dig]\nside = [[1, 1]\n", "not TOML"),
    ("a decimal comma", b"[dig]\nfloor = 92,5\n", ":2:"),
    ("shots in place of a job", b"1,100.0,200.0,97.5,ground\n" * 50, ":1:"),
    ("depth without end", b"a = " + b"[" * 20_000, "nested too deeply"),
    ("one line of 10 MB", b"a = '" + b"x" * 10_000_000 + b"'", "over 10 MB"),
]


def run(*arguments: str) -> Result:
    return CliRunner().invoke(app, list(arguments))


def everything_in(folder: Path) -> dict[str, bytes]:
    return {str(p): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def refused(folder: Path, job: Path, command: str) -> str:
    """What the command says of a job it must refuse."""
    before = everything_in(folder)
    out = folder / "results"
    result = run(command, str(job), "--out", str(out))
    assert result.exit_code == 1, result.output
    assert isinstance(result.exception, SystemExit)
    assert result.stdout == ""
    assert "Traceback" not in result.stderr
    assert str(job) in result.stderr
    assert everything_in(folder) == before
    assert not out.exists()
    return result.stderr


def test_at_least_forty_bad_jobs_are_tried() -> None:
    assert len(BAD) + len(RAW) >= 60


@pytest.mark.parametrize("command", ["check", "volumes"])
@pytest.mark.parametrize(
    ("path", "value", "key", "words"), [b[1:] for b in BAD], ids=[b[0] for b in BAD]
)
def test_a_bad_job_is_refused_by_key(
    tmp_path: Path, command: str, path: tuple[str | int, ...], value: Any, key: str, words: str
) -> None:
    said = refused(tmp_path, write_job(tmp_path, changed(small(), path, value)), command)
    [line] = [s for s in said.splitlines() if f": {key}: " in s]
    assert words in line, said
    assert line.startswith(f"{tmp_path / 'job.toml'}:")


@pytest.mark.parametrize(("raw", "words"), [r[1:] for r in RAW], ids=[r[0] for r in RAW])
def test_a_file_that_is_no_job_is_refused(tmp_path: Path, raw: bytes, words: str) -> None:
    job = write_job(tmp_path, "")
    job.write_bytes(raw)
    assert words in refused(tmp_path, job, "volumes")


def test_a_folder_or_nothing_for_a_job_is_refused(tmp_path: Path) -> None:
    assert "is a folder" in refused(tmp_path, tmp_path, "volumes")
    assert "no such job file" in refused(tmp_path, tmp_path / "none.toml", "volumes")


@pytest.mark.parametrize("missing", ["site", "existing", "soil", "foundation", "dig"])
def test_a_missing_table_is_named(tmp_path: Path, missing: str) -> None:
    said = refused(tmp_path, write_job(tmp_path, without(small(), missing)), "volumes")
    assert f"the table [{missing}] is required" in said


def test_many_faults_are_told_together(tmp_path: Path) -> None:
    data = changed(changed(full(), ("dig", "floor"), "x"), ("haul", "truck"), -1)
    data = changed(data, ("foundation", "wals"), 1)
    said = refused(tmp_path, write_job(tmp_path, data), "volumes")
    assert all(key in said for key in ("dig.floor", "haul.truck", "foundation.wals"))


HEADER = "point,northing,easting,elevation,code\n"
GROUNDLESS: list[tuple[str, str, dict[str, Any], str]] = [
    ("a straight line", "1,150,50,100,\n2,151,60,100,\n3,152,70,100,\n", {}, "one straight line"),
    ("nothing left", "1,150,50,100,\n2,150,250,100,\n3,300,250,100,\n", {"max_edge": 5.0},
     "No ground is left"),
    ("lines that cross", "1,150,50,100,a\n2,300,250,100,a\n3,150,250,100,b\n4,300,50,90,b\n",
     {"breaklines": ["a", "b"]}, "at different heights"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("shots", "existing", "words"), [g[1:] for g in GROUNDLESS], ids=[g[0] for g in GROUNDLESS]
)
def test_what_is_wrong_with_the_ground_as_a_whole_names_the_job_and_its_table(
    tmp_path: Path, shots: str, existing: dict[str, Any], words: str
) -> None:
    data = changed(small(), ("existing",), {"shots": ["shots.csv"], **existing})
    job = write_job(tmp_path, data)
    (tmp_path / "shots.csv").write_text(HEADER + shots)
    [line] = refused(tmp_path, job, "volumes").splitlines()
    assert ": existing: " in line
    assert words in line
