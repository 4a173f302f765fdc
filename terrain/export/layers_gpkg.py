"""The layers as a GeoPackage 1.4 (OGC 12-128), through GDAL: one table a kind of thing drawn."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeAlias

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyogrio
import pyproj
import shapely
from numpy.typing import NDArray
from pyogrio.errors import DataLayerError, DataSourceError, FeatureError, GeometryError

from terrain.base.arrays import FloatArray, IntArray
from terrain.base.errors import Fault, OutputError
from terrain.export.text import plain
from terrain.job.layers import DrawnLine, Layers
from terrain.surface.contours import INDEX_EVERY

Column: TypeAlias = "pa.Array[Any]"

GEOMETRY = "geom"
UNDEFINED_CARTESIAN = -1
"""The SRS that every GeoPackage has for coordinates on a plane that no CRS describes."""

LOCAL = 'LOCAL_CS["Undefined Cartesian SRS"]'
POINT_Z = 1001
"""ISO well-known binary's number of a point with a third coordinate."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Layer:
    """One table: its name, geometry type, what it holds in a sentence, and its columns."""

    name: str
    geometry_type: str
    description: str
    table: pa.Table


def write_layers_gpkg(layers: Layers, path: Path) -> None:
    """Write the GeoPackage at `path`, where no file may stand.

    Raises:
        OutputError: GDAL can't write it.
    """
    # the standard wants the time of the last change in the file; the same job gives the same bytes
    pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": f"{layers.date}T00:00:00.000Z"})
    crs, options = _reference(layers)
    try:
        for count, layer in enumerate(_layers(layers)):
            pyogrio.write_arrow(
                layer.table,
                path,
                layer=layer.name,
                driver="GPKG",
                geometry_name=GEOMETRY,
                geometry_type=layer.geometry_type,
                crs=crs,
                append=count > 0,
                dataset_metadata=None if count else _metadata(layers),
                layer_options=options | {"DESCRIPTION": layer.description},
                dataset_options=None if count else {"VERSION": "1.4"},
            )
    except (DataSourceError, DataLayerError, FeatureError, GeometryError) as error:
        message = f"the GeoPackage can't be written ({error}); is the disk full?"
        raise OutputError(Fault(file=path.name, message=message)) from error
    finally:
        pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": None})


def _reference(layers: Layers) -> tuple[str, dict[str, str]]:
    """The CRS as GDAL takes it, and the options of a table in it."""
    if layers.crs is None:
        return LOCAL, {"SRID": str(UNDEFINED_CARTESIAN)}
    return pyproj.CRS.from_user_input(layers.crs).to_wkt(), {}


def _metadata(layers: Layers) -> dict[str, str]:
    unit = layers.unit
    return {
        "TITLE": plain(layers.title),
        "DATE": layers.date,
        "CRS": plain(layers.crs) if layers.crs else "none: a local grid, easting then northing",
        "LENGTH_UNIT": f"{unit.name}: {unit.long_name}, {unit.metres} m",
        "VOLUME_UNIT": unit.volume_name,
        "AREA_UNIT": unit.area_name,
        "CONTOUR_INTERVAL": f"{layers.contours.interval:g} {unit.name}",
        "GENERATOR": "spoilbank",
    }


def _layers(layers: Layers) -> Iterator[_Layer]:
    where = "" if layers.crs else " Local grid without a CRS."
    unit, volume, area = layers.unit.name, layers.unit.volume_name, layers.unit.area_name
    lengths = f" Lengths and elevations in {unit}."
    volumes = f" Volumes in {volume}, bank unless named otherwise; plan areas in {area}."
    yield _Layer(
        name="shots", geometry_type="Point Z", table=_shots(layers),
        description=f"Every shot the ground is made from, with its file and row.{lengths}{where}",
    )  # fmt: skip
    drawn = (
        ("breaklines", layers.breaklines, "Lines that no triangle of the ground crosses."),
        ("dig_line", layers.dig_lines, "Round each floor of the dig, at its elevation."),
        ("daylight", layers.daylight, "Where the cut meets the ground; the cut on the left."),
    )
    for name, lines, told in drawn:
        yield _Layer(
            name=name, geometry_type="LineString Z", table=_lines(layers, lines),
            description=f"{told}{lengths}{where}",
        )  # fmt: skip
    interval = f"{layers.contours.interval:g} {unit}"
    yield _Layer(
        name="existing_contours", geometry_type="LineString Z", table=_contours(layers),
        description=f"Contours of the existing ground every {interval}; higher ground on the left,"
        f" every fifth an index contour.{lengths}{where}",
    )  # fmt: skip
    yield _Layer(
        name="walls", geometry_type="LineString Z", table=_walls(layers),
        description="Outside faces of the foundation at the floor of the dig, with what comes out "
        f"along each.{volumes}{lengths}{where}",
    )  # fmt: skip
    yield _Layer(
        name="dig_parts", geometry_type="MultiPolygon", table=_parts(layers),
        description="Where each wall's parts, pit, ramp and trench take earth out. A footing or an "
        f"extra lies under what was dug before it, so areas overlap.{volumes}{where}",
    )  # fmt: skip
    yield _Layer(
        name="dig_faces", geometry_type="MultiPolygon Z", table=_faces(layers),
        description="Every plane face of the dig as far as it is below ground; those of a row and "
        f"part sum to the ledger.{volumes}{lengths}{where}",
    )  # fmt: skip


def _shots(layers: Layers) -> pa.Table:
    shots = layers.shots
    count = len(shots)
    record = np.empty(
        count, dtype=np.dtype([("order", "u1"), ("type", "<u4"), ("place", "<f8", 3)])
    )
    record["order"], record["type"] = 1, POINT_Z
    for axis, values in enumerate((shots.easting, shots.northing, shots.elevation)):
        record["place"][:, axis] = values
    offsets = np.arange(count + 1, dtype=np.int64) * record.dtype.itemsize
    points = pa.Array.from_buffers(
        pa.large_binary(),
        count,
        [None, pa.py_buffer(offsets.tobytes()), pa.py_buffer(record.tobytes())],
    )
    return pa.table(
        {
            GEOMETRY: points,
            "point": _point_names(shots.point, count),
            "code": _named(shots.code, shots.code_names),
            "line": _named(shots.line, shots.line_names),
            "file": _named(shots.file, shots.files),
            "row": pa.array(shots.row, type=pa.int64()),
            "elevation": pa.array(shots.elevation),
        }
    )


def _named(index: IntArray, names: Sequence[str]) -> Column:
    """The name of each index, null where it is -1."""
    known = [*(plain(name) for name in names), None]
    return pa.array(known, type=pa.string()).take(np.where(index < 0, len(names), index))


def _point_names(names: NDArray[np.bytes_] | None, count: int) -> Column:
    if names is None:
        return pa.nulls(count, pa.string())
    text = pa.array(names, type=pa.binary()).cast(pa.string())
    if pc.all(pc.utf8_is_printable(text)).as_py():
        return text
    return pa.array([plain(str(name)) for name in text.to_pylist()], type=pa.string())


def _lines(layers: Layers, lines: Sequence[DrawnLine]) -> pa.Table:
    return pa.table(
        {
            GEOMETRY: _wkb([shapely.linestrings(_on_site(layers, line.points)) for line in lines]),
            "name": _texts(line.name for line in lines),
            "kind": _texts(line.kind for line in lines),
        }
    )


def _contours(layers: Layers) -> pa.Table:
    drawn = layers.contours
    line = np.repeat(np.arange(len(drawn)), np.diff(drawn.start))
    corners = np.column_stack([drawn.plan, drawn.upward[line]])
    shapes = shapely.linestrings(_on_site(layers, corners), indices=line)
    return pa.table(
        {
            GEOMETRY: _wkb(shapes),
            "elevation": pa.array(drawn.upward),
            "index_contour": pa.array(drawn.step % INDEX_EVERY == 0),
        }
    )


def _walls(layers: Layers) -> pa.Table:
    rows = {row.name: row for row in layers.rows if row.kind == "wall"}
    walls = [rows[line.name] for line in layers.walls]
    return pa.table(
        {
            GEOMETRY: _wkb(
                [shapely.linestrings(_on_site(layers, line.points)) for line in layers.walls]
            ),
            "name": _texts(row.name for row in walls),
            "bank": _numbers(row.quantity.bank for row in walls),
            "loose": _numbers(row.quantity.loose for row in walls),
            "compacted": _numbers(row.quantity.compacted for row in walls),
            "topsoil": _numbers(row.topsoil for row in walls),
            "bank_plus_minus_95": _numbers(row.bank_plus_minus_95 for row in walls),
        }
    )


def _parts(layers: Layers) -> pa.Table:
    parts = layers.parts
    shapes = [shapely.transform(part.shape, lambda plan: _on_site(layers, plan)) for part in parts]
    return pa.table(
        {GEOMETRY: _wkb(shapes)}
        | _labelled(layers, [part.label for part in parts])
        | _figures(layers, parts)
    )


def _faces(layers: Layers) -> pa.Table:
    faces = layers.faces
    shapes = [
        shapely.transform(
            shapely.force_3d(face.shape),
            lambda corners, face=face: _on_site(layers, face.lifted(corners[:, :2])),
            include_z=True,
        )
        for face in faces
    ]
    return pa.table(
        {GEOMETRY: _wkb(shapes)}
        | _labelled(layers, [face.label for face in faces])
        | _figures(layers, faces)
    )


def _labelled(layers: Layers, labels: Sequence[int]) -> dict[str, Column]:
    return {
        "name": _texts(layers.row(label).name for label in labels),
        "kind": _texts(layers.row(label).kind for label in labels),
        "part": _texts(layers.part(label) for label in labels),
    }


def _figures(layers: Layers, dug: Sequence[Any]) -> dict[str, Column]:
    return {
        "bank": _numbers(layers.bank(one.bank) for one in dug),
        "area": _numbers(one.area for one in dug),
    }


def _on_site(layers: Layers, corners: FloatArray) -> FloatArray:
    """Corners (m, 2 or 3) of the local frame on the site; heights stay."""
    moved = np.array(corners, dtype=np.float64)
    moved[:, :2] = layers.frame.to_site(corners[:, :2])
    return moved


def _wkb(shapes: Sequence[shapely.Geometry] | NDArray[np.object_]) -> Column:
    written = shapely.to_wkb(np.asarray(shapes, dtype=object), flavor="iso", byte_order=1)
    return pa.array(written, type=pa.binary())


def _texts(texts: Iterator[str]) -> Column:
    """The texts made plain; an empty one is null."""
    return pa.array([plain(text) or None for text in texts], type=pa.string())


def _numbers(numbers: Iterator[float | None]) -> Column:
    return pa.array(list(numbers), type=pa.float64())
