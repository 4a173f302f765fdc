"""Lines and closed outlines in plan, from text or GeoJSON: foundations, lot lines, draped lines."""

from dataclasses import dataclass
from pathlib import Path as FilePath
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from terrain.base.arrays import FloatArray
from terrain.base.errors import Fault, SurveyError
from terrain.survey.delimited import read_table
from terrain.survey.files import read_bytes
from terrain.survey.geojson import read_paths
from terrain.survey.georef import Site
from terrain.survey.layout import Asked
from terrain.survey.rows import Table
from terrain.survey.text import as_utf8

_TEXT = (".csv", ".txt")
_EXTENSIONS = (*_TEXT, ".geojson", ".json")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlanLine:
    """A chain of corners as the file has it: a closed one does not repeat its first corner.

    Args:
        name: the line's name in the file, or empty.
        place: where it begins, `file:line` or a path within a GeoJSON file.
        plan: (n, 2) easting, northing in the job's unit.
        elevation: (n,), or None if any corner has none.
    """

    name: str
    place: str
    plan: FloatArray
    elevation: FloatArray | None
    closed: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class OutlineAsked:
    """What the job says of a file of lines; `columns` as for shots, elevation may be left out."""

    site: Site
    columns: tuple[str, ...] | None = None
    coordinates: Literal["degrees", "grid"] = "degrees"


def read_lines(path: FilePath, name: str, asked: OutlineAsked) -> tuple[PlanLine, ...]:
    """All lines of a text or GeoJSON file, in file order.

    In text, rows are joined in order, line by line if there is a `line` column; a line whose last
    corner is its first is closed.

    Errors: `SurveyError` with the faults of the file.
    """
    extension = FilePath(name).suffix.casefold()
    if extension not in _EXTENSIONS:
        raise SurveyError(
            Fault(file=name, message=f"outlines are read from {', '.join(_EXTENSIONS)} only.")
        )
    data = read_bytes(path, name)
    if extension in _TEXT:
        return _from_text(name, data, asked)
    text = as_utf8(name, data).decode("utf-8")
    found = [
        _plan_line(p.name, f"{name}: {p.place}", np.column_stack([p.plan, p.elevation]), p.closed)
        for p in read_paths(name, text, asked.site, asked.coordinates)
    ]
    return tuple(found)


def read_outline(path: FilePath, name: str, asked: OutlineAsked) -> PlanLine:
    """The one closed outline of a file; in text it may leave out the repeated first corner.

    A GeoJSON line that ends where it begins is as good as a polygon.

    Errors: `SurveyError` as `read_lines`, and if the file has no outline, more than one, one with
    a hole, fewer than three corners or the same corner twice in a row.
    """
    found = read_lines(path, name, asked)
    if len(found) != 1:
        raise SurveyError(
            Fault(file=name, message=f"one closed outline is due; the file has {len(found)} lines.")
        )
    is_text = FilePath(name).suffix.casefold() in _TEXT
    line = _closed(found[0], "understood" if is_text else "written")
    faults = []
    if not line.closed:
        faults.append("the outline is not closed.")
    if len(line.plan) < 3:
        faults.append(f"an outline needs three corners at least; this has {len(line.plan)}.")
    same = (line.plan == np.roll(line.plan, -1, axis=0)).all(axis=1)
    faults += [
        f"corner {k + 1} and the next are one spot ({line.plan[k][0]:g}, {line.plan[k][1]:g})."
        for k in np.flatnonzero(same)
        if len(line.plan) > 1
    ]
    if faults:
        raise SurveyError(*(Fault(file=name, message=message) for message in faults))
    return line


def _closed(line: PlanLine, last_side: Literal["understood", "written"]) -> PlanLine:
    """The line as an outline: its last side as the file has it, or understood where it has none."""
    if line.closed or len(line.plan) < 3:
        return line
    again = len(line.plan) > 3 and bool((line.plan[0] == line.plan[-1]).all())
    if not again and last_side == "written":
        return line
    count = len(line.plan) - again
    return PlanLine(
        name=line.name,
        place=line.place,
        plan=line.plan[:count],
        elevation=None if line.elevation is None else line.elevation[:count],
        closed=True,
    )


def _from_text(name: str, data: bytes, asked: OutlineAsked) -> tuple[PlanLine, ...]:
    layout, table = read_table(
        name, data, Asked(unit=asked.site.unit, columns=asked.columns, elevation="optional")
    )
    if "latitude" in layout.columns:
        raise SurveyError(
            Fault(file=name, line=1, message="its columns are latitude and longitude; give "
                  "eastings and northings, or a GeoJSON file and site.crs.")
        )  # fmt: skip
    n = len(table.row)
    upward = table.numbers.get("elevation", np.full(n, np.nan))
    corners = np.column_stack([table.numbers["easting"], table.numbers["northing"], upward])
    found = []
    for line_name, rows in _by_line(table):
        chain = corners[rows]
        closed = len(chain) > 3 and bool((chain[0, :2] == chain[-1, :2]).all())
        found.append(_plan_line(line_name, f"{name}:{table.row[rows[0]]}", chain, closed))
    return tuple(found)


def _by_line(table: Table) -> list[tuple[str, NDArray[np.intp]]]:
    if "line" not in table.names:
        return [("", np.arange(len(table.row)))]
    ids, names = table.names["line"]
    groups = [(k, np.flatnonzero(ids == k)) for k in dict.fromkeys(ids.tolist())]
    return [(names[k] if k >= 0 else "", rows) for k, rows in groups]


def _plan_line(name: str, place: str, corners: FloatArray, closed: bool) -> PlanLine:
    if closed:
        corners = corners[:-1]
    upward = corners[:, 2]
    return PlanLine(
        name=name,
        place=place,
        plan=np.ascontiguousarray(corners[:, :2]),
        elevation=None if np.isnan(upward).any() else np.ascontiguousarray(upward),
        closed=closed,
    )
