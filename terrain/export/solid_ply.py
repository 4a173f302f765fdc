"""The excavated body as binary PLY 1.0, in the job's unit, elevations along the third axis."""

import json

import numpy as np

from terrain.export.look import colour_of
from terrain.export.text import plain
from terrain.job.layers import Layers

FACE = np.dtype(
    [("count", "u1"), ("corners", "<i4", 3), ("row", "<i4"), ("colour", "u1", 3)], align=False
)


def solid_ply(layers: Layers) -> bytes:
    """The file: each face has the number of its row; comments name the rows and tell the origin."""
    solid = layers.solid
    faces = np.empty(len(solid.faces), dtype=FACE)
    faces["count"], faces["corners"], faces["row"] = 3, solid.faces, solid.row
    colours = np.array([colour_of(row) for row in range(len(layers.rows))], dtype=np.uint8)
    faces["colour"] = colours[solid.row]
    vertices = np.ascontiguousarray(solid.vertices - layers.solid_origin, dtype="<f8")
    return _header(layers).encode("ascii") + vertices.tobytes() + faces.tobytes()


def _header(layers: Layers) -> str:
    easting, northing, upward = layers.solid_place
    comments = [
        f"spoilbank, {_quoted(layers.title)}",
        f"crs {_quoted(layers.crs) if layers.crs else 'none, local grid'}",
        f"unit {layers.unit.name} ({layers.unit.long_name})",
        f"origin easting {easting!r} northing {northing!r} elevation {upward!r}",
        *(
            f"row {k} {row.kind} {_quoted(row.name)} bank {row.quantity.bank!r} "
            f"{layers.unit.volume_name}"
            for k, row in enumerate(layers.rows)
        ),
    ]
    lines = [
        "ply",
        "format binary_little_endian 1.0",
        *(f"comment {comment}" for comment in comments),
        f"element vertex {len(layers.solid.vertices)}",
        *(f"property double {axis}" for axis in "xyz"),
        f"element face {len(layers.solid.faces)}",
        "property list uchar int vertex_indices",
        "property int row",
        *(f"property uchar {colour}" for colour in ("red", "green", "blue")),
        "end_header",
    ]
    return "\n".join(lines) + "\n"


def _quoted(text: str) -> str:
    """The text as a JSON string of ASCII, so that a header stays one line a comment."""
    return json.dumps(plain(text))
