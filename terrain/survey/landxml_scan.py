"""The pass over a LandXML file: events in, one surface's points and faces out, with their lines.

Nothing outside the file is ever opened: a document type, and with it every entity and every
outside address, is refused at its first character.
"""

import re
from dataclasses import dataclass, field
from itertools import chain
from pathlib import Path
from typing import Any
from xml.parsers import expat

import numpy as np

from terrain.base.arrays import FloatArray, IntArray
from terrain.base.errors import MORE_FOLLOW, Fault, SurveyError
from terrain.survey.files import cannot_read
from terrain.survey.rows import LARGEST
from terrain.survey.text import printed

VERSIONS = ("1.0", "1.1", "1.2")
_NAMESPACE = re.compile(r"https?://www\.landxml\.org/schema/LandXML-([0-9.]+)")
_PIECE = 1 << 20
_BLOCK = 1 << 12
_DEEPEST = 200
MOST_FAULTS = 1000
_DEFINITION = ["LandXML", "Surfaces", "Surface", "Definition"]


@dataclass(slots=True, kw_only=True)
class Rows:
    """The points or the faces of the surface: numbers (n, 3), lines, and an attribute of each."""

    numbers: list[Any] = field(default_factory=list)
    line: list[IntArray] = field(default_factory=list)
    marks: list[str | None] = field(default_factory=list)

    def __len__(self) -> int:
        return len(self.marks)


@dataclass(slots=True, kw_only=True)
class Found:
    """A surface that is told of in the file."""

    name: str
    line: int
    kind: str = ""
    state: str = ""


@dataclass(slots=True, kw_only=True)
class Scanned:
    """What one pass found: the units and CRS as stated, all surfaces, the rows of the one asked."""

    units: list[tuple[str, dict[str, str], int]] = field(default_factory=list)
    crs: dict[str, str] = field(default_factory=dict)
    surfaces: list[Found] = field(default_factory=list)
    points: Rows = field(default_factory=Rows)
    faces: Rows = field(default_factory=Rows)
    faults: list[Fault] = field(default_factory=list)
    names: dict[str, int] = field(default_factory=dict)


def scan(path: Path, name: str, surface: str | None) -> Scanned:
    """All that the file says of its units and surfaces, and the rows of the surface asked for.

    With `surface` None the rows are those of the first.

    Errors: `SurveyError` for what is no well-formed LandXML of a known version.
    """
    scanner = _Scanner(name, surface)
    try:
        with path.open("rb") as stream:
            while piece := stream.read(_PIECE):
                scanner.parser.Parse(piece, False)
            scanner.parser.Parse(b"", True)
    except expat.ExpatError as error:
        raise SurveyError(
            Fault(
                file=name,
                line=error.lineno,
                column=error.offset + 1,
                message=f"is no well-formed XML: {expat.errors.messages[error.code]}.",
            )
        ) from error
    except OSError as error:
        raise cannot_read(path, name, error) from error
    except (LookupError, ValueError) as error:
        if scanner.path:
            raise
        # An encoding that Python does not know shows before the first element.
        raise SurveyError(
            Fault(file=name, line=1, message=f"its letters can't be read: {str(error)[:200]}.")
        ) from error
    return scanner.found


class _Scanner:
    """The handlers of one pass. `path` are the open elements by local name, from the root."""

    def __init__(self, name: str, surface: str | None) -> None:
        self.name = name
        self.surface = surface
        self.found = Scanned()
        self.path: list[str] = []
        self.prefix = ""
        self.texts: list[str] = []
        self.ends: list[int] = []
        self.lines: list[int] = []
        self.marks: list[str | None] = []
        self.item, self.mark, self.rows = "", "", self.found.points
        self.parser = expat.ParserCreate(namespace_separator="}")
        self.parser.buffer_text = True
        self.parser.StartDoctypeDeclHandler = self.refuse_doctype
        self.parser.StartElementHandler = self.start
        self.parser.EndElementHandler = self.end

    def fault(self, message: str) -> SurveyError:
        return SurveyError(
            Fault(file=self.name, line=self.parser.CurrentLineNumber, message=message)
        )

    def refuse_doctype(self, *_: object) -> None:
        raise self.fault(
            "declares a document type (DOCTYPE), which LandXML has no use for and which can hide "
            "entities; take it out."
        )

    def start(self, name: str, attributes: dict[str, str]) -> None:
        """An element outside points and faces."""
        if not self.path:
            self.prefix = self.checked_root(name, attributes)
        local = name[len(self.prefix) :] if name.startswith(self.prefix) else name
        self.path.append(local)
        if len(self.path) > _DEEPEST:
            raise self.fault(f"its elements are nested over {_DEEPEST} deep: that is no LandXML.")
        line = self.parser.CurrentLineNumber
        match self.path[1:]:
            case ["Units", system]:
                self.found.units.append((system, attributes, line))
            case ["CoordinateSystem"]:
                self.found.crs = attributes
            case ["Surfaces", "Surface"]:
                self.found.surfaces.append(
                    Found(
                        name=attributes.get("name", ""),
                        line=line,
                        state=attributes.get("state", ""),
                    )
                )
            case ["Surfaces", "Surface", "Definition"]:
                self.found.surfaces[-1].kind = attributes.get("surfType", "TIN")
            case ["Surfaces", "Surface", "Definition", "Pnts"] if self.is_asked():
                self.collect("P", "id", self.found.points)
            case ["Surfaces", "Surface", "Definition", "Faces"] if self.is_asked():
                self.collect("F", "i", self.found.faces)

    def checked_root(self, name: str, attributes: dict[str, str]) -> str:
        """The prefix that LandXML's own elements have in this file."""
        uri, _, local = name.rpartition("}")
        if local != "LandXML":
            raise self.fault(f"its root element is <{printed(local)}>: this is no LandXML.")
        match = _NAMESPACE.fullmatch(uri)
        version = match[1] if match else attributes.get("version", "") if not uri else printed(uri)
        if version not in VERSIONS:
            told = printed(version) or "no version"
            raise self.fault(f"is LandXML of {told}; read are versions {', '.join(VERSIONS)}.")
        return f"{uri}}}" if uri else ""

    def end(self, _: str) -> None:
        self.path.pop()

    def is_asked(self) -> bool:
        surfaces = self.found.surfaces
        if self.surface is None:
            return len(surfaces) == 1
        return surfaces[-1].name == self.surface

    def collect(self, item: str, mark: str, rows: Rows) -> None:
        """Keep the text of every `item` until the element now open ends."""
        self.item, self.mark, self.rows = self.prefix + item, mark, rows
        self.texts, self.ends, self.lines, self.marks = [], [], [], []
        self.parser.StartElementHandler = self.start_row
        self.parser.EndElementHandler = self.end_row
        self.parser.CharacterDataHandler = self.texts.append

    def start_row(self, name: str, attributes: dict[str, str]) -> None:
        if name == self.item:
            self.lines.append(self.parser.CurrentLineNumber)
            self.marks.append(attributes.get(self.mark))
        else:
            self.start(name, attributes)

    def end_row(self, name: str) -> None:
        if name == self.item:
            self.ends.append(len(self.texts))
            if len(self.ends) >= _BLOCK:
                self.settle()
            return
        self.end(name)
        if len(self.path) == len(_DEFINITION):
            self.settle()
            self.parser.StartElementHandler = self.start
            self.parser.EndElementHandler = self.end
            self.parser.CharacterDataHandler = None

    def settle(self) -> None:
        """Turn the rows gathered so far into numbers."""
        begins = [0, *self.ends][:-1]
        rows = ["".join(self.texts[a:b]).split() for a, b in zip(begins, self.ends, strict=True)]
        if len(rows) != len(self.lines):
            raise self.fault("has a point or face inside another.")
        is_point = self.rows is self.found.points
        numbers = _coordinates(rows) if is_point else _references(rows, self.found.names)
        if numbers is None:
            say = _wrong_point if is_point else _wrong_face
            told = ((line, say(row)) for line, row in zip(self.lines, rows, strict=True))
            self.found.faults += [
                Fault(file=self.name, line=line, message=m) for line, m in told if m is not None
            ]
            if len(self.found.faults) > MOST_FAULTS:
                raise SurveyError(*self.found.faults, Fault(file=self.name, message=MORE_FOLLOW))
        else:
            self.rows.numbers.append(numbers)
        self.rows.line.append(np.array(self.lines, dtype=np.int32))
        self.rows.marks += self.marks
        for gathered in (self.texts, self.ends, self.lines, self.marks):
            gathered.clear()


def _coordinates(rows: list[list[str]]) -> FloatArray | None:
    """Northing, easting, elevation (n, 3), or None if any row is not that."""
    if any(len(row) != 3 for row in rows):
        return None
    words = list(chain.from_iterable(rows))
    try:
        numbers = np.array(list(map(float, words)), dtype=np.float64).reshape(-1, 3)
    except ValueError:
        return None
    sound = not len(numbers) or np.abs(numbers).max() <= LARGEST  # false for NaN
    return numbers if sound and "_" not in "".join(words) else None


def _references(rows: list[list[str]], names: dict[str, int]) -> IntArray | None:
    """Point ids (n, 3) as numbers, or None if any row is not three of them."""
    if any(len(row) != 3 for row in rows):
        return None
    return id_numbers(list(chain.from_iterable(rows)), names).reshape(-1, 3)


def id_numbers(words: list[str], names: dict[str, int]) -> IntArray:
    """A whole number for each id: itself, or for one that is none a negative one kept in `names`.

    The schema has whole numbers, but some writers have names.
    """
    try:
        found = np.array(list(map(int, words)), dtype=np.int64)
        if not len(found) or found.min() >= 0:
            return found
    except (ValueError, OverflowError):
        pass
    return np.array([_id_number(word, names) for word in words], dtype=np.int64)


def _id_number(word: str, names: dict[str, int]) -> int:
    if word.isascii() and word.isdigit() and len(word) < 18:
        return int(word)
    return names.setdefault(word, -1 - len(names))


def _wrong_point(row: list[str]) -> str | None:
    if len(row) != 3:
        return f"a point has {len(row)} numbers where northing, easting and elevation are due."
    for word, what in zip(row, ("northing", "easting", "elevation"), strict=True):
        try:
            value = float(word)
        except ValueError:
            return f'the {what} "{printed(word)}" of a point is not a number.'
        if not abs(value) <= LARGEST or "_" in word:
            return f'the {what} "{printed(word)}" of a point is not a number that can be.'
    return None


def _wrong_face(row: list[str]) -> str | None:
    if len(row) != 3:
        return f"a face has {len(row)} corners; only faces of three points are read."
    return None
