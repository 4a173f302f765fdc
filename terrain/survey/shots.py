"""The shots of a survey: where each was measured and where it was written."""

import difflib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from terrain.base.arrays import FloatArray, IntArray
from terrain.base.errors import Fault, SurveyError

NONE = -1


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Absorbed:
    """Shots that were merged into another: `into` is the index of the shot that stands for each.

    They keep file, row, code and line, so that every breakline still finds its corners.
    """

    into: IntArray
    file: NDArray[np.int16]
    row: IntArray
    code: IntArray
    line: IntArray

    @classmethod
    def nothing(cls) -> "Absorbed":
        """No shot was merged."""
        none = np.zeros(0, dtype=np.int32)
        return cls(into=none, file=none.astype(np.int16), row=none, code=none, line=none)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shots:
    """Shots in the job's length unit, each array (n,), in the order of the files.

    Args:
        easting, northing, elevation: float64, finite.
        file: index into `files`, the names as the user wrote them.
        row: line number in that file, or the number of the point in a cloud; both from 1.
        code: index into `code_names` (sorted), -1 without a code.
        line: index into `line_names` (sorted), -1 without a line.
        point: point names as UTF-8 bytes, or None when no file names its points.
        accuracy: one standard deviation of each elevation, NaN where its file does not say; None
            when no file says.
        absorbed: shots that were merged away.
        notes: plain sentences on what was merged, left out or assumed.
    """

    easting: FloatArray
    northing: FloatArray
    elevation: FloatArray
    file: NDArray[np.int16]
    row: IntArray
    code: IntArray
    line: IntArray
    files: tuple[str, ...]
    code_names: tuple[str, ...] = ()
    line_names: tuple[str, ...] = ()
    point: NDArray[np.bytes_] | None = None
    accuracy: FloatArray | None = None
    absorbed: Absorbed
    notes: tuple[str, ...] = ()

    def __len__(self) -> int:
        return len(self.easting)

    @property
    def plan(self) -> FloatArray:
        """Plan coordinates (n, 2): easting, northing."""
        return np.column_stack([self.easting, self.northing])

    def place(self, shot: int) -> str:
        """Where a shot was written, as `file:line`."""
        return f"{self.files[self.file[shot]]}:{self.row[shot]}"

    def point_name(self, shot: int) -> str:
        """The name of a shot's point, empty when it has none."""
        if self.point is None:
            return ""
        name: bytes = self.point[shot]
        return name.decode("utf-8")

    def code_name(self, shot: int) -> str:
        """The code of a shot, empty when it has none."""
        return self.code_names[self.code[shot]] if self.code[shot] >= 0 else ""

    def with_notes(self, *notes: str) -> "Shots":
        """The same shots with more notes."""
        return replace(self, notes=self.notes + notes)


def chosen(shots: Shots, kept: IntArray) -> Shots:
    """Some of the shots, by their indices, before any merging."""
    return replace(
        shots,
        easting=shots.easting[kept],
        northing=shots.northing[kept],
        elevation=shots.elevation[kept],
        file=shots.file[kept],
        row=shots.row[kept],
        code=shots.code[kept],
        line=shots.line[kept],
        point=None if shots.point is None else shots.point[kept],
        accuracy=None if shots.accuracy is None else shots.accuracy[kept],
    )


def plain_shots(
    plan: tuple[FloatArray, FloatArray], elevation: FloatArray, row: IntArray, name: str
) -> Shots:
    """Shots of one file without codes, lines or point names; plan is eastings and northings."""
    n = len(elevation)
    none = np.full(n, NONE, dtype=np.int32)
    return Shots(
        easting=np.ascontiguousarray(plan[0]),
        northing=np.ascontiguousarray(plan[1]),
        elevation=elevation,
        file=np.zeros(n, dtype=np.int16),
        row=row,
        code=none,
        line=none,
        files=(name,),
        absorbed=Absorbed.nothing(),
    )


def join(parts: Sequence[Shots]) -> Shots:
    """One record from the shots of several files, in their order, before any merging."""
    if len(parts) == 1:
        return parts[0]
    code_names, codes = _one_index([(p.code_names, p.code) for p in parts])
    line_names, lines = _one_index([(p.line_names, p.line) for p in parts])
    first = np.cumsum([0] + [len(p.files) for p in parts[:-1]])
    return Shots(
        easting=np.concatenate([p.easting for p in parts]),
        northing=np.concatenate([p.northing for p in parts]),
        elevation=np.concatenate([p.elevation for p in parts]),
        file=np.concatenate(
            [(p.file + k).astype(np.int16) for p, k in zip(parts, first, strict=True)]
        ),
        row=np.concatenate([p.row for p in parts]),
        code=codes,
        line=lines,
        files=tuple(name for p in parts for name in p.files),
        code_names=code_names,
        line_names=line_names,
        point=_join_points(parts),
        accuracy=_join_accuracies(parts),
        absorbed=Absorbed.nothing(),
        notes=tuple(note for p in parts for note in p.notes),
    )


def _one_index(
    parts: list[tuple[tuple[str, ...], IntArray]],
) -> tuple[tuple[str, ...], IntArray]:
    names = sorted({name for own, _ in parts for name in own})
    at = {name: k for k, name in enumerate(names)}
    moved = []
    for own, index in parts:
        table = np.array([at[name] for name in own] + [NONE], dtype=np.int32)
        moved.append(table[index])
    return tuple(names), np.concatenate(moved)


def _join_points(parts: Sequence[Shots]) -> NDArray[np.bytes_] | None:
    if all(p.point is None for p in parts):
        return None
    empty = [np.zeros(len(p), dtype="S1") if p.point is None else p.point for p in parts]
    return np.concatenate(empty)


def _join_accuracies(parts: Sequence[Shots]) -> FloatArray | None:
    if all(p.accuracy is None for p in parts):
        return None
    return np.concatenate(
        [np.full(len(p), np.nan) if p.accuracy is None else p.accuracy for p in parts]
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Breakline:
    """Shots joined in order: indices into the merged `Shots`, first = last if closed."""

    code: str
    line: str
    file: str
    shots: IntArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Breaklines:
    """All breaklines of a survey, and sentences on those that were left out."""

    lines: tuple[Breakline, ...]
    notes: tuple[str, ...]


def lines(shots: Shots, codes: Sequence[str] | None = None) -> Breaklines:
    """The breaklines of a survey: shots of one code, joined in file order, line by line.

    With `codes`, shots of these codes (capitals don't matter); without, every shot that has a
    value in a `line` column. One line never runs from one code, line value or file to another.

    Errors: `SurveyError` for a code that no shot has.
    """
    shot = np.concatenate([np.arange(len(shots), dtype=np.int32), shots.absorbed.into])
    file = np.concatenate([shots.file, shots.absorbed.file])
    row = np.concatenate([shots.row, shots.absorbed.row])
    code = np.concatenate([shots.code, shots.absorbed.code])
    line = np.concatenate([shots.line, shots.absorbed.line])
    wanted = line >= 0 if codes is None else np.isin(code, _code_indices(shots, codes))
    shot, file, row, code, line = (a[wanted] for a in (shot, file, row, code, line))
    order = np.lexsort([row, line, code, file])
    key = np.column_stack([file, code, line])[order]
    cuts = np.flatnonzero((key[1:] != key[:-1]).any(axis=1)) + 1
    found, notes = [], []
    for part in np.split(order, cuts) if len(order) else []:
        k = part[0]
        corners = shot[part]
        corners = corners[np.concatenate([[True], corners[1:] != corners[:-1]])]
        breakline = Breakline(
            code=shots.code_names[code[k]] if code[k] >= 0 else "",
            line=shots.line_names[line[k]] if line[k] >= 0 else "",
            file=shots.files[file[k]],
            shots=corners,
        )
        if len(corners) > 1:
            found.append(breakline)
        else:
            notes.append(
                f"{breakline.file}:{row[k]}: {_say(breakline)} has one shot only: no line."
            )
    return Breaklines(lines=tuple(found), notes=tuple(notes))


def _say(breakline: Breakline) -> str:
    parts = [breakline.code and f'"{breakline.code}"', breakline.line and f"line {breakline.line}"]
    return "breakline " + " ".join(p for p in parts if p)


def _code_indices(shots: Shots, codes: Iterable[str]) -> list[int]:
    known: dict[str, list[int]] = {}
    for k, name in enumerate(shots.code_names):
        known.setdefault(name.casefold(), []).append(k)
    faults, indices = [], []
    for code in codes:
        found = known.get(code.strip().casefold())
        if found:
            indices += found
            continue
        near = nearest_names(code, shots.code_names)
        faults.append(
            Fault(key="existing.breaklines", message=f'no shot has the code "{code}"; {near}')
        )
    if faults:
        raise SurveyError(*faults)
    return indices


def nearest_names(name: str, known: Sequence[str]) -> str:
    """Words that name the known names nearest to `name`, or say that there are none."""
    if not known:
        return "there are none at all."
    folded = {k.casefold(): k for k in known}
    near = difflib.get_close_matches(name.casefold(), folded, n=3, cutoff=0.5)
    shown = [folded[k] for k in near] or sorted(known)[:5]
    return ("the nearest are " if near else "there are ") + ", ".join(f'"{s}"' for s in shown) + "."
