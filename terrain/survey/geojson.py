"""GeoJSON lines and outlines (RFC 7946), in longitude and latitude or on the site's grid."""

import json
import math
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pyproj

from terrain.base.arrays import FloatArray
from terrain.base.errors import Fault, SurveyError
from terrain.survey.crs import job_crs
from terrain.survey.georef import Site, projector

_LINES = {"LineString": 1, "MultiLineString": 2, "Polygon": 2, "MultiPolygon": 3}
_PATH = "coordinates"


@dataclass(frozen=True, slots=True, kw_only=True)
class Path:
    """One chain of positions as written: (n, 2) and elevations (n,), NaN where there are none."""

    name: str
    place: str
    plan: FloatArray
    elevation: FloatArray
    closed: bool


@dataclass(slots=True, kw_only=True)
class _Reading:
    """The file being read and the faults found so far."""

    name: str
    faults: list[Fault] = field(default_factory=list)

    def fault(self, place: str, message: str) -> None:
        """Note what is wrong at a place within the file."""
        self.faults.append(Fault(file=self.name, key=place or None, message=message))


def read_paths(name: str, text: str, site: Site, coordinates: str) -> list[Path]:
    """The chains of a GeoJSON file in the job's plan coordinates.

    `coordinates` is "degrees" as RFC 7946 has it, or "grid" if the job says that the file holds
    eastings and northings; a `crs` member in the file goes before it.

    Errors: `SurveyError` with every fault of the file.
    """
    whole = _parse(name, text)
    reading = _Reading(name=name)
    paths = list(_from_object(reading, whole, "", ""))
    if not paths and not reading.faults:
        reading.fault("", "holds no line and no polygon.")
    if reading.faults:
        raise SurveyError(*reading.faults)
    source = _source(name, whole, coordinates)
    return paths if source == "grid" else _projected(name, paths, source, site)


def _parse(name: str, text: str) -> dict[str, Any]:
    try:
        whole = json.loads(text)
    except json.JSONDecodeError as error:
        raise SurveyError(
            Fault(
                file=name,
                line=error.lineno,
                column=error.colno,
                message=f"this is no JSON: {error.msg.lower()}.",
                text=text.splitlines()[error.lineno - 1][:200] if text.strip() else None,
            )
        ) from error
    except RecursionError as error:
        raise SurveyError(Fault(file=name, message="its JSON is nested too deep.")) from error
    if not isinstance(whole, dict):
        raise SurveyError(Fault(file=name, message="this JSON is no GeoJSON: it is no object."))
    return whole


def _from_object(reading: _Reading, node: Any, place: str, name: str) -> Iterator[Path]:
    if not isinstance(node, dict) or not isinstance(node.get("type"), str):
        reading.fault(place, 'is no GeoJSON object: it has no "type".')
        return
    kind = node["type"]
    before = f"{place}." if place else ""
    if kind == "FeatureCollection" or kind == "GeometryCollection":
        member = "features" if kind == "FeatureCollection" else "geometries"
        children = node.get(member)
        if not isinstance(children, list):
            reading.fault(place, f'a {kind} must have a list of "{member}".')
            return
        for k, child in enumerate(children):
            yield from _from_object(reading, child, f"{before}{member}[{k}]", name)
    elif kind == "Feature":
        properties = node.get("properties")
        own = properties.get("name", "") if isinstance(properties, dict) else ""
        if node.get("geometry") is None:
            reading.fault(place, "this feature has no geometry.")
            return
        yield from _from_object(reading, node["geometry"], f"{before}geometry", str(own))
    elif kind in _LINES:
        closed = kind.endswith("Polygon")
        yield from _chains(
            reading, node.get(_PATH), (f"{before}{_PATH}", name), (_LINES[kind], closed)
        )
    else:
        reading.fault(place, f'"{kind}" is no line and no polygon.')


def _chains(
    reading: _Reading, node: Any, at: tuple[str, str], shape: tuple[int, bool]
) -> Iterator[Path]:
    place, name = at
    depth, closed = shape
    if not isinstance(node, list):
        reading.fault(place, "must be a list of positions.")
        return
    if depth > 1:
        for k, child in enumerate(node):
            yield from _chains(reading, child, (f"{place}[{k}]", name), (depth - 1, closed))
        return
    positions = [_position(reading, p, f"{place}[{k}]") for k, p in enumerate(node)]
    fewest = 4 if closed else 2
    if len(positions) < fewest:
        reading.fault(place, f"has {len(positions)} positions; {fewest} at least are needed.")
    elif closed and positions[0][:2] != positions[-1][:2]:
        reading.fault(place, "this ring does not end where it begins.")
    else:
        values = np.array(positions, dtype=np.float64).reshape(-1, 3)
        yield Path(
            name=name, place=place, plan=values[:, :2], elevation=values[:, 2], closed=closed
        )


def _position(reading: _Reading, node: Any, place: str) -> tuple[float, float, float]:
    good = isinstance(node, list) and len(node) >= 2
    numbers = node[:3] if good else []
    if not good or not all(
        isinstance(v, (int, float)) and not isinstance(v, bool) and abs(v) <= 1e9 for v in numbers
    ):
        reading.fault(place, "must be two or three finite numbers.")
        return 0.0, 0.0, math.nan
    return float(node[0]), float(node[1]), float(numbers[2]) if len(numbers) > 2 else math.nan


def _source(name: str, whole: dict[str, Any], coordinates: str) -> pyproj.CRS | str:
    member = whole.get("crs")
    if member is None:
        return "grid" if coordinates == "grid" else pyproj.CRS.from_epsg(4326)
    properties = member.get("properties") if isinstance(member, dict) else None
    text = str(properties.get("name", "")) if isinstance(properties, dict) else ""
    if text.upper().endswith("CRS84"):
        return pyproj.CRS.from_epsg(4326)
    code = re.search(r"EPSG:[\d.]*:?(\d+)$", text, re.I)
    try:
        return pyproj.CRS.from_epsg(int(code.group(1)) if code else text)
    except pyproj.exceptions.CRSError as error:
        raise SurveyError(
            Fault(file=name, key="crs", message=f'"{text}" is no CRS known here.')
        ) from error


def _projected(name: str, paths: list[Path], source: pyproj.CRS | str, site: Site) -> list[Path]:
    assert isinstance(source, pyproj.CRS)
    if site.crs is None:
        raise SurveyError(
            Fault(
                file=name,
                message=f"its coordinates are on {source.name}, but the job names no grid. "
                'Name it in site.crs, or write coordinates = "grid" if the numbers are '
                "eastings and northings of the site.",
            )
        )
    grid = job_crs(site.crs, site.unit)
    if source.is_projected:
        if source.to_epsg() != grid.to_epsg():
            raise SurveyError(
                Fault(
                    file=name, key="crs",
                    message=f"is on {source.name}, but the job's site.crs is {site.crs} "
                    f"({grid.name}).",
                )
            )  # fmt: skip
        return paths
    project = projector(source, grid)
    moved, faults = [], []
    for path in paths:
        if (np.abs(path.plan) > (180.0, 90.0)).any():
            faults.append(
                Fault(
                    file=name, key=path.place,
                    message="these are no degrees of longitude and latitude; write "
                    'coordinates = "grid" if they are eastings and northings.',
                )
            )  # fmt: skip
            continue
        plan = project(path.plan)
        if not np.isfinite(plan).all():
            faults.append(
                Fault(file=name, key=path.place, message=f"lies outside the reach of {site.crs}.")
            )
        moved.append(
            Path(
                name=path.name, place=path.place, plan=plan, elevation=path.elevation,
                closed=path.closed,
            )
        )  # fmt: skip
    if faults:
        raise SurveyError(*faults)
    return moved
