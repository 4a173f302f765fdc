"""The text of a job file and the tables in it, before anything is asked of them."""

import codecs
import re
import tomllib
from pathlib import Path
from typing import Any, Final

from terrain.base.errors import Fault, JobError
from terrain.job.schema import REQUIRED_TABLES

LARGEST_FILE: Final = 10_000_000
_WHERE = re.compile(r"\s*\(at (?:line (\d+), column (\d+)|end of document)\)$")
_DECIMAL_COMMA = re.compile(r"=\s*([+-]?\d+),(\d+)\s*(?:#.*)?$")


def text_of(path: Path, name: str) -> str:
    """The text of a job file.

    Errors: `JobError` for what is no text file of a job's size.
    """
    try:
        if path.is_dir():
            raise JobError(Fault(file=name, message="is a folder; name the job file in it"))
        if path.exists() and not path.is_file():
            raise JobError(Fault(file=name, message="is not a file but a pipe or a device"))
        with path.open("rb") as file:
            raw = file.read(LARGEST_FILE + 1)
    except FileNotFoundError:
        raise JobError(Fault(file=name, message="there is no such job file")) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise JobError(Fault(file=name, message=f"can't be read: {reason}")) from None
    if len(raw) > LARGEST_FILE:
        raise JobError(Fault(file=name, message="is over 10 MB: that is no job file"))
    return _decoded(raw, name)


def _decoded(raw: bytes, name: str) -> str:
    if raw.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        raise JobError(Fault(file=name, message="is saved as UTF-16; save it as UTF-8"))
    raw = raw.removeprefix(codecs.BOM_UTF8)
    if b"\0" in raw:
        raise JobError(Fault(file=name, message="is not a text file; a job is a TOML text"))
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError as error:
        before = raw[: error.start]
        line = before.count(b"\n") + 1
        column = len(before.rpartition(b"\n")[2].decode("utf-8")) + 1
        message = f"byte 0x{raw[error.start]:02x} is not UTF-8; save the file as UTF-8"
        raise JobError(Fault(file=name, line=line, column=column, message=message)) from None
    if not text.strip():
        raise JobError(
            Fault(
                file=name,
                message="is empty; a job has at least the tables "
                + ", ".join(f"[{t}]" for t in REQUIRED_TABLES),
            )
        )
    return text.replace("\r\n", "\n")


def _comma_hint(line: str) -> str:
    found = _DECIMAL_COMMA.search(line)
    return f"; a decimal is written with a point: {found[1]}.{found[2]}" if found else ""


def parsed(text: str, name: str) -> dict[str, Any]:
    """The tables of a TOML text.

    Errors: `JobError` with the line where it is none.
    """
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        said = str(error)
        where = _WHERE.search(said)
        lines = text.split("\n")
        line = column = None
        if where is not None:
            line = int(where[1]) if where[1] else len(lines)
            column = int(where[2]) if where[2] else len(lines[-1]) + 1
        raise JobError(
            Fault(
                file=name,
                line=line,
                column=column,
                text=lines[line - 1] if line else None,
                message="not TOML: "
                + _WHERE.sub("", said)[:200]
                + (_comma_hint(lines[line - 1]) if line else ""),
            )
        ) from None
    except ValueError as error:  # a whole number of thousands of digits
        raise JobError(Fault(file=name, message=f"not TOML: {error}")) from None
    except RecursionError:
        raise JobError(Fault(file=name, message="brackets are nested too deeply")) from None
