"""Write a set of files into a folder: all of them, or none."""

import contextlib
import os
import shutil
import stat
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import TypeAlias
from uuid import uuid4

from terrain.base.errors import Fault, OutputError

Content: TypeAlias = bytes | Callable[[Path], None]
"""What a file holds, or what writes it at a path where none stands."""


def write_files(
    folder: Path | str, files: Mapping[str, Content], spare: Iterable[Path] = ()
) -> tuple[Path, ...]:
    """The paths written, `folder`/name for each of `files`.

    Everything is written and flushed to the disk in a hidden folder on the same file system, then
    moved into place. If anything fails the folder is left as it was: files that stood there
    before stand there still, and a folder that was not there is not made. The files `spare`, which
    the job was read from, are never written over.

    Raises:
        OutputError: the folder can't be made or a file can't be written; names the path.
    """
    target = Path(folder)
    _refuse_to_replace(spare, [target / name for name in files])
    try:
        workplace = _workplace(target)
        missing = [parent for parent in workplace.parents if not parent.exists()]
    except OSError as error:
        raise OutputError(_fault(target, error)) from error
    try:
        new = workplace / "new"
        new.mkdir(parents=True)
        for name, content in files.items():
            _write_flushed(new / name, content)
        if target.is_dir():
            _move_each(new, workplace, target, tuple(files))
        else:
            new.rename(target)
    except OSError as error:
        raise OutputError(_fault(target, error)) from error
    finally:
        shutil.rmtree(workplace, ignore_errors=True)
        _remove_empty(missing)
    _flush_folder(target)
    return tuple(target / name for name in files)


def _refuse_to_replace(spare: Iterable[Path], paths: list[Path]) -> None:
    read = {path.resolve() for path in spare}
    faults = [
        Fault(
            file=str(path),
            message="the job is read from this file, and a result would be written over it; "
            "name another folder with --out",
        )
        for path in paths
        if path.resolve() in read
    ]
    if faults:
        raise OutputError(*faults)


def _workplace(target: Path) -> Path:
    """A folder yet to be made: within the target if it is there, else beside it.

    Within, because a target the user may write to need not stand in a folder he may write to.
    """
    if target.exists() and not target.is_dir():
        raise OutputError(
            Fault(file=str(target), message="is a file; name a folder to write the results to")
        )
    name = f".spoilbank-{uuid4().hex}"
    return target / name if target.is_dir() else target.absolute().parent / name


def _remove_empty(folders: list[Path]) -> None:
    """Remove those of the folders that are there and hold nothing; innermost come first."""
    for folder in folders:
        if folder.is_dir() and not any(folder.iterdir()):
            folder.rmdir()


def _write_flushed(path: Path, content: Content) -> None:
    if isinstance(content, bytes):
        path.write_bytes(content)
    else:
        content(path)
    with path.open("r+b") as file:
        os.fsync(file.fileno())


def _move_each(new: Path, workplace: Path, target: Path, names: tuple[str, ...]) -> None:
    """Move each file into the target; if one can't be moved, put back what stood there."""
    old = workplace / "old"
    old.mkdir()
    done: list[str] = []
    try:
        for name in names:
            _keep_copy(target / name, old / name)
            os.replace(new / name, target / name)
            done.append(name)
    except BaseException:
        for name in done:
            if (old / name).exists():
                os.replace(old / name, target / name)
            else:
                (target / name).unlink()
        raise


def _keep_copy(path: Path, copy: Path) -> None:
    if path.exists():
        if not stat.S_ISREG(path.stat().st_mode):
            raise FileExistsError(f"{path.name} there is not a file and can't be replaced")
        shutil.copy2(path, copy)


def _flush_folder(folder: Path) -> None:
    """Flush the folder's own list of names; the files are whole in place even where it can't be."""
    if not hasattr(os, "O_DIRECTORY"):
        return
    with contextlib.suppress(OSError):  # not every file system can flush a folder
        handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _fault(target: Path, error: OSError) -> Fault:
    reason = error.strerror or str(error)
    return Fault(
        file=str(target),
        message=f"the results can't be written here ({reason}); nothing was changed. "
        "Free some space, ask for the right to write, or name another folder with --out",
    )
