"""The solid's files, read by the standards' letter and by trimesh: closed, named, whole."""

import io
import json
import math
import struct

import numpy as np
import pytest
import trimesh

from terrain.base.units import LENGTH_UNITS
from terrain.export.look import COLOURS
from terrain.export.solid_glb import solid_glb
from terrain.export.solid_ply import solid_ply
from terrain.export.text import plain
from tests.oracles.solids import closed

FLOAT32 = 1e-6  # DESIGN: float32 files agree within this


def read_glb(content: bytes) -> tuple[dict, bytes]:
    """The JSON and the binary chunk of a GLB file, its lengths checked."""
    magic, version, length = struct.unpack_from("<4sII", content)
    assert (magic, version, length) == (b"glTF", 2, len(content))
    at, chunks = 12, []
    while at < length:
        size, kind = struct.unpack_from("<I4s", content, at)
        assert size % 4 == 0
        chunks.append((kind, content[at + 8 : at + 8 + size]))
        at += 8 + size
    assert [kind for kind, _ in chunks] in ([b"JSON"], [b"JSON", b"BIN\0"])
    return json.loads(chunks[0][1]), chunks[1][1] if len(chunks) > 1 else b""


def values(document: dict, binary: bytes, which: int) -> np.ndarray:
    """What an accessor holds, its stated bounds checked."""
    accessor = document["accessors"][which]
    view = document["bufferViews"][accessor["bufferView"]]
    kind, width = {5126: ("<f4", 3), 5125: ("<u4", 1)}[accessor["componentType"]]
    assert accessor["type"] == {3: "VEC3", 1: "SCALAR"}[width]
    start = view.get("byteOffset", 0)
    assert start % 4 == 0
    assert view["byteLength"] == accessor["count"] * width * 4
    found = np.frombuffer(binary, kind, accessor["count"] * width, start).reshape(-1, width)
    assert found.min(axis=0).tolist() == accessor["min"]
    assert found.max(axis=0).tolist() == accessor["max"]
    return found


def by_row(content: bytes) -> tuple[dict, np.ndarray, dict[int, np.ndarray]]:
    """The root node's extras, all vertices, and the faces of each row that has some."""
    document, binary = read_glb(content)
    assert document["buffers"] == [{"byteLength": len(binary)}]
    root = document["nodes"][document["scenes"][document["scene"]]["nodes"][0]]
    faces = {}
    for child in root["children"]:
        node = document["nodes"][child]
        if "mesh" in node:
            (primitive,) = document["meshes"][node["mesh"]]["primitives"]
            assert primitive["attributes"] == {"POSITION": 0}
            assert document["materials"][primitive["material"]]["name"] == node["name"]
            own = values(document, binary, primitive["indices"])
            faces[node["extras"]["row"]] = own.reshape(-1, 3).astype(np.int64)
    return root, values(document, binary, 0).astype(np.float64), faces


def volume(vertices: np.ndarray, faces: np.ndarray) -> float:
    a, b, c = (vertices[faces[:, k]] - vertices.mean(axis=0) for k in range(3))
    return math.fsum(np.einsum("ij,ij->i", a, np.cross(b, c)).tolist()) / 6


def plan_area(vertices: np.ndarray, faces: np.ndarray) -> float:
    """Plan area of the faces that look up, the third axis upward."""
    a, b, c = (vertices[faces[:, k], :2] for k in range(3))
    double = (b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]
    return float(double[double > 0].sum()) / 2


def lid_area(layers, row: int) -> float:
    return plan_area(layers.solid.vertices, layers.solid.faces[layers.solid.row == row])


def check_closed(faces: np.ndarray) -> None:
    edges = [e for a, b, c in faces.tolist() for e in ((a, b), (b, c), (c, a))]
    assert len(set(edges)) == len(edges)
    assert set(edges) == {(b, a) for a, b in edges}


def cubic_metres(answer, layers) -> float:
    cubic = answer.ledger.total.quantity.bank * layers.unit.cubic_units_per_volume_unit
    return cubic * float(layers.unit.metres) ** 3


def test_glb_is_closed_and_holds_the_ledgers_volume_in_cubic_metres(job):
    answer, layers = job
    root, vertices, faces = by_row(solid_glb(layers))
    whole = np.concatenate(list(faces.values()))
    check_closed(whole)
    assert volume(vertices, whole) == pytest.approx(cubic_metres(answer, layers), rel=FLOAT32)
    assert root["extras"]["length_unit"] == layers.unit.name
    assert root["extras"]["crs"] == layers.crs


def test_glb_has_y_up_and_its_origin_leads_back_to_the_site(job):
    _, layers = job
    root, vertices, faces = by_row(solid_glb(layers))
    extras = root["extras"]
    assert LENGTH_UNITS[extras["length_unit"]] == layers.unit
    metres = float(layers.unit.metres)
    origin = [extras["origin"][key] for key in ("easting", "northing", "elevation")]
    assert all(value == round(value) for value in origin)
    site = np.column_stack([vertices[:, 0], -vertices[:, 2], vertices[:, 1]]) / metres + origin
    wanted = layers.solid.vertices + np.append(layers.frame.origin, 0.0)
    assert np.abs(site - wanted).max() < 2e-5
    for row, own in faces.items():
        turned = vertices[:, [0, 2, 1]] * [1.0, -1.0, 1.0]
        area = plan_area(turned, own) / metres**2
        assert area == pytest.approx(lid_area(layers, row), rel=1e-5, abs=1e-4)


def test_every_row_of_the_glb_has_its_name_and_bank_volume(job):
    answer, layers = job
    document, _ = read_glb(solid_glb(layers))
    ledger = answer.ledger
    wanted = {("wall", w.wall): w.quantity.bank for w in ledger.walls}
    wanted |= {(p.kind, p.name): p.quantity.bank for p in ledger.pits}
    nodes = document["nodes"][1:]
    assert {(n["extras"]["kind"], n["name"]): n["extras"]["bank"] for n in nodes} == wanted


def test_trimesh_reads_the_glb_as_one_closed_body_with_the_rows_by_name(demo):
    answer, layers = demo
    scene = trimesh.load_scene(io.BytesIO(solid_glb(layers)), file_type="glb", process=False)
    assert set(scene.geometry) == {row.name for row in layers.rows}
    whole = scene.to_mesh()
    whole.merge_vertices(merge_tex=True, merge_norm=True)
    assert whole.is_watertight
    assert whole.is_winding_consistent
    assert whole.volume == pytest.approx(cubic_metres(answer, layers), rel=FLOAT32)
    for row, (name, mesh) in zip(layers.rows, scene.geometry.items(), strict=True):
        assert name == row.name
        assert len(mesh.faces) == int((layers.solid.row == layers.rows.index(row)).sum())


def read_ply(content: bytes) -> tuple[list[str], np.ndarray, np.ndarray]:
    """Header lines, vertices and faces, for the one layout that PLY's header here may declare."""
    head, _, body = content.partition(b"end_header\n")
    lines = head.decode("ascii").splitlines()
    elements = [line.split() for line in lines if line.startswith("element")]
    (_, _, vertices), (_, _, faces) = elements
    assert [line for line in lines if line.startswith("property")] == [
        "property double x", "property double y", "property double z",
        "property list uchar int vertex_indices", "property int row",
        "property uchar red", "property uchar green", "property uchar blue",
    ]  # fmt: skip
    size = int(vertices) * 24
    face = np.dtype([("n", "u1"), ("corner", "<i4", 3), ("row", "<i4"), ("rgb", "u1", 3)])
    assert len(body) == size + int(faces) * face.itemsize
    found = np.frombuffer(body, face, int(faces), size)
    assert (found["n"] == 3).all()
    return lines, np.frombuffer(body, "<f8", int(vertices) * 3).reshape(-1, 3).copy(), found


def test_ply_is_closed_and_holds_the_ledgers_volume_in_the_jobs_unit(job):
    answer, layers = job
    lines, vertices, faces = read_ply(solid_ply(layers))
    corners = faces["corner"].astype(np.int64)
    check_closed(corners)
    cubic = answer.ledger.total.quantity.bank * layers.unit.cubic_units_per_volume_unit
    assert volume(vertices, corners) == pytest.approx(cubic, rel=1e-9)
    assert closed(vertices, corners).volume() == pytest.approx(cubic, rel=1e-9)
    assert any(line.startswith(f"comment unit {layers.unit.name} ") for line in lines)
    origin = next(line.split() for line in lines if line.startswith("comment origin"))
    site = vertices + [float(origin[k]) for k in (3, 5, 7)]
    wanted = layers.solid.vertices + np.append(layers.frame.origin, 0.0)
    assert np.abs(site - wanted).max() < 1e-8


def test_every_row_of_the_ply_is_named_in_a_comment_and_has_its_faces(job):
    _, layers = job
    lines, vertices, faces = read_ply(solid_ply(layers))
    known = ("ply", "format ", "comment ", "element ", "property ")
    assert all(line.startswith(known) for line in lines)
    told = [line.split(" ", 4) for line in lines if line.startswith("comment row")]
    for row, words in zip(layers.rows, told, strict=True):
        number, kind = int(words[2]), words[3]
        name, _ = json.JSONDecoder().raw_decode(words[4])
        assert (kind, name) == (row.kind, plain(row.name))
        own = faces["row"] == number
        area = plan_area(vertices, faces["corner"][own])
        assert area == pytest.approx(lid_area(layers, number), rel=1e-9, abs=1e-9)
        assert (faces["rgb"][own] == COLOURS[number % len(COLOURS)]).all()


def test_trimesh_reads_the_ply_as_one_closed_body(job):
    answer, layers = job
    mesh = trimesh.load_mesh(io.BytesIO(solid_ply(layers)), file_type="ply", process=False)
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    cubic = answer.ledger.total.quantity.bank * layers.unit.cubic_units_per_volume_unit
    assert mesh.volume == pytest.approx(cubic, rel=1e-9)
    assert np.array_equal(mesh.faces, layers.solid.faces)


def test_where_nothing_is_dug_both_files_are_empty_and_sound(nothing_dug):
    _, layers = nothing_dug
    document, binary = read_glb(solid_glb(layers))
    assert binary == b""
    assert not {"meshes", "accessors", "buffers"} & set(document)
    assert len(document["nodes"]) == 1 + len(layers.rows)
    _, vertices, faces = read_ply(solid_ply(layers))
    assert len(vertices) == len(faces) == 0


def test_colours_of_neighbours_differ_in_grey():
    # relative luminance of IEC 61966-2-1; a contrast of 1.5 is common practice, no source
    light = [np.dot([0.2126, 0.7152, 0.0722], (np.array(c) / 255) ** 2.2) for c in COLOURS]
    for one, other in zip(light, light[1:] + light[:1], strict=True):
        assert (max(one, other) + 0.05) / (min(one, other) + 0.05) > 1.5
