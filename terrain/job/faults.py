"""What pydantic found wrong, said in the words of the job file with key path and line."""

import difflib
import re
from collections.abc import Iterator
from types import UnionType
from typing import Annotated, Any, Union, get_args, get_origin

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from terrain.base.errors import Fault
from terrain.job.kinds import printable, shown
from terrain.job.lot_tables import CORNERS_TAG, FILE_TAG
from terrain.job.places import KeyPath, Place, nearest_place
from terrain.job.schema import TABLES, Table

_BARE = re.compile(r"[A-Za-z0-9_-]+")
_NO_KEYS = ("[key]", CORNERS_TAG, FILE_TAG)
"""What pydantic puts into the place of an error that is no key of the job file."""

_WANTED = {
    "float_type": "a number is wanted",
    "int_type": "a whole number is wanted",
    "bool_type": "true or false is wanted",
    "bool_parsing": "true or false is wanted",
    "finite_number": "a finite number is wanted",
    "string_type": "text in quotes is wanted",
    "list_type": "a list in [ ] is wanted",
    "dict_type": "a table is wanted",
    "model_type": "a table is wanted",
    "model_attributes_type": "a table is wanted",
    "greater_than": "a number over {gt} is wanted",
    "greater_than_equal": "a number of at least {ge} is wanted",
    "less_than": "a number under {lt} is wanted",
    "less_than_equal": "a number of at most {le} is wanted",
    "literal_error": "one of {expected} is wanted",
    "too_short": "at least {min_length} entries are wanted",
    "string_too_long": "at most {max_length} characters are wanted",
}


def key_text(path: KeyPath) -> str:
    """A key path as messages show it: `dig.walls.back.side`, `dig.pits[1].floor` (from 1)."""
    text = ""
    for part in path:
        if isinstance(part, int):
            text += f"[{part + 1}]"
            continue
        part = part if _BARE.fullmatch(part) else f'"{printable(part)}"'
        text += f".{part}" if text else part
    return text


def fault_at(
    path: KeyPath, message: str, *, file: str, found: dict[KeyPath, Place], text: str | None = None
) -> Fault:
    """A fault on a key: with its line in the file, and a caret if the line is given."""
    place = nearest_place(found, path)
    return Fault(
        message=message,
        file=file,
        line=place[0] if place else None,
        column=place[1] if place and text is not None else None,
        key=key_text(path),
        text=text,
    )


def nearest(name: str, known: list[str]) -> str | None:
    """The known name most like this one, if any is like it."""
    folded = {k.casefold(): k for k in known}
    close = difflib.get_close_matches(name.casefold(), list(folded), n=1, cutoff=0.5)
    return folded[close[0]] if close else None


def keys_of(table: type[Table]) -> dict[str, Any]:
    """Every key of a table, as a job file spells it, with the type of its value."""
    return {f.alias or name: f.annotation for name, f in table.model_fields.items()}


def table_at(root: Any, path: KeyPath) -> type[Table] | None:
    """The table that a path below a top-level table, or a list of them, leads to."""
    current: Any = root
    for part in path:
        if get_origin(current) is None and isinstance(current, type) and issubclass(current, Table):
            current = keys_of(current).get(str(part))
        else:
            current = _entry_type(current)
        current = _without_none(current)
    is_table = isinstance(current, type) and issubclass(current, Table)
    return current if is_table else None


def _without_none(kind: Any) -> Any:
    if get_origin(kind) in (UnionType, Union):
        return next((k for k in get_args(kind) if k is not type(None)), None)
    return kind


def _entry_type(kind: Any) -> Any:
    while get_origin(kind) is Annotated:
        kind = get_args(kind)[0]
    arguments = get_args(kind)
    return arguments[-1] if arguments else None


def _homes(key: str) -> Iterator[str]:
    for name, kind in TABLES.items():
        listed = table_at(kind, (0,))
        if key in keys_of(listed or kind):
            yield f"[[{name}]]" if listed else f"[{name}]"


def unknown_key(key: str, known: list[str]) -> str:
    """What to say of a key that its table does not have."""
    close = nearest(key, known)
    if close is not None:
        return f'unknown key; did you mean "{close}"?'
    homes = " or ".join(_homes(key))
    if homes:
        return f"unknown key here; it belongs in {homes}"
    return "unknown key; the keys known here are " + ", ".join(known)


def _message(error: ErrorDetails, root: Any) -> str:
    kind = error["type"]
    if kind == "missing":
        return "this key is required"
    if kind == "extra_forbidden":
        path = error["loc"]
        table = table_at(root, path[:-1])
        return unknown_key(str(path[-1]), list(keys_of(table)) if table else [])
    wanted = _WANTED.get(kind)
    if wanted is not None:
        context = {k: _plain(v) for k, v in error.get("ctx", {}).items()}
        wanted = wanted.format(**context)
    else:
        wanted = error["msg"]
    return f"{wanted}, not {shown(error['input'])}"


def _plain(value: object) -> str:
    return f"{value:g}" if isinstance(value, float) else str(value).replace("'", '"')


def validation_faults(
    error: ValidationError, name: str, *, file: str, found: dict[KeyPath, Place]
) -> list[Fault]:
    """One fault for each thing pydantic found wrong in the top-level table `name`."""
    faults = []
    for detail in error.errors(include_url=False):
        path: KeyPath = (name, *(p for p in detail["loc"] if p not in _NO_KEYS))
        faults.append(fault_at(path, _message(detail, TABLES[name]), file=file, found=found))
    return faults
