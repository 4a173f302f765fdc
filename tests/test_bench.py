"""`scripts/bench` runs, row by row, and every engine comes as near to the exact volume as it can.

Never a word about time here: what it measures is not what this machine is doing now.
"""

import importlib.util
import shutil
import subprocess
from pathlib import Path
from xml.etree import ElementTree

import pytest

from scripts.benchmarks.picture import HEIGHT, WIDTH, Curve, picture
from scripts.benchmarks.rows import GROWTH, ROWS

SVG = "{http://www.w3.org/2000/svg}"
TOP = Path(__file__).parent.parent
EXACT = 1e-12
ON_A_GRID = {"wall-grade": 0.6}
"""A thin apron is lost between a few thousand cells; elsewhere they come within ON_CELLS."""

ON_CELLS = 0.05

WITHOUT_LINES = "scipy Delaunay, lines left out"
NOTICED = 1e-6
NO_VOLUME = {"scipy, its Delaunay alone", "Python doing nothing"}


def bench(folder: Path, *arguments: str) -> tuple[str, list[dict[str, str]]]:
    """What a quick run prints, and the rows of the Markdown it writes."""
    out = folder / "table.md"
    done = subprocess.run(
        [TOP / "scripts" / "bench", "--quick", "--out", out, *arguments],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    lines = [line for line in out.read_text(encoding="utf-8").splitlines() if line[:1] == "|"]
    table = [[cell.strip() for cell in line.strip("|").split("|")] for line in lines]
    assert set("".join(table[1])) <= set("-:"), "the second line rules off the heads"
    return done.stdout, [dict(zip(table[0], cells, strict=True)) for cells in table[2:]]


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.name)
def test_a_row_has_every_engine_and_each_is_near_the_exact_volume(row, tmp_path):
    printed, table = bench(tmp_path, "--rows", row.name)
    assert max(map(len, printed.splitlines())) <= 100
    assert table[0]["job"] == row.title(2_000)
    # what else there is to say of an engine stands in brackets behind it
    said = [line["engine"].split(" (")[0] for line in table]
    assert said == [engine.label for engine in row.engines]
    for engine, line in zip(row.engines, table, strict=True):
        absent = [
            name
            for name, found in (
                (engine.module, engine.module and importlib.util.find_spec(engine.module)),
                (engine.command, engine.command and shutil.which(engine.command)),
            )
            if name and not found
        ]
        if absent:
            assert line["seconds"] == f"{absent[0]} is not installed"
            assert not line["error"]
        elif engine.label in NO_VOLUME or row.name == "help":
            assert not line["error"]
            assert float(line["peak MB"].replace(",", "")) > 0
        else:
            theirs = ON_A_GRID.get(row.name, ON_CELLS)
            assert float(line["error"]) <= (EXACT if engine is row.engines[0] else theirs), line
            if engine.label == WITHOUT_LINES:  # else the row could not tell that ours keeps them
                assert float(line["error"]) > NOTICED
            assert float(line["peak MB"].replace(",", "")) > 0


def test_growth_is_told_for_each_job_and_size(tmp_path):
    _, table = bench(tmp_path, "--rows", "growth")
    wanted = [
        (growing.job, f"{size} {growing.of}") for growing in GROWTH for size in ("500", "2,000")
    ]
    assert [(line["job"], line["size"]) for line in table] == wanted
    drawing = ElementTree.parse(tmp_path / "table.svg").getroot()
    lines = [e for e in drawing.iter(SVG + "polyline") if float(e.get("stroke-width")) > 2]
    assert [len(line.get("points").split()) for line in lines] == [2] * len(GROWTH)
    said = " ".join("".join(e.itertext()) for e in drawing.iter(SVG + "text"))
    assert all(growing.job in said for growing in GROWTH)


def test_a_line_drawn_rises_as_its_figures_do(tmp_path):
    sizes = (10_000, 100_000, 1_000_000)
    linear = Curve(job="linear", sizes=sizes, seconds=(0.01, 0.1, 1.0))
    square = Curve(job="square", sizes=sizes, seconds=(0.001, 0.1, 10.0))
    assert abs(linear.power - 1.0) < 1e-12
    assert abs(square.power - 2.0) < 1e-12
    drawing = ElementTree.fromstring(picture([linear, square], "made up"))
    places = [
        [tuple(map(float, place.split(","))) for place in e.get("points").split()]
        for e in drawing.iter(SVG + "polyline")
        if float(e.get("stroke-width")) > 2
    ]
    steep = [(line[0][1] - line[-1][1]) / (line[-1][0] - line[0][0]) for line in places]
    assert abs(steep[1] / steep[0] - 2.0) < 1e-3
    assert all(0 <= x <= WIDTH and 0 <= y <= HEIGHT for line in places for x, y in line)
