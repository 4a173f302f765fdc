"""`spoilbank batch`: every job under a folder, whatever dies on the way."""

import csv
import io
import json
import os
import signal
import sqlite3
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pyogrio
import pytest
import shapely
import typer

from terrain.cli.main import app
from terrain.job.batch_figures import FIGURES
from tests.billing.made_bill import bill_job
from tests.cli.test_commands import COMMAND, run
from tests.job.made_job import RECTANGLE, changed, small, write_job

LOTS = 24


def made_lots(folder: Path, count: int = LOTS) -> Path:
    """A folder of lots that differ in their floor, some deeper in the tree than others."""
    for number in range(count):
        lot = small() | {"title": f"Lot {number}"}
        lot["dig"]["floor"] = 92.0 + number / 16
        home = folder / ("row a" if number % 2 else "") / f"lot {number:02}"
        home.mkdir(parents=True)
        write_job(home, lot)
    return folder


def begun(*arguments: object) -> subprocess.Popen[bytes]:
    return subprocess.Popen(
        [*COMMAND, *map(str, arguments)], stdout=subprocess.PIPE, stderr=subprocess.PIPE
    )


def records(folder: Path) -> list[Path]:
    # unlike rglob, os.walk bears folders that vanish while answers are moved into place
    return sorted(
        Path(at) / n
        for at, _, names in os.walk(folder)
        for n in names
        if n == "asked.json" and ".spoilbank-" not in at
    )


def wait_for_records(folder: Path, count: int) -> None:
    until = time.monotonic() + 60.0
    while len(records(folder)) < count:
        assert time.monotonic() < until, "the batch does not come on"
        time.sleep(0.01)


def children_of(process: int) -> list[int]:
    """The processes begun by a process, from the system's own list."""
    said = Path(f"/proc/{process}/task/{process}/children").read_text()
    return [int(child) for child in said.split()]


def workers_of(process: int) -> list[int]:
    """Those of the children that work: spawned, but not the one that keeps track of resources."""
    told = {c: Path(f"/proc/{c}/cmdline").read_bytes() for c in children_of(process)}
    return [child for child, line in told.items() if b"spawn_main" in line]


def rows_of(folder: Path) -> list[dict[str, str]]:
    text = (folder / "summary.csv").read_text(encoding="utf-8")
    return list(csv.DictReader(io.StringIO(text)))


def alone(job: Path) -> dict[str, Any]:
    answer: dict[str, Any] = json.loads(run("volumes", job, "--json").stdout)
    return answer


def test_a_worker_killed_midway_costs_no_job(tmp_path: Path) -> None:
    folder = made_lots(tmp_path / "lots")
    batch = begun("batch", folder, "--no-pages", "--workers", 2)
    wait_for_records(folder, 3)
    os.kill(workers_of(batch.pid)[0], signal.SIGKILL)
    _, said = batch.communicate(timeout=120)
    assert batch.returncode == 0, said
    rows = rows_of(folder / "out" / "volumes")
    assert [row["status"] for row in rows].count("done") >= LOTS - 2
    assert {row["status"] for row in rows} <= {"done", "kept"}
    assert len({row["bank"] for row in rows}) == LOTS
    for row in rows[::6]:
        total = alone(folder / row["job"])["total"]
        assert float(row["bank"]) == total["bank"]


def test_a_batch_killed_and_begun_again_does_only_what_is_missing(tmp_path: Path) -> None:
    folder = made_lots(tmp_path / "lots", 8)
    batch = begun("batch", folder, "--no-pages", "--workers", 1)
    wait_for_records(folder, 3)
    batch.kill()
    batch.communicate(timeout=60)
    until = time.monotonic() + 30.0
    before = {path: path.stat().st_mtime_ns for path in records(folder)}
    while time.monotonic() < until:  # the orphaned worker ends by itself
        time.sleep(0.3)
        now = {path: path.stat().st_mtime_ns for path in records(folder)}
        if now == before:
            break
        before = now
    assert 3 <= len(before) < 8
    assert not (folder / "out" / "volumes" / "summary.csv").exists()
    done = run("batch", folder, "--no-pages", "--workers", 1)
    assert done.exit_code == 0, done.output
    statuses = [row["status"] for row in rows_of(folder / "out" / "volumes")]
    assert statuses.count("kept") == len(before)
    assert statuses.count("done") == 8 - len(before)
    assert {path: path.stat().st_mtime_ns for path in before} == before


def test_what_has_changed_is_done_again_and_nothing_else(tmp_path: Path) -> None:
    folder = made_lots(tmp_path / "lots", 4)
    assert run("batch", folder, "--no-pages", "--workers", 1).exit_code == 0
    shots = folder / "lot 02" / "shots.csv"
    shots.write_text(shots.read_text().replace("100", "101"))
    (folder / "out" / "volumes" / "lot 00" / "job" / "answer.json").unlink()
    run("batch", folder, "--no-pages", "--workers", 1)
    rows = {row["job"]: row["status"] for row in rows_of(folder / "out" / "volumes")}
    assert rows == {
        "lot 00/job.toml": "done",
        "lot 02/job.toml": "done",
        "row a/lot 01/job.toml": "kept",
        "row a/lot 03/job.toml": "kept",
    }


def test_a_failing_job_stops_no_other_and_is_tried_again(tmp_path: Path) -> None:
    folder = made_lots(tmp_path / "lots", 3)
    wrong = folder / "lot 00" / "job.toml"
    write_job(wrong.parent, changed(small(), ("dig", "overdig"), -1.0))
    done = run("batch", folder, "--no-pages", "--workers", 1)
    assert done.exit_code == 1
    assert "3/3" in done.stderr
    rows = {row["job"]: row for row in rows_of(folder / "out" / "volumes")}
    assert rows["lot 00/job.toml"]["status"] == "refused"
    said = rows["lot 00/job.toml"]["message"]
    assert said.startswith("lot 00/job.toml:")
    assert "dig.overdig" in said
    assert rows["lot 02/job.toml"]["status"] == rows["row a/lot 01/job.toml"]["status"] == "done"
    write_job(wrong.parent, small())
    assert run("batch", folder, "--no-pages", "--workers", 1).exit_code == 0


def test_the_summary_is_the_same_in_every_format(tmp_path: Path) -> None:
    folder = made_lots(tmp_path / "lots", 2)
    write_job(folder / "lot 00", small() | {"title": "=1+1"})
    other = small()
    other["site"]["crs"] = "EPSG:2223"
    (folder / "grid").mkdir()
    write_job(folder / "grid", other)
    printed = run("batch", folder, "--json", "--out", tmp_path / "kept", "--workers", 1)
    assert printed.exit_code == 0
    told = json.loads(printed.stdout)
    target = tmp_path / "kept" / "volumes"
    assert json.loads((target / "summary.json").read_text()) == told
    assert told["counts"] == {"done": 3}
    rows = rows_of(target)
    assert [row["job"] for row in rows] == [job["job"] for job in told["jobs"]]
    assert [float(row["bank"]) for row in rows] == [job["figures"]["bank"] for job in told["jobs"]]
    assert [row["title"] for row in rows if row["job"].startswith("lot 00")] == ["'=1+1"]
    layers = {name for name, _ in pyogrio.list_layers(target / "summary.gpkg")}
    assert layers == {"jobs", "lots_local", "lots_EPSG_2223"}
    with sqlite3.connect(target / "summary.gpkg") as opened:
        banks = [b for (b,) in opened.execute("SELECT bank FROM jobs ORDER BY job")]
    opened.close()
    assert banks == [job["figures"]["bank"] for job in told["jobs"]]
    info, table = pyogrio.read_arrow(target / "summary.gpkg", layer="lots_EPSG_2223")
    assert "2223" in info["crs"]
    shape = shapely.from_wkb(table["geom"][0].as_py())
    assert shape.equals(shapely.Polygon(RECTANGLE))
    assert (target / "grid" / "job" / "report.html").is_file()


def test_a_batch_asks_any_question_and_prints_80_columns(tmp_path: Path) -> None:
    folder = made_lots(tmp_path / "lots", 1)
    long = folder / ("a very long name of a lot " * 3).strip()
    long.mkdir()
    write_job(long, changed(small(), ("soil", "material"), "moondust"))
    done = run("batch", folder, "--ask", "check", "--workers", 1)
    assert done.exit_code == 1
    assert max(len(line) for line in done.stdout.splitlines()[:-1]) <= 80
    assert (folder / "out" / "check" / "lot 00" / "job" / "check.json").is_file()
    assert "check of 2 jobs: 1 done, 1 refused" in done.stdout


def test_every_command_that_answers_of_a_job_can_be_asked_of_many() -> None:
    group = typer.main.get_group(app)
    assert set(FIGURES) == set(group.commands) - {"batch", "demo"}


@pytest.mark.parametrize("question", ["plan", "statement"])
def test_a_plan_and_a_draft_of_a_statement_have_all_their_figures(
    tmp_path: Path, question: str
) -> None:
    job = bill_job(tmp_path)
    job.write_text(job.read_text() + "\n[machine]\nweight_tonnes = 8.0\n[haul]\ntruck = 14.0\n")
    run("batch", tmp_path, "--ask", question, "--no-pages", "--workers", 1)
    (row,) = rows_of(tmp_path / "out" / question)
    assert row["status"] == "done", row
    assert all(row[name] for name in FIGURES[question])
    assert not (tmp_path / "job-register").exists()


def test_a_draft_is_worked_out_again_once_the_register_has_changed(tmp_path: Path) -> None:
    job = bill_job(tmp_path)
    asked = ("batch", tmp_path, "--ask", "statement", "--no-pages", "--workers", 1)
    assert run(*asked).exit_code == 0
    assert run("statement", job, "--issue", "--json").exit_code == 0
    statuses = []
    for _ in range(2):
        run(*asked)
        (row,) = rows_of(tmp_path / "out" / "statement")
        statuses.append((row["status"], row["number"]))
    assert statuses == [("done", "2"), ("kept", "2")]


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("none.toml", "a = 1\n", "holds no job"),
        ("notes.txt", "[site]\n", "holds no job"),
    ],
)
def test_a_folder_without_jobs_is_said_to_be_one(
    tmp_path: Path, name: str, content: str, said: str
) -> None:
    (tmp_path / name).write_text(content)
    done = run("batch", tmp_path)
    assert done.exit_code == 1
    assert said in done.stderr
    assert [p.name for p in tmp_path.iterdir()] == [name]


def test_a_folder_that_is_not_there_is_named(tmp_path: Path) -> None:
    done = run("batch", tmp_path / "nowhere")
    assert done.exit_code == 1
    assert "nowhere: the folder of jobs is not there" in done.stderr


def test_an_unknown_question_is_wrong_use(tmp_path: Path) -> None:
    assert run("batch", tmp_path, "--ask", "weather").exit_code == 2


CLUSTER = """
import os, sys, warnings
from distributed import Client, LocalCluster
if __name__ == "__main__":
    count = int(sys.argv[1])
    with LocalCluster(
        n_workers=count, threads_per_worker=1, dashboard_address=None, silence_logs=50
    ) as cluster, Client(cluster) as client:
        pids = client.run(os.getpid) if count else {}
        print(cluster.scheduler_address, *pids.values(), flush=True)
        sys.stdin.readline()
"""


class Cluster:
    """A Dask cluster on this machine's loopback address, in processes of its own."""

    def __init__(self, folder: Path, workers: int) -> None:
        script = folder / "cluster.py"
        script.write_text(CLUSTER)
        self.process = subprocess.Popen(
            [sys.executable, str(script), str(workers)],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True,
        )  # fmt: skip
        assert self.process.stdout is not None
        self.address, *pids = self.process.stdout.readline().split()
        self.workers = [int(pid) for pid in pids]

    def stop(self) -> None:
        self.process.communicate("\n", timeout=60)

    def kill(self) -> None:
        with self.process:
            self.process.kill()


def test_a_cluster_does_all_jobs_though_a_worker_is_killed(tmp_path: Path) -> None:
    folder = made_lots(tmp_path / "lots", 8)
    cluster = Cluster(tmp_path, 2)
    try:
        batch = begun("batch", folder, "--no-pages", "--cluster", cluster.address)
        wait_for_records(folder, 2)
        os.kill(cluster.workers[0], signal.SIGKILL)
        _, said = batch.communicate(timeout=120)
        assert batch.returncode == 0, said
    finally:
        cluster.stop()
    rows = rows_of(folder / "out" / "volumes")
    assert {row["status"] for row in rows} <= {"done", "kept"}
    assert len({row["bank"] for row in rows}) == 8


def test_a_cluster_without_workers_is_said_to_have_none(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("terrain.job.cluster.ANSWER_WITHIN", 1.0)
    folder = made_lots(tmp_path / "lots", 1)
    cluster = Cluster(tmp_path, 0)
    try:
        done = run("batch", folder, "--cluster", cluster.address)
    finally:
        cluster.stop()
    assert done.exit_code == 1
    assert "has no workers" in done.stderr
    assert not (folder / "out").exists()


@pytest.mark.parametrize("address", ["tcp://127.0.0.1:9", "127.0.0.1:0", "what is this"])
def test_a_cluster_that_does_not_answer_is_said_not_to(
    tmp_path: Path, address: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("terrain.job.cluster.ANSWER_WITHIN", 1.0)
    folder = made_lots(tmp_path / "lots", 1)
    done = run("batch", folder, "--cluster", address)
    assert done.exit_code == 1
    assert address in done.stderr
    assert "Traceback" not in done.stderr
    assert not (folder / "out").exists()


def test_a_cluster_that_goes_away_midway_is_said_to_have(tmp_path: Path) -> None:
    folder = made_lots(tmp_path / "lots", 16)
    cluster = Cluster(tmp_path, 1)
    batch = begun("batch", folder, "--no-pages", "--cluster", cluster.address)
    wait_for_records(folder, 2)
    cluster.kill()
    _, said = batch.communicate(timeout=120)
    assert batch.returncode == 1
    assert b"start the batch again" in said
    assert b"Traceback" not in said
