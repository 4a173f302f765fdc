"""Notes of a level or laser, a rod and a tape: what was read on which point, and where it stands.

A table with a header, as a field book has it: a row with a backsight begins a set-up; a turning
point has a foresight of the set-up before and the backsight of the next in one row.
"""

import csv
import io
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from terrain.base.errors import MORE_FOLLOW, Fault, SurveyError
from terrain.survey.text import as_utf8, printed

Kind = Literal["backsight", "rod", "foresight"]

_COLUMNS: dict[str, str] = {
    "point": "point pt name station sta",
    "backsight": "backsight bs plus",
    "rod": "rod reading intermediate is intermediatesight rodreading",
    "foresight": "foresight fs minus",
    "distance": "distance dist sight sightlength",
    "line": "line wall along",
    "chainage": "stationing chainage at along distancealong stationalong",
    "offset": "offset off",
    "from": "from tapefrom corner from1 corner1",
    "tape": "tape tape1",
    "from2": "from2 corner2 and",
    "tape2": "tape2",
    "side": "side",
    "easting": "easting east e x",
    "northing": "northing north n y",
    "code": "code description desc remark remarks feature",
}
_KNOWN = {word: column for column, words in _COLUMNS.items() for word in words.split()}
NUMBERS = (
    "backsight", "rod", "foresight", "distance", "chainage", "offset", "tape", "tape2",
    "easting", "northing",
)  # fmt: skip
LENGTHS = ("distance", "tape", "tape2")
SIDES = ("left", "right")
MOST_FAULTS = 50
LARGEST = 1e9


@dataclass(frozen=True, slots=True, kw_only=True)
class Sight:
    """One reading of the rod, in the job's length unit: of which set-up (from 0), on what point.

    `distance` is how far the rod stood from the instrument, None where not noted.
    """

    setup: int
    kind: Kind
    point: str
    reading: float
    distance: float | None
    row: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """Where a point stands, in one of three ways; the numbers in the job's length unit.

    `grid`: easting and northing. `along`: line, distance along it, offset to the right of it.
    `tapes`: two known points, the tape from each, and the side of the line between them.
    """

    way: Literal["grid", "along", "tapes"]
    names: tuple[str, ...]
    numbers: tuple[float, ...]
    side: str
    row: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Notes:
    """All sights of a file in order, and where points stand, with their codes, by name."""

    file: str
    sights: tuple[Sight, ...]
    places: dict[str, Placed]
    codes: dict[str, str]


def read_notes(name: str, data: bytes) -> Notes:
    """The notes in a file's bytes.

    Errors: `SurveyError` with a fault for each row that can't be understood, or one on the header.
    """
    rows = list(_rows(name, as_utf8(name, data)))
    if not rows:
        raise SurveyError(Fault(file=name, message="holds no notes."))
    (line, header), *body = rows
    columns = _columns_of(name, line, header)
    reading = _Reading(name=name)
    for number, fields in body:
        if any(field.strip() for field in fields[len(columns) :]):
            reading.fault(
                number,
                f"has more fields than the {len(columns)} of the header: is a comma too many?",
            )
        elif any(field.strip() for field in fields):
            reading.take(number, dict(zip(columns, fields, strict=False)))
        if len(reading.faults) >= MOST_FAULTS:
            reading.faults.append(Fault(file=name, message=MORE_FOLLOW))
            break
    if reading.faults:
        raise SurveyError(*reading.faults)
    if not reading.sights:
        raise SurveyError(Fault(file=name, message="has a header but no readings."))
    return Notes(
        file=name, sights=tuple(reading.sights), places=reading.places, codes=reading.codes
    )


def _rows(name: str, data: bytes) -> Sequence[tuple[int, list[str]]]:
    text = data.decode("utf-8")
    delimiter = next((d for d in "\t;" if d in text.split("\n", 1)[0]), ",")
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    found = []
    try:
        for fields in reader:
            if fields and not fields[0].lstrip().startswith("#"):
                found.append((reader.line_num, fields))
    except csv.Error as error:
        message = f"is no table of text: {error}."
        raise SurveyError(Fault(file=name, line=reader.line_num, message=message)) from None
    return found


def _columns_of(name: str, line: int, header: list[str]) -> list[str]:
    columns = []
    for text in header:
        plain = re.sub(r"[\W_]+", "", re.sub(r"[(\[].*?[)\]]", "", text).casefold())
        columns.append(_KNOWN.get(plain, ""))
    twice = {c for c in columns if c and columns.count(c) > 1}
    missing = [c for c in ("point", "backsight") if c not in columns]
    if twice or missing:
        wrong = f"two columns are the {min(twice)}" if twice else f"no column is {missing[0]}"
        message = (
            f"{wrong}; notes want a header such as point,backsight,rod,foresight,line,stationing,"
            "offset,code (or easting,northing; or from,tape,from2,tape2,side for two tapes)."
        )
        text = printed(",".join(header))
        raise SurveyError(Fault(file=name, line=line, text=text, message=message))
    return columns


class _Reading:
    """Rows taken one by one: what they gave and what was wrong with them."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.setup = -1
        self.sights: list[Sight] = []
        self.places: dict[str, Placed] = {}
        self.codes: dict[str, str] = {}
        self.faults: list[Fault] = []

    def fault(self, row: int, message: str) -> None:
        self.faults.append(Fault(file=self.name, line=row, message=message))

    def take(self, row: int, fields: dict[str, str]) -> None:
        texts = {column: text.strip() for column, text in fields.items() if column}
        numbers: dict[str, float] = {}
        for column in NUMBERS:
            if texts.get(column):
                try:
                    number = float(texts[column])
                except ValueError:
                    number = float("nan")
                if not abs(number) <= LARGEST:
                    self.fault(row, f'{column} "{printed(texts[column], 20)}" is not a number.')
                    return
                if column in LENGTHS and number <= 0.0:
                    self.fault(row, f"{column} {number:g} is no length: it has to be above 0.")
                    return
                numbers[column] = number
        point = texts.get("point", "")
        if not point:
            self.fault(row, "the row names no point.")
            return
        if not any(text for column, text in texts.items() if column != "point"):
            self.fault(row, f"{printed(point, 30)} has neither a reading nor a place.")
            return
        self._take_sights(row, point, numbers)
        self._take_place(row, point, texts, numbers)
        if texts.get("code"):
            self.codes[point] = texts["code"]

    def _take_sights(self, row: int, point: str, numbers: dict[str, float]) -> None:
        seen = [kind for kind in ("rod", "foresight") if kind in numbers]
        if len(seen) == 2:
            self.fault(row, "a rod reading and a foresight in one row; give each a row of its own.")
        if seen and self.setup < 0:
            self.fault(row, "a reading before any backsight: on what does the instrument stand?")
            return
        order: tuple[Kind, ...] = ("foresight", "rod", "backsight")
        for kind in order:  # what ends the set-up before stands before what begins the next
            if kind not in numbers:
                continue
            if kind == "backsight":
                self.setup += 1
            self.sights.append(
                Sight(
                    setup=self.setup,
                    kind=kind,
                    point=point,
                    reading=numbers[kind],
                    distance=numbers.get("distance"),
                    row=row,
                )
            )

    def _take_place(
        self, row: int, point: str, texts: dict[str, str], numbers: dict[str, float]
    ) -> None:
        ways = {
            "grid": ("easting", "northing"),
            "along": ("line", "chainage", "offset"),
            "tapes": ("from", "tape", "from2", "tape2"),
        }
        given = {way for way, keys in ways.items() if any(texts.get(key) for key in keys)}
        if not given:
            return
        if len(given) > 1:
            self.fault(row, f"{printed(point, 30)} is placed in two ways; keep one.")
            return
        way: Literal["grid", "along", "tapes"] = "grid"
        way = "along" if "along" in given else "tapes" if "tapes" in given else "grid"
        missing = [key for key in ways[way] if not texts.get(key) and key != "offset"]
        if missing:
            wanted = ", ".join("stationing" if k == "chainage" else k for k in missing)
            self.fault(row, f"{printed(point, 30)} has no {wanted} to place it by.")
            return
        side = texts.get("side", "").casefold()
        if way == "tapes" and side not in SIDES:
            said = f'"{printed(side, 20)}"' if side else "nothing"
            self.fault(row, f"two tapes meet on two sides: side is left or right, not {said}.")
            return
        place = Placed(
            way=way,
            names=tuple(texts[key] for key in ways[way] if key not in NUMBERS),
            numbers=tuple(numbers.get(key, 0.0) for key in ways[way] if key in NUMBERS),
            side=side,
            row=row,
        )
        before = self.places.setdefault(point, place)
        if (before.way, before.names, before.numbers, before.side) != (
            place.way, place.names, place.numbers, place.side,
        ):  # fmt: skip
            self.fault(row, f"{printed(point, 30)} stands elsewhere in line {before.row}.")
