"""The careful reader of text: row by row, gathering every fault with its line and column."""

import csv
import re
from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from terrain.base.arrays import FloatArray, IntArray
from terrain.base.errors import MORE_FOLLOW, Fault, SurveyError
from terrain.survey.columns import TEXT_COLUMNS
from terrain.survey.layout import NUMBER, Layout
from terrain.survey.text import BLANKS, LINE_END, is_blank, is_comment, split

LARGEST = 1e9
LONGEST_POINT_NAME = 64
MOST_FAULTS = 1000


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Table:
    """The columns of one file: `numbers` by name, each (n,), and text columns as index and names.

    `comments` is the number of comment lines between rows and the line of the first.
    """

    numbers: dict[str, FloatArray]
    row: IntArray
    point: NDArray[np.bytes_] | None
    names: dict[str, tuple[IntArray, tuple[str, ...]]]
    comments: tuple[int, int] = (0, 0)


@dataclass(slots=True, kw_only=True)
class _Gathered:
    """What the rows have given so far; filled in row order."""

    numbers: dict[str, list[float]]
    ids: dict[str, list[int]]
    known: dict[str, dict[str, int]]
    point: list[bytes] = field(default_factory=list)
    row: list[int] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)


def number_columns(layout: Layout) -> list[tuple[int, str]]:
    """Positions and names of the columns that hold numbers."""
    return [(k, name) for k, name in enumerate(layout.columns) if name not in TEXT_COLUMNS]


def index_names(ids: IntArray, names: list[str]) -> tuple[IntArray, tuple[str, ...]]:
    """Ids into unsorted names as ids into sorted distinct ones; the empty name becomes -1."""
    used = np.unique(ids)
    kept = sorted({names[k].strip(BLANKS) for k in used} - {""})
    at = {name: k for k, name in enumerate(kept)}
    table = np.array([at.get(name.strip(BLANKS), -1) for name in names], dtype=np.int32)
    return table[ids] if len(names) else ids.astype(np.int32), tuple(kept)


def read_rows(layout: Layout, data: bytes) -> Table:
    """All rows of UTF-8 text.

    Errors: `SurveyError` with every fault found, up to a thousand.
    """
    text_columns = [name for name in ("code", "line") if name in layout.columns]
    got = _Gathered(
        numbers={name: [] for _, name in number_columns(layout)},
        ids={name: [] for name in text_columns},
        known={name: {} for name in text_columns},
    )
    comments, first_comment = 0, 0
    for number, line in _lines_of(layout, data):
        if is_comment(line):
            comments += 1
            first_comment = first_comment or number
        elif not is_blank(line):
            _take_row(layout, got, number, line)
            if len(got.faults) >= MOST_FAULTS:
                got.faults.append(Fault(file=layout.name, message=MORE_FOLLOW))
                break
    if got.faults:
        raise SurveyError(*got.faults)
    if not got.row:
        raise SurveyError(
            Fault(file=layout.name, line=layout.first_line, message="the file holds no shots.")
        )
    return Table(
        numbers={name: np.array(values) for name, values in got.numbers.items()},
        row=np.array(got.row, dtype=np.int32),
        point=np.array(got.point) if any(got.point) else None,
        names={
            name: index_names(np.array(got.ids[name], dtype=np.int64), list(got.known[name]))
            for name in text_columns
        },
        comments=(comments, first_comment),
    )


def _lines_of(layout: Layout, data: bytes) -> Iterator[tuple[int, str]]:
    text = data[layout.first_byte :].decode("utf-8")
    return enumerate(LINE_END.split(text), layout.first_line)


def _take_row(layout: Layout, got: _Gathered, number: int, line: str) -> None:
    fields, problem = _fields_of(layout, line)
    if problem:
        got.faults.append(Fault(file=layout.name, line=number, message=problem, text=line))
        return
    values = {}
    for k, name in number_columns(layout):
        value, wrong = read_number(fields[k], layout.decimal)
        if wrong:
            got.faults.append(_fault_at(layout, number, line, k, f"{name} {wrong}"))
        values[name] = value
    point = layout.position("point")
    if point is not None:
        named = fields[point].encode("utf-8")
        if len(named) > LONGEST_POINT_NAME:
            got.faults.append(
                _fault_at(layout, number, line, point, "this point name is too long.")
            )
        got.point.append(named[:LONGEST_POINT_NAME])
    for name, value in values.items():
        got.numbers[name].append(value)
    for name, ids in got.ids.items():
        known = got.known[name]
        ids.append(known.setdefault(fields[layout.columns.index(name)], len(known)))
    got.row.append(number)


def _fields_of(layout: Layout, line: str) -> tuple[list[str], str]:
    wanted = len(layout.columns)
    last_is_text = layout.columns[-1] in TEXT_COLUMNS
    try:
        fields = split(line, layout.delimiter, wanted if last_is_text else 0)
    except csv.Error:
        return [], "the quotes of this line do not close or stand in the middle of a field."
    if wanted < len(fields) <= wanted + layout.spare and not any(fields[wanted:]):
        del fields[wanted:]
    if not layout.delimiter and last_is_text:
        # Blanks can't write an empty field, so text may be missing at the end of the line.
        needed = max(k for k, name in enumerate(layout.columns) if name not in TEXT_COLUMNS) + 1
        if needed <= len(fields) < wanted:
            fields += [""] * (wanted - len(fields))
    if len(fields) == wanted:
        return fields, ""
    hint = ""
    if len(fields) > wanted:
        hint = _why_too_many(layout)
    return [], (
        f"{len(fields)} field{'s' if len(fields) != 1 else ''} where {wanted} are due "
        f"({', '.join(layout.columns)}).{hint}"
    )


def _why_too_many(layout: Layout) -> str:
    hint = " A decimal is written with a point, 50.4." if layout.delimiter == "," else ""
    return hint + (' Name columns that are not needed "skip".' if layout.named_by == "job" else "")


def read_number(text: str, decimal: str) -> tuple[float, str]:
    """A finite number and no words, or nought and what is wrong with the text."""
    plain = text
    if decimal == ",":
        if "." in text:
            return 0.0, f'"{text}" has a decimal point where other lines have a comma.'
        plain = text.replace(",", ".")
    if NUMBER.fullmatch(plain) is None:
        return 0.0, _what_is_wrong(text)
    value = float(plain)
    if not abs(value) <= LARGEST:
        return 0.0, f"{text} is out of range."
    return value, ""


def _what_is_wrong(text: str) -> str:
    if not text:
        return "is empty."
    shown = text if len(text) <= 40 else text[:37] + "..."
    if re.fullmatch(r"[+-]?(nan|inf|infinity)(\(.*\))?", text, re.I):
        return f'"{shown}" is not a finite number.'
    if re.fullmatch(r"[+-]?\d*,\d+", text):
        return f'"{shown}" has a decimal comma; write a point, or part all fields by semicolons.'
    return f'"{shown}" is not a number.'


def _fault_at(layout: Layout, number: int, line: str, column: int, message: str) -> Fault:
    return Fault(
        file=layout.name,
        line=number,
        column=_sign_of_field(line, layout.delimiter, column) + 1,
        message=message,
        text=line,
    )


def _sign_of_field(line: str, delimiter: str, column: int) -> int:
    if not delimiter:
        starts = [found.start() for found in re.finditer(r'"[^"]*"|\S+', line)]
        return starts[min(column, len(starts) - 1)]
    quoted, seen, at = False, 0, 0
    for at, sign in enumerate(line):
        if seen == column and sign not in BLANKS:
            return at
        if sign == '"':
            quoted = not quoted
        elif sign == delimiter and not quoted:
            seen += 1
    return min(at + 1, len(line))
