"""How a text file is laid out: its delimiter, decimal sign, header and columns."""

import csv
import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import islice
from typing import Literal

from terrain.base.errors import Fault, SurveyError
from terrain.base.units import LengthUnit
from terrain.survey import columns as column_names
from terrain.survey.text import HEAD_BYTES, LINE_END, is_blank, is_comment, printed, split

LONGEST_LINE = 20_000
HEAD_LINES = 50  # with something on them, from which the layout is told
CONTRADICTED = "its header and existing.columns disagree"
"""How the note begins that is more than a note: the ground may lie in the wrong place."""

NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?", re.ASCII)
_DECIMAL_COMMA = re.compile(r"[+-]?\d*,\d+", re.ASCII)
_NUMBER_LIKE = re.compile(r"[+-]?(?:[\d.,]+(?:[eE][+-]?\d+)?|nan|inf|infinity)", re.ASCII | re.I)

NamedBy = Literal["job", "header", "order"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What the job says of a text file; `usual` are the columns its extension promises, if any."""

    unit: LengthUnit
    columns: tuple[str, ...] | None = None
    usual: tuple[str, ...] | None = None
    elevation: Literal["needed", "optional"] = "needed"


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """How to read the rows: `delimiter` is one sign, or "" for runs of blanks.

    `first_line` is the number of the first row with shots, from 1, and `first_byte` where it
    begins; `columns` are canonical names by position. `spare` empty fields may follow the last
    one of a row, as they do in most rows.
    """

    name: str
    delimiter: str
    decimal: Literal[".", ","]
    columns: tuple[str, ...]
    named_by: NamedBy
    first_line: int
    first_byte: int
    spare: int = 0
    notes: tuple[str, ...] = ()

    def position(self, column: str) -> int | None:
        """The position of a column, or None when the file has none."""
        return self.columns.index(column) if column in self.columns else None


def find_layout(name: str, data: bytes, asked: Asked) -> Layout:
    """The layout of UTF-8 text from its first lines.

    Errors: `SurveyError` for a file without shots, without a delimiter, or whose columns can't be
    told.
    """
    head = _first_lines(name, data)
    if not head:
        raise SurveyError(Fault(file=name, line=1, message="the file holds no shots."))
    delimiter = _find_delimiter(name, head, asked)
    try:
        rows = [(number, split(line, delimiter), line) for number, line in head]
    except csv.Error:
        rows = [(number, line.split(delimiter or None), line) for number, line in head]
    number, fields, line = rows[0]
    try:
        columns, named_by, notes = _find_columns(fields, asked)
    except SurveyError as error:
        raise SurveyError(
            *(f if f.key else Fault(file=name, line=number, message=f.message, text=line)
              for f in error.faults)
        ) from error  # fmt: skip
    header = _is_header(fields)
    if header and len(head) == 1:
        raise SurveyError(Fault(file=name, line=number, message="a header but no shots follow it."))
    first_line = head[1][0] if header else number
    return Layout(
        name=name,
        delimiter=delimiter,
        decimal=_find_decimal(rows, delimiter),
        columns=columns,
        named_by=named_by,
        first_line=first_line,
        first_byte=_byte_of_line(data, first_line),
        spare=_find_spare([fields for _, fields, _ in rows[header:]], len(columns)),
        notes=tuple(f"{name}: {note}" for note in notes),
    )


def _first_lines(name: str, data: bytes) -> list[tuple[int, str]]:
    cut = data[:HEAD_BYTES]
    if len(data) > HEAD_BYTES:
        end = max(cut.rfind(b"\n"), cut.rfind(b"\r"))
        # A line that is longer than what was looked at is kept, to be found too long.
        cut = cut[: end + 1] if len(cut) - end <= LONGEST_LINE else cut
    lines = LINE_END.split(cut.decode("utf-8", errors="replace"))
    for number, line in enumerate(lines, 1):
        if len(line) > LONGEST_LINE:
            raise SurveyError(
                Fault(
                    file=name,
                    line=number,
                    message=f"a line of more than {LONGEST_LINE:,} characters: no list of shots "
                    "has one. Has the file lost its line ends?",
                    text=line[:60] + " ...",
                )
            )
    said = (
        (number, line)
        for number, line in enumerate(lines, 1)
        if not is_blank(line) and not is_comment(line)
    )
    return list(islice(said, HEAD_LINES))


def _byte_of_line(data: bytes, number: int) -> int:
    at = 0
    for found, end in enumerate(re.finditer(rb"\r\n|\n|\r", data[:HEAD_BYTES]), 2):
        if found > number:
            break
        at = end.end()
    return at


def _find_delimiter(name: str, head: list[tuple[int, str]], asked: Asked) -> str:
    fewest = 3 if asked.elevation == "needed" else 2
    best = (0, "")
    for delimiter in ("\t", ";", ",", ""):
        fitting = 0
        for _, line in head:
            try:
                fitting += len(split(line, delimiter)) >= fewest
            except csv.Error:
                fitting += line.count(delimiter or " ") + 1 >= fewest
        if fitting * 2 >= len(head):
            return delimiter
        best = max(best, (fitting, delimiter))
    if best[0]:
        return best[1]
    number, line = head[0]
    raise SurveyError(
        Fault(
            file=name,
            line=number,
            message=f"can't be split into {fewest} fields or more by comma, tab, semicolon or "
            "blanks; each line must have at least "
            + ("northing, easting and elevation." if fewest == 3 else "northing and easting."),
            text=line,
        )
    )


def _find_decimal(rows: Sequence[tuple[int, list[str], str]], delimiter: str) -> Literal[".", ","]:
    if delimiter == ",":
        return "."
    fields = [field for _, row, _ in rows for field in row]
    commas = sum(_DECIMAL_COMMA.fullmatch(f) is not None for f in fields)
    points = sum("." in f and NUMBER.fullmatch(f) is not None for f in fields)
    return "," if commas > points else "."


def _find_spare(rows: Sequence[Sequence[str]], wanted: int) -> int:
    """How many empty fields follow the last one that is wanted, in the middle row."""
    surplus = [
        len(row) - wanted if len(row) > wanted and not any(row[wanted:]) else 0 for row in rows
    ]
    return sorted(surplus)[len(surplus) // 2]


def _is_header(fields: Sequence[str]) -> bool:
    known = [column_names.recognised(field) for field in fields]
    if sum(k is not None and k not in column_names.TEXT_COLUMNS for k in known) >= 2:
        return True
    return not any(_NUMBER_LIKE.fullmatch(field) for field in fields)


def _find_columns(fields: list[str], asked: Asked) -> tuple[tuple[str, ...], NamedBy, list[str]]:
    header = _is_header(fields)
    if asked.columns is not None:
        columns = column_names.from_job(asked.columns)
        return columns, "job", _against_header(fields, columns) if header else []
    if header:
        columns = column_names.from_header(fields, asked.elevation)
        wrong = column_names.unit_conflicts(fields, columns, asked.unit)
        if wrong:
            raise SurveyError(*wrong)
        left = [f'"{t}"' for t, c in zip(fields, columns, strict=True) if c == "skip" and t]
        return columns, "header", [f"columns not read: {', '.join(left)}."] if left else []
    if asked.usual is not None and len(fields) >= len(asked.usual):
        columns = asked.usual + ("skip",) * (len(fields) - len(asked.usual))
        return columns, "order", [f"no header: read as {', '.join(asked.usual)}."]
    columns = column_names.usual_order(fields, [bool(_NUMBER_LIKE.fullmatch(f)) for f in fields])
    return columns, "order", [f"no header: read as {', '.join(columns)}."]


def _against_header(fields: Sequence[str], columns: Sequence[str]) -> list[str]:
    """What the job's columns contradict: each as the header has it and as the job has it."""
    told = []
    for text, column in zip(fields, columns, strict=False):
        header = column_names.recognised(text)
        if header in column_names.NEEDED and column != header:
            told.append(f'"{printed(text)}" as {column}')
    if not told:
        return []
    return [
        f"{CONTRADICTED}: the job reads its column {' and its column '.join(told)}. If the job is "
        "wrong, all the ground lies in the wrong place. Check one shot against the site plan; to "
        "go by the header, leave existing.columns out."
    ]
