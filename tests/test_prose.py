"""What README and DEVELOPERS say can be run, is run."""

import re
import shlex
import subprocess
import sys
import tomllib
from pathlib import Path

import numpy as np
import pytest

from terrain.base.errors import SpoilbankError
from terrain.job.grade import grade
from terrain.job.ground import read_survey
from terrain.job.load import load_job, read_job
from terrain.job.schema import Existing
from terrain.job.volumes import volumes
from tests.real.lots import write_lot

TOP = Path(__file__).parent.parent
README = (TOP / "README.md").read_text(encoding="utf-8")


def blocks(text: str, language: str) -> list[str]:
    return re.findall(rf"```{language}\n(.*?)```", text, flags=re.DOTALL)


@pytest.mark.parametrize("code", blocks(README, "python"))
def test_python_of_the_readme_runs(code):
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=TOP, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    assert re.search(r"\d", done.stdout), "it prints a figure"


def test_the_least_job_of_the_readme_can_be_dug_and_nothing_of_it_left_out(tmp_path):
    text = blocks(README, "toml")[0]
    plan = [(n, e) for n in range(150, 300, 10) for e in range(50, 210, 10)]
    rows = [f"{i},{n},{e},100.0," for i, (n, e) in enumerate(plan)]
    header = "point,northing,easting,elevation,code"
    (tmp_path / "shots.csv").write_text("\n".join([header, *rows]) + "\n")
    job = tmp_path / "job.toml"
    assert volumes(read_job(text, str(job))).ledger.total.quantity.bank > 48 * 36 * 7.5 / 27
    for line in [line for line in text.splitlines() if "=" in line]:
        with pytest.raises(SpoilbankError):
            volumes(read_job(text.replace(line + "\n", ""), str(job)))


def test_the_readme_job_is_a_job_that_can_be_dug(tmp_path):
    text = blocks(README, "toml")[1]
    rng = np.random.default_rng(7)
    plan = np.column_stack([rng.uniform(150, 290, 400), rng.uniform(50, 200, 400)])
    corners = [[150, 50], [290, 50], [150, 200], [290, 200]]
    rows = [f"{i},{n},{e},100.0," for i, (n, e) in enumerate([*plan, *corners])]
    rows += [f"d{i},{n},60.0,99.5,ditch" for i, n in enumerate(range(155, 290, 9))]
    rows += [f"r{i},{n},190.0,100.2,road edge" for i, n in enumerate(range(155, 290, 9))]
    rows += ["BM1,152.5,55.5,100.00,"]
    (tmp_path / "shots.csv").write_text("\n".join(rows) + "\n")
    job = read_job(text, str(tmp_path / "job.toml"))
    ledger = volumes(job).ledger
    assert [w.wall for w in ledger.walls] == tomllib.loads(text)["foundation"]["walls"]
    assert [(p.kind, p.name) for p in ledger.pits] == [
        ("pit", "areaway"), ("ramp", "way in"), ("trench", "porch piers"),
    ]  # fmt: skip
    assert ledger.total.quantity.bank > 0
    finished = grade(job)
    assert [row.wall for row in finished.walls] == [w.wall for w in ledger.walls]
    assert finished.lot.fill > 0


def test_the_readme_job_is_dug_on_shots_in_a_regular_grid_too(tmp_path):
    """Rows of shots that pass through corners of the dig: an edge of both was no polygon once."""
    text = blocks(README, "toml")[1]
    plan = [(n, e) for e in range(40, 221, 15) for n in range(140, 301, 15)]
    rows = [
        f"{i},{n},{e},{97 + 0.02 * (n - 140) + 0.01 * (e - 40):.2f},"
        for i, (n, e) in enumerate(plan)
    ]
    rows += [f"d{k},{151 + k},{45 + 20 * k},{96.5 + 0.1 * k:.2f},ditch" for k in range(8)]
    rows += [f"r{k},292,{47 + 20 * k},100.4,road edge" for k in range(8)]
    (tmp_path / "shots.csv").write_text("\n".join([*rows, "BM1,143,47,100.02,"]) + "\n")
    answer = volumes(read_job(text, str(tmp_path / "job.toml")))
    assert len(answer.plan.daylight) == 1, "the cut is one opening"
    assert answer.ledger.total.quantity.bank > 0


def test_the_field_book_of_the_readme_gives_its_points(tmp_path):
    (notes,) = re.findall(r"```\n(point,backsight.*?)```", README, flags=re.DOTALL)
    text = blocks(README, "toml")[1]
    text = text.replace('shots = ["shots.csv"]', 'notes = ["level.csv"]')
    (tmp_path / "level.csv").write_text(notes)
    shots = read_survey(read_job(text, str(tmp_path / "job.toml"))).shots
    assert [shots.point_name(k) for k in range(len(shots))] == ["g1", "g2", "g3"]
    # off the front wall, which runs east from 100, 200, outward is south
    assert (shots.easting[0], shots.northing[0]) == (112.0, 192.0)
    assert shots.elevation[0] == pytest.approx(100.0 + 5.42 - 6.10, abs=0.01)


def test_the_ground_filter_of_the_readme_is_one_the_job_knows():
    (line,) = re.findall(r"`(ground_filter = \{.*?\})`", README)
    found = Existing.model_validate({"shots": ["scan.laz"], "thin": 0.15} | tomllib.loads(line))
    assert found.ground_filter.way == "cloth"


def test_the_floating_scan_of_the_readme_is_a_table_the_job_knows():
    table = tomllib.loads(blocks(README, "toml")[2])["existing"]
    found = Existing.model_validate(table)
    assert found.control.targets[0].name == "T1"
    assert found.control.refine.shots == "stable.csv"


@pytest.mark.parametrize("name", ["README.md", "DEVELOPERS.md"])
def test_scripts_that_prose_names_are_there_and_can_be_run(name):
    text = (TOP / name).read_text(encoding="utf-8")
    for line in "\n".join(blocks(text, "sh")).splitlines():
        words = shlex.split(line, comments=True)
        if words and words[0].startswith("scripts/"):
            script = TOP / words[0]
            assert script.is_file()
            assert script.stat().st_mode & 0o100, f"{words[0]} can't be run"


@pytest.mark.parametrize("lot", ["flat", "medium", "steep", "heights"])
def test_figures_of_the_real_lots_are_those_the_main_job_gives(lot, tmp_path, request):
    """The table in the README, cell by cell."""
    cache = Path(request.config.cache.mkdir("open-data"))
    ledger = volumes(load_job(write_lot(lot, cache, tmp_path))).ledger
    told = (
        f"| {lot} | {ledger.total.quantity.bank:.1f} {ledger.volume_unit} "
        f"| {ledger.deepest_cut:.2f} {ledger.length_unit} "
        f"| {ledger.daylight_area:.1f} {ledger.length_unit}2 |"
    )
    assert told in README


def test_every_command_is_in_the_readme():
    from terrain.cli.main import app

    names = [c.name or c.callback.__name__ for c in app.registered_commands]
    for name in names:
        assert f"`spoilbank {name}" in README
