"""Positions of a phone or a handheld receiver: CSV, GPX and GeoJSON points, as written.

Longitude and latitude in degrees on WGS 84; heights and accuracies in the unit the job says,
metres by the standards of GPX 1.1 and RFC 7946.
"""

import csv
import io
import json
import math
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from terrain.base.arrays import FloatArray, IntArray
from terrain.base.errors import MORE_FOLLOW, Fault, SurveyError
from terrain.survey.text import as_utf8, printed

_COLUMNS: dict[str, str] = {
    "latitude": "latitude lat y",
    "longitude": "longitude lon long lng x",
    "height": "height altitude alt elevation elev ele z ellipsoidalheight",
    "horizontal": "horizontalaccuracy accuracy hacc hrms hdev",
    "vertical": "verticalaccuracy vacc vrms vdev altitudeaccuracy",
    "point": "point name id pt",
    "code": "code description desc type",
}
_KNOWN = {word: column for column, words in _COLUMNS.items() for word in words.split()}
MOST_FAULTS = 50


@dataclass(frozen=True, slots=True, kw_only=True)
class Fix:
    """One position as written; None where the file does not say."""

    longitude: float
    latitude: float
    height: float | None
    horizontal: float | None = None
    vertical: float | None = None
    point: str = ""
    code: str = ""
    row: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Positions:
    """All positions of a file: arrays (n,), NaN where an accuracy or height isn't given."""

    file: str
    longitude: FloatArray
    latitude: FloatArray
    height: FloatArray
    horizontal: FloatArray
    vertical: FloatArray
    point: tuple[str, ...]
    code: tuple[str, ...]
    row: IntArray

    def __len__(self) -> int:
        return len(self.longitude)


def read_positions(name: str, data: bytes) -> Positions:
    """The positions in a file's bytes, by the kind its name tells.

    Errors: `SurveyError` with every fault of the file: no positions, degrees out of range, a
    height or accuracy that is none.
    """
    kind = Path(name).suffix.casefold()
    readers: dict[str, Callable[[str, str], Iterator[Fix]]] = {
        ".gpx": _from_gpx,
        ".geojson": _from_geojson,
        ".json": _from_geojson,
        ".csv": _from_csv,
        ".txt": _from_csv,
    }
    if kind not in readers:
        message = "positions are read from .csv, .txt, .gpx and .geojson files."
        raise SurveyError(Fault(file=name, message=message))
    text = as_utf8(name, data).decode("utf-8")
    fixes = list(readers[kind](name, text))
    if not fixes:
        raise SurveyError(Fault(file=name, message="holds no positions."))
    faults = [fault for fix in fixes for fault in _faults(name, fix)]
    if len(faults) > MOST_FAULTS:
        faults[MOST_FAULTS:] = [Fault(file=name, message=MORE_FOLLOW)]
    if faults:
        raise SurveyError(*faults)
    return Positions(
        file=name,
        longitude=np.array([fix.longitude for fix in fixes]),
        latitude=np.array([fix.latitude for fix in fixes]),
        height=_numbers([fix.height for fix in fixes]),
        horizontal=_numbers([fix.horizontal for fix in fixes]),
        vertical=_numbers([fix.vertical for fix in fixes]),
        point=tuple(fix.point for fix in fixes),
        code=tuple(fix.code for fix in fixes),
        row=np.array([fix.row for fix in fixes], dtype=np.int32),
    )


def _numbers(values: list[float | None]) -> FloatArray:
    return np.array([np.nan if value is None else value for value in values], dtype=np.float64)


def _faults(name: str, fix: Fix) -> Iterator[Fault]:
    def fault(message: str) -> Fault:
        return Fault(file=name, line=fix.row, message=message)

    if not (abs(fix.latitude) <= 90.0 and abs(fix.longitude) <= 180.0):
        yield fault(
            f"latitude {fix.latitude:g} and longitude {fix.longitude:g} are no place on earth; "
            "are the two swapped, or eastings and northings given?"
        )
    if fix.height is not None and not abs(fix.height) <= 1e5:
        yield fault(f"{fix.height:g} is no height of ground.")
    for what, value in (("horizontal", fix.horizontal), ("vertical", fix.vertical)):
        if value is not None and not 0.0 <= value <= 1e5:
            yield fault(f"{value:g} is no {what} accuracy.")


def _from_csv(name: str, text: str) -> Iterator[Fix]:
    delimiter = next((d for d in "\t;" if d in text.split("\n", 1)[0]), ",")
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    columns: list[str] | None = None
    faults = []
    try:
        for fields in reader:
            if not fields or fields[0].lstrip().startswith("#") or not "".join(fields).strip():
                continue
            if columns is None:
                columns = _columns_of(name, reader.line_num, fields)
                continue
            texts = {c: f.strip() for c, f in zip(columns, fields, strict=False) if c}
            try:
                yield _fix_of(texts, reader.line_num)
            except ValueError as error:
                faults.append(Fault(file=name, line=reader.line_num, message=str(error)))
                if len(faults) >= MOST_FAULTS:
                    faults.append(Fault(file=name, message=MORE_FOLLOW))
                    break
    except csv.Error as error:
        message = f"is no table of text: {error}."
        raise SurveyError(Fault(file=name, line=reader.line_num, message=message)) from None
    if faults:
        raise SurveyError(*faults)


def _columns_of(name: str, line: int, header: list[str]) -> list[str]:
    plain = [re.sub(r"[\W_]+", "", re.sub(r"[(\[].*?[)\]]", "", t).casefold()) for t in header]
    columns = [_KNOWN.get(text, "") for text in plain]
    for column in ("latitude", "longitude"):
        if columns.count(column) != 1:
            message = (
                f"{'no' if column not in columns else 'more than one'} column is the {column}; "
                "write a header such as point,latitude,longitude,height,horizontal_accuracy,"
                "vertical_accuracy,code."
            )
            text = printed(",".join(header))
            raise SurveyError(Fault(file=name, line=line, text=text, message=message))
    return columns


def _fix_of(texts: dict[str, str], row: int) -> Fix:
    """Raises ValueError, with what is wrong, for a field that is no number or is missing."""
    numbers: dict[str, float | None] = {}
    for column in ("latitude", "longitude", "height", "horizontal", "vertical"):
        text = texts.get(column, "")
        try:
            numbers[column] = float(text) if text else None
        except ValueError:
            raise ValueError(f'{column} "{printed(text, 20)}" is not a number.') from None
    latitude, longitude = numbers["latitude"], numbers["longitude"]
    if latitude is None or longitude is None:
        raise ValueError("the row has no latitude and longitude.")
    return Fix(
        longitude=longitude,
        latitude=latitude,
        height=numbers["height"],
        horizontal=numbers["horizontal"],
        vertical=numbers["vertical"],
        point=texts.get("point", ""),
        code=texts.get("code", ""),
        row=row,
    )


def _from_gpx(name: str, text: str) -> Iterator[Fix]:
    """Waypoints, then points of routes and tracks; `row` counts them from 1."""
    import gpxpy
    import gpxpy.gpx

    if "<!doctype" in text.casefold() or "<!entity" in text.casefold():
        raise SurveyError(Fault(file=name, message="has a document type, which no GPX file has."))
    try:
        whole = gpxpy.parse(text)
    except (gpxpy.gpx.GPXException, ValueError) as error:
        said = printed(str(error), 120)
        raise SurveyError(Fault(file=name, message=f"is no GPX file whole: {said}.")) from None
    tracked = [p for track in whole.tracks for part in track.segments for p in part.points]
    routed = [p for route in whole.routes for p in route.points]
    for number, point in enumerate([*whole.waypoints, *routed, *tracked], start=1):
        yield Fix(
            longitude=point.longitude,
            latitude=point.latitude,
            height=point.elevation,
            point=getattr(point, "name", None) or "",
            code=getattr(point, "symbol", None) or getattr(point, "type", None) or "",
            row=number,
        )


def _from_geojson(name: str, text: str) -> Iterator[Fix]:
    """Points of every feature, those of lines too; `row` counts features from 1."""
    try:
        whole = json.loads(text)
    except (ValueError, RecursionError):
        raise SurveyError(Fault(file=name, message="this is no JSON.")) from None
    features = whole.get("features") if isinstance(whole, dict) else None
    if not isinstance(features, list):
        message = "a GeoJSON file of positions is a FeatureCollection with a list of features."
        raise SurveyError(Fault(file=name, message=message))
    for number, feature in enumerate(features, start=1):
        properties = feature.get("properties") if isinstance(feature, dict) else None
        shape = feature.get("geometry") if isinstance(feature, dict) else None
        texts = _properties(properties if isinstance(properties, dict) else {})
        for place in _places(shape if isinstance(shape, dict) else {}):
            if not _is_place(place):
                message = f"feature {number}: its coordinates are no longitude, latitude, height."
                raise SurveyError(Fault(file=name, message=message))
            try:
                longitude, latitude, *rest = (float(value) for value in place)
                asked = texts | {"latitude": str(latitude), "longitude": str(longitude)}
                asked |= {"height": str(rest[0])} if rest and math.isfinite(rest[0]) else {}
                yield _fix_of(asked, number)
            except (TypeError, ValueError) as error:
                message = f"feature {number}: {printed(str(error), 100)}"
                raise SurveyError(Fault(file=name, message=message)) from None


def _properties(properties: dict[str, Any]) -> dict[str, str]:
    """Name, code and accuracies among a feature's properties, by the columns they stand for."""
    found = {}
    for key, value in properties.items():
        column = _KNOWN.get(re.sub(r"[\W_]+", "", str(key).casefold()), "")
        if column in ("horizontal", "vertical", "point", "code") and value is not None:
            found[column] = str(value)
    return found


def _is_place(place: Any) -> bool:
    """Whether a JSON value is a list of two numbers or more, as a GeoJSON position is."""
    return (
        isinstance(place, list)
        and len(place) > 1
        and all(isinstance(v, (int, float)) and not isinstance(v, bool) for v in place)
    )


def _places(shape: dict[str, Any]) -> Iterator[Any]:
    kind, places = shape.get("type"), shape.get("coordinates")
    if kind == "Point":
        yield places
    elif kind in ("MultiPoint", "LineString") and isinstance(places, list):
        yield from places
