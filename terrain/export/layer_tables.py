"""The tables of the layers, column by column, geometry as ISO well-known binary on the site."""

from collections.abc import Iterator, Sequence
from typing import Any, TypeAlias

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import shapely
from numpy.typing import NDArray

from terrain.base.arrays import FloatArray, IntArray
from terrain.export.on_site import OnSite
from terrain.export.text import plain
from terrain.job.layers import DrawnLine, Layers
from terrain.surface.contours import INDEX_EVERY, Contours

Column: TypeAlias = "pa.Array[Any]"

GEOMETRY = "geom"
POINT_Z = 1001
"""ISO well-known binary's number of a point with a third coordinate."""


def shots_table(layers: Layers) -> pa.Table:
    """A point a shot with its name, code, line, file and row."""
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


def lines_table(layers: Layers, lines: Sequence[DrawnLine]) -> pa.Table:
    """Lines in space with name and kind."""
    return pa.table(
        {
            GEOMETRY: wkb([shapely.linestrings(on_site(layers, line.points)) for line in lines]),
            "name": texts(line.name for line in lines),
            "kind": texts(line.kind for line in lines),
        }
    )


def contours_table(site: OnSite, drawn: Contours) -> pa.Table:
    """Contours in space with their elevation."""
    line = np.repeat(np.arange(len(drawn)), np.diff(drawn.start))
    corners = np.column_stack([drawn.plan, drawn.upward[line]])
    shapes = shapely.linestrings(on_site(site, corners), indices=line)
    return pa.table(
        {
            GEOMETRY: wkb(shapes),
            "elevation": pa.array(drawn.upward),
            "index_contour": pa.array(drawn.step % INDEX_EVERY == 0),
        }
    )


def walls_table(layers: Layers) -> pa.Table:
    """A line a wall with its figures of the ledger."""
    rows = {row.name: row for row in layers.rows if row.kind == "wall"}
    walls = [rows[line.name] for line in layers.walls]
    return pa.table(
        {
            GEOMETRY: wkb(
                [shapely.linestrings(on_site(layers, line.points)) for line in layers.walls]
            ),
            "name": texts(row.name for row in walls),
            "bank": numbers(row.quantity.bank for row in walls),
            "loose": numbers(row.quantity.loose for row in walls),
            "compacted": numbers(row.quantity.compacted for row in walls),
            "topsoil": numbers(row.topsoil for row in walls),
            "bank_plus_minus_95": numbers(row.bank_plus_minus_95 for row in walls),
        }
    )


def parts_table(layers: Layers) -> pa.Table:
    """A shape a row and part with its bank volume and plan area."""
    parts = layers.parts
    shapes = [shapely.transform(part.shape, lambda plan: on_site(layers, plan)) for part in parts]
    return pa.table(
        {GEOMETRY: wkb(shapes)}
        | _labelled(layers, [part.label for part in parts])
        | _figures(layers, parts)
    )


def faces_table(layers: Layers) -> pa.Table:
    """A shape in space a plane face of the dig, with its bank volume and plan area."""
    faces = layers.faces
    shapes = [
        shapely.transform(
            shapely.force_3d(face.shape),
            lambda corners, face=face: on_site(layers, face.lifted(corners[:, :2])),
            include_z=True,
        )
        for face in faces
    ]
    return pa.table(
        {GEOMETRY: wkb(shapes)}
        | _labelled(layers, [face.label for face in faces])
        | _figures(layers, faces)
    )


def _labelled(layers: Layers, labels: Sequence[int]) -> dict[str, Column]:
    return {
        "name": texts(layers.row(label).name for label in labels),
        "kind": texts(layers.row(label).kind for label in labels),
        "part": texts(layers.part(label) for label in labels),
    }


def _figures(layers: Layers, dug: Sequence[Any]) -> dict[str, Column]:
    return {
        "bank": numbers(layers.bank(one.bank) for one in dug),
        "area": numbers(one.area for one in dug),
    }


def on_site(site: OnSite, corners: FloatArray) -> FloatArray:
    """Corners (m, 2 or 3) of the local frame on the site; heights stay."""
    moved = np.array(corners, dtype=np.float64)
    moved[:, :2] = site.frame.to_site(corners[:, :2])
    return moved


def wkb(shapes: Sequence[shapely.Geometry] | NDArray[np.object_]) -> Column:
    """Shapes as ISO well-known binary."""
    written = shapely.to_wkb(np.asarray(shapes, dtype=object), flavor="iso", byte_order=1)
    return pa.array(written, type=pa.binary())


def texts(words: Iterator[str]) -> Column:
    """The texts made plain; an empty one is null."""
    return pa.array([plain(text) or None for text in words], type=pa.string())


def numbers(values: Iterator[float | None]) -> Column:
    """The numbers; None is null."""
    return pa.array(list(values), type=pa.float64())
