"""The excavated body as binary glTF 2.0: metres, +Y up, a node a row of the ledger.

All rows share one list of vertices, so the body stays closed by index and not only by place.
Normals are left out: viewers then shade flat, as the standard says, and a pit has flat faces.
"""

import json
import struct
from typing import Any

import numpy as np

from terrain.base.arrays import FloatArray, IntArray
from terrain.export.look import colour_of, linear
from terrain.export.text import plain
from terrain.job.layers import Layers

MAGIC, VERSION, JSON_CHUNK, BINARY_CHUNK = 0x46546C67, 2, 0x4E4F534A, 0x004E4942
FLOAT, UNSIGNED_INT, VERTICES, INDICES = 5126, 5125, 34962, 34963


def solid_glb(layers: Layers) -> bytes:
    """The file. Its root node's `extras` give CRS, unit and the origin that was taken off."""
    origin = layers.solid_origin
    metres = float(layers.unit.metres)
    local = (layers.solid.vertices - origin) * metres
    vertices = np.column_stack([local[:, 0], local[:, 2], -local[:, 1]]).astype("<f4")
    faces = [
        layers.solid.faces[layers.solid.row == row].astype("<u4") for row in range(len(layers.rows))
    ]
    document, binary = _document(layers), b""
    if len(vertices):
        binary = _add_meshes(document, vertices, faces)
    return _container(document, binary)


def _document(layers: Layers) -> dict[str, Any]:
    """The glTF object with a node a row, as yet without meshes."""
    easting, northing, upward = layers.solid_place
    unit = layers.unit
    rows = [
        {
            "name": plain(row.name),
            "extras": {"row": k, "kind": row.kind, "bank": row.quantity.bank},
        }
        for k, row in enumerate(layers.rows)
    ]
    root = {
        "name": "dig",
        "children": list(range(1, len(rows) + 1)),
        "extras": {
            "title": plain(layers.title),
            "crs": layers.crs and plain(layers.crs),
            "origin": {"easting": easting, "northing": northing, "elevation": upward},
            "length_unit": unit.name,
            "metres_per_length_unit": float(unit.metres),
            "volume_unit": unit.volume_name,
            "axes": "x = easting, y = elevation, z = -northing, less the origin, in metres",
        },
    }
    return {
        "asset": {"version": "2.0", "generator": "spoilbank"},
        "scene": 0,
        "scenes": [{"nodes": [0]}],
        "nodes": [root, *rows],
    }


def _add_meshes(document: dict[str, Any], vertices: FloatArray, faces: list[IntArray]) -> bytes:
    """Give each row that has faces its mesh; the buffer they all are views of."""
    binary = vertices.tobytes()
    views = [{"buffer": 0, "byteLength": len(binary), "target": VERTICES}]
    accessors: list[dict[str, Any]] = [
        {
            "bufferView": 0, "componentType": FLOAT, "count": len(vertices), "type": "VEC3",
            "min": vertices.min(axis=0).tolist(), "max": vertices.max(axis=0).tolist(),
        }
    ]  # fmt: skip
    meshes: list[dict[str, Any]] = []
    materials: list[dict[str, Any]] = []
    for row, (node, own) in enumerate(zip(document["nodes"][1:], faces, strict=True)):
        if len(own) == 0:
            continue
        node["mesh"] = len(meshes)
        primitive = {
            "attributes": {"POSITION": 0}, "indices": len(accessors), "material": len(materials),
        }  # fmt: skip
        meshes.append({"name": node["name"], "primitives": [primitive]})
        materials.append(_material(node["name"], row))
        content = own.tobytes()
        accessors.append(
            {
                "bufferView": len(views), "componentType": UNSIGNED_INT, "count": own.size,
                "type": "SCALAR", "min": [int(own.min())], "max": [int(own.max())],
            }
        )  # fmt: skip
        views.append(
            {
                "buffer": 0, "byteOffset": len(binary), "byteLength": len(content),
                "target": INDICES,
            }
        )  # fmt: skip
        binary += content
    document |= {
        "meshes": meshes,
        "materials": materials,
        "accessors": accessors,
        "bufferViews": views,
        "buffers": [{"byteLength": len(binary)}],
    }
    return binary


def _material(name: str, row: int) -> dict[str, Any]:
    return {
        "name": name,
        "pbrMetallicRoughness": {
            "baseColorFactor": [*linear(colour_of(row)), 1.0],
            "metallicFactor": 0.0,
            "roughnessFactor": 1.0,
        },
    }


def _container(document: dict[str, Any], binary: bytes) -> bytes:
    """The GLB container, as glTF 2.0 section "Binary glTF layout" has it."""
    text = json.dumps(document, separators=(",", ":"), allow_nan=False).encode("ascii")
    chunks = [(JSON_CHUNK, text + b" " * (-len(text) % 4))]
    if binary:
        chunks.append((BINARY_CHUNK, binary))
    body = b"".join(struct.pack("<II", len(part), kind) + part for kind, part in chunks)
    return struct.pack("<III", MAGIC, VERSION, 12 + len(body)) + body
