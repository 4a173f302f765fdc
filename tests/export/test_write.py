"""Outputs appear only when complete: whatever fails, the folder is as it was."""

import errno
import os
import resource
import shutil
from pathlib import Path

import pytest

from terrain.base.errors import OutputError
from terrain.export.write import write_files

FILES = {"ledger.csv": b"row\r\n", "ledger.json": b"{}\n", "report.html": b"<p>" * 5000}


def tree(folder):
    """Everything below the folder, hidden or not, with what it holds."""
    return {
        str(p.relative_to(folder)): p.read_bytes() if p.is_file() else None
        for p in sorted(folder.rglob("*"))
    }


def fail_at(monkeypatch, owner, name, nth):
    """Make the nth call of a function fail as a full disk does."""
    real, calls = getattr(owner, name), []

    def failing(*args, **kwargs):
        calls.append(args)
        if len(calls) == nth:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        return real(*args, **kwargs)

    monkeypatch.setattr(owner, name, failing)
    return calls


STEPS = [
    *((os, "fsync", n) for n in (1, 2, 3)),
    *((os, "replace", n) for n in (1, 2, 3)),
    *((Path, "open", n) for n in (1, 2, 3)),
    *((Path, "mkdir", n) for n in (1, 2)),
    (shutil, "copy2", 1),
]


def test_all_files_are_written_and_nothing_else_is_left(tmp_path):
    paths = write_files(tmp_path / "deep" / "out", FILES)
    assert tree(tmp_path / "deep") == {"out": None} | {f"out/{n}": c for n, c in FILES.items()}
    assert paths == tuple(tmp_path / "deep" / "out" / name for name in FILES)


def test_files_of_an_earlier_run_are_replaced_and_others_left(tmp_path):
    (tmp_path / "ledger.json").write_bytes(b"old")
    (tmp_path / "mine.txt").write_bytes(b"mine")
    write_files(tmp_path, FILES)
    assert tree(tmp_path) == FILES | {"mine.txt": b"mine"}


@pytest.mark.parametrize(("owner", "name", "nth"), STEPS)
def test_a_failure_at_any_step_leaves_an_earlier_run_whole(tmp_path, monkeypatch, owner, name, nth):
    out = tmp_path / "out"
    out.mkdir()
    (out / "ledger.csv").write_bytes(b"old csv")
    (out / "report.html").write_bytes(b"old page")
    before = tree(tmp_path)
    calls = fail_at(monkeypatch, owner, name, nth)
    with pytest.raises(OutputError, match="out"):
        write_files(out, FILES)
    assert len(calls) >= nth
    monkeypatch.undo()
    assert tree(tmp_path) == before


@pytest.mark.parametrize(
    ("owner", "name", "nth"),
    [(os, "fsync", 2), (Path, "open", 3), (Path, "rename", 1), (Path, "mkdir", 1)],
)
def test_a_failure_leaves_no_folder_that_was_not_there(tmp_path, monkeypatch, owner, name, nth):
    fail_at(monkeypatch, owner, name, nth)
    with pytest.raises(OutputError):
        write_files(tmp_path / "deep" / "out", FILES)
    monkeypatch.undo()
    assert tree(tmp_path) == {}


def test_a_real_limit_on_file_size_leaves_nothing(tmp_path):
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (8192, hard))
    try:
        with pytest.raises(OutputError, match="out"):
            write_files(tmp_path / "out", FILES)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    assert tree(tmp_path) == {}


def test_a_file_where_the_folder_should_be_is_named_and_kept(tmp_path):
    out = tmp_path / "out put"
    out.write_bytes(b"a file")
    with pytest.raises(OutputError, match=r"out put.*is a file"):
        write_files(out, FILES)
    assert tree(tmp_path) == {"out put": b"a file"}


def test_a_file_among_the_parents_is_named(tmp_path):
    (tmp_path / "a").write_bytes(b"a file")
    with pytest.raises(OutputError, match=r"Not a directory"):
        write_files(tmp_path / "a" / "out", FILES)
    assert tree(tmp_path) == {"a": b"a file"}


def test_a_folder_where_a_file_should_be_is_kept_and_nothing_changed(tmp_path):
    (tmp_path / "report.html").mkdir()
    (tmp_path / "ledger.csv").write_bytes(b"old")
    before = tree(tmp_path)
    with pytest.raises(OutputError, match=r"report\.html"):
        write_files(tmp_path, FILES)
    assert tree(tmp_path) == before


def test_two_writers_of_one_folder_do_not_meet(tmp_path):
    first = write_files(tmp_path / "out", FILES)
    assert write_files(tmp_path / "out", FILES) == first
    assert tree(tmp_path / "out") == FILES


def test_a_file_may_be_written_by_its_own_writer(tmp_path):
    whole = {"a.txt": b"first", "b.xml": lambda path: path.write_text("second")}
    assert write_files(tmp_path / "out", whole) == (tmp_path / "out/a.txt", tmp_path / "out/b.xml")
    assert tree(tmp_path / "out") == {"a.txt": b"first", "b.xml": b"second"}


@pytest.mark.parametrize("folder_is", ["there", "missing"])
def test_a_writer_that_fails_halfway_leaves_everything_as_it_was(tmp_path, folder_is):
    def half(path):
        path.write_bytes(b"half")
        raise OutputError("no more room")

    out = tmp_path / "out"
    if folder_is == "there":
        out.mkdir()
        (out / "ledger.csv").write_bytes(b"old")
    before = tree(tmp_path)
    with pytest.raises(OutputError, match="no more room"):
        write_files(out, FILES | {"layers.gpkg": half})
    assert tree(tmp_path) == before


@pytest.mark.parametrize("spelled", ["ledger.json", "../{0}/ledger.json"])
def test_what_the_job_was_read_from_is_never_written_over(tmp_path, spelled):
    (tmp_path / "ledger.json").write_bytes(b"mine")
    read = tmp_path / spelled.format(tmp_path.name)
    with pytest.raises(OutputError, match="the job is read from this file"):
        write_files(tmp_path, FILES, [read, tmp_path / "else.csv"])
    assert tree(tmp_path) == {"ledger.json": b"mine"}
