"""The plan as GeoJSON, where RFC 7946 allows it: longitude and latitude of WGS 84, nothing else."""

import json
from collections.abc import Iterator
from typing import Any

import numpy as np
import pyproj
import shapely

from terrain.base.arrays import FloatArray
from terrain.export.text import plain
from terrain.job.layers import Layers

DECIMALS = 9
"""Of a degree: a tenth of a millimetre on the ground."""


def no_geojson_because(layers: Layers) -> str | None:
    """Why there can be no GeoJSON of this job, as a sentence; None if there can."""
    if layers.crs is None:
        return "it holds longitude and latitude only, and the job names no crs"
    degrees = _degrees(layers, np.concatenate([line.points[:, :2] for line in _lines(layers)]))
    if not np.isfinite(degrees).all():
        return f"{layers.crs} has no longitude and latitude here"
    if np.ptp(degrees[:, 0]) > 180.0:
        return "the lot lies across the meridian of 180 degrees"
    return None


def plan_geojson(layers: Layers) -> str:
    """A FeatureCollection of walls, dig lines, daylight and parts, on a line each.

    Rings go counter-clockwise outside and clockwise inside. Heights are left out: RFC 7946 would
    take them for heights above the ellipsoid. Only for a job of which `no_geojson_because` has
    nothing to say.
    """
    unit = layers.unit
    head = {
        "type": "FeatureCollection",
        "title": plain(layers.title),
        "surveyed_in": plain(layers.crs or ""),
        "volume_unit": unit.volume_name,
        "area_unit": unit.area_name,
    }
    start = _text(head)[:-1] + ',"features":[\n'
    return start + ",\n".join(_text(feature) for feature in _features(layers)) + "\n]}\n"


def _text(value: dict[str, Any]) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False, separators=(",", ":"))


def _lines(layers: Layers) -> list[Any]:
    return [*layers.walls, *layers.dig_lines, *layers.daylight]


def _features(layers: Layers) -> Iterator[dict[str, Any]]:
    rows = {row.name: row for row in layers.rows if row.kind == "wall"}
    for wall in layers.walls:
        quantity = rows[wall.name].quantity
        figures = {
            "bank": quantity.bank, "loose": quantity.loose, "compacted": quantity.compacted,
        }  # fmt: skip
        told: dict[str, Any] = {"layer": "walls", "name": plain(wall.name)} | figures
        yield _feature(layers, shapely.linestrings(wall.points[:, :2]), told)
    for line in layers.dig_lines:
        told = {"layer": "dig_line", "name": plain(line.name), "kind": line.kind}
        yield _feature(layers, shapely.polygons(line.points[:, :2]), told)
    for line in layers.daylight:
        yield _feature(layers, shapely.linestrings(line.points[:, :2]), {"layer": "daylight"})
    for part in layers.parts:
        row = layers.row(part.label)
        told = {
            "layer": "dig_parts", "name": plain(row.name), "kind": row.kind,
            "part": layers.part(part.label) or None, "bank": layers.bank(part.bank),
            "area": part.area,
        }  # fmt: skip
        yield _feature(layers, part.shape, told)


def _feature(layers: Layers, shape: shapely.Geometry, told: dict[str, Any]) -> dict[str, Any]:
    moved = shapely.transform(shape, lambda plan: np.round(_degrees(layers, plan), DECIMALS))
    geometry = json.loads(shapely.to_geojson(shapely.orient_polygons(moved)))
    return {"type": "Feature", "properties": told, "geometry": geometry}


def _degrees(layers: Layers, plan: FloatArray) -> FloatArray:
    """Longitude and latitude (n, 2) of plan points in the local frame; infinite where none is."""
    grid = pyproj.CRS.from_user_input(layers.crs).to_2d()
    transformer = pyproj.Transformer.from_crs(grid, "EPSG:4326", always_xy=True)
    site = layers.frame.to_site(plan)
    return np.column_stack(transformer.transform(site[:, 0], site[:, 1]))
