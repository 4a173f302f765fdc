"""Opening a survey file: its bytes, its checksum and what it really is, whatever its name says."""

import difflib
import hashlib
import os
import stat
from pathlib import Path
from typing import Literal

from terrain.base.errors import Fault, SurveyError

Kind = Literal["text", "cloud", "landxml", "mesh"]
_KIND_OF_EXTENSION: dict[str, Kind] = {
    ".csv": "text",
    ".txt": "text",
    ".xyz": "text",
    ".las": "cloud",
    ".laz": "cloud",
    ".xml": "landxml",
    ".landxml": "landxml",
    ".ply": "mesh",
    ".obj": "mesh",
    ".glb": "mesh",
}
_CONTENTS = (
    (b"LASF", "a LAS or LAZ cloud"),
    (b"PK\x03\x04", "a zip archive or a spreadsheet workbook (save it as CSV)"),
    (b"\xd0\xcf\x11\xe0", "an old spreadsheet workbook (save it as CSV)"),
    (b"%PDF", "a PDF"),
    (b"\x1f\x8b", "a gzip archive (unpack it first)"),
    (b"ply\n", "a PLY mesh"),
    (b"ply\r", "a PLY mesh"),
    (b"glTF", "a glTF mesh"),
    (b"\x89PNG", "a picture"),
    (b"\xff\xd8\xff", "a picture"),
    (b"II*\x00", "a TIFF raster"),
    (b"MM\x00*", "a TIFF raster"),
)


def kind_of(name: str) -> Kind | None:
    """The kind of survey file that a name promises, None for an extension that isn't known."""
    return _KIND_OF_EXTENSION.get(Path(name).suffix.casefold())


def check_extension(name: str) -> Kind:
    """The kind of survey file that a name promises.

    Errors: `SurveyError` for an extension that isn't known.
    """
    kind = kind_of(name)
    if kind is None:
        extension = Path(name).suffix.casefold()
        raise SurveyError(
            Fault(
                file=name,
                message=f'"{extension or "no extension"}" is no kind of survey file known here; '
                f"known are {', '.join(_KIND_OF_EXTENSION)}.",
            )
        )
    return kind


def open_size(path: Path, name: str) -> int:
    """The size in bytes of a regular file that can be read.

    Errors: `SurveyError` if it is not there, is a folder, is no plain file or can't be opened.
    """
    try:
        info = path.stat()
        if stat.S_ISDIR(info.st_mode):
            raise SurveyError(Fault(file=name, message="is a folder; name a file in it."))
        if not stat.S_ISREG(info.st_mode):
            raise SurveyError(Fault(file=name, message="is no plain file."))
        with path.open("rb"):
            return info.st_size
    except (OSError, ValueError) as error:
        raise cannot_read(path, name, error) from error


def cannot_read(path: Path, name: str, error: OSError | ValueError) -> SurveyError:
    """The error for a file that the machine would not open, in plain words."""
    if isinstance(error, FileNotFoundError):
        message = f"there is no such file{_nearest_file(path)}."
    elif isinstance(error, PermissionError):
        message = "may not be read: permission denied."
    elif isinstance(error, OSError):
        message = f"can't be read: {(error.strerror or str(error)).lower()}."
    else:
        message = "is no name that a file can have."
    return SurveyError(Fault(file=name, message=message))


def _nearest_file(path: Path) -> str:
    try:
        there = sorted(os.listdir(path.parent))
    except OSError:
        return f"; the folder {path.parent} can't be opened either"
    near = difflib.get_close_matches(path.name, there, n=2, cutoff=0.6)
    return f"; its folder has {' and '.join(near)}" if near else ""


def read_bytes(path: Path, name: str) -> bytes:
    """The whole file.

    Errors: as `open_size`, and `SurveyError` for an empty file.
    """
    if open_size(path, name) == 0:
        raise SurveyError(Fault(file=name, line=1, message="the file is empty."))
    try:
        return path.read_bytes()
    except OSError as error:
        raise cannot_read(path, name, error) from error


def read_start(path: Path, name: str) -> bytes:
    """The first bytes of a file, enough for `true_content`.

    Errors: as `read_bytes`.
    """
    if open_size(path, name) == 0:
        raise SurveyError(Fault(file=name, line=1, message="the file is empty."))
    try:
        with path.open("rb") as stream:
            return stream.read(16)
    except OSError as error:
        raise cannot_read(path, name, error) from error


def stat_of(path: Path) -> tuple[int, int] | None:
    """Size and time of change of a file, to tell by whether it was written meanwhile."""
    try:
        told = path.stat()
    except (OSError, ValueError):
        return None  # what is wrong is told where it is opened
    return told.st_size, told.st_mtime_ns


def sha256_of_file(path: Path) -> str:
    """The checksum of a file, read in pieces."""
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def true_content(start: bytes) -> str | None:
    """What the first bytes of a file say it is, or None if they carry no known mark."""
    for mark, what in _CONTENTS:
        if start.startswith(mark):
            return what
    return None
