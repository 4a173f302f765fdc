"""Scans as meshes: the same ground from every format, and nothing guessed about it."""

import json
import struct

import numpy as np
import pytest
import trimesh

from terrain.base.errors import SurveyError
from terrain.base.units import METRE
from terrain.survey.meshes import MeshAsRead

Z_FEET = MeshAsRead(up="z", unit="ft")
POINTS = np.array([[0, 0, 1], [40, 0, 2], [40, 60, 4], [0, 60, 3.5]])
FACES = np.array([[0, 1, 2], [0, 2, 3]])


def written(kind: str, points=POINTS, faces=FACES, **how) -> bytes:
    """A mesh as another library writes it."""
    data = trimesh.Trimesh(points, faces, process=False).export(file_type=kind, **how)
    return data.encode() if isinstance(data, str) else data


def heights(survey) -> list[list[float]]:
    """The corners of every triangle, each triangle begun at its lowest corner, in order."""
    corners = survey.triangles.points[survey.triangles.corners]
    turned = [np.roll(c, -int(np.lexsort(c.T[::-1])[0]), axis=0).ravel().tolist() for c in corners]
    return sorted(turned)


FORMATS = {
    "g.ply": written("ply"),
    "a.ply": written("ply", encoding="ascii"),
    "g.obj": written("obj"),
    "quad.obj": b"# ground\nmtllib none.mtl\no g\nv 0 0 1\nv 40 0 2 1.0\nv 40 60 4\nv 0 60 3.5\n"
    b"vt 0 0\nvn 0 0 1\ns off\nf 1/1/1 2//1 \\\n 3/1 -1\n",
    "G.GLB": written("glb"),
}


@pytest.mark.parametrize("name", FORMATS)
def test_every_format_gives_the_same_triangles(read, name):
    survey = read({name: FORMATS[name]}, mesh=Z_FEET)
    assert heights(survey) == sorted(POINTS[f].ravel().tolist() for f in FACES)
    assert survey.files[0].kind == name.rsplit(".")[1].lower()
    assert survey.shots.elevation.shape == (4,)
    told = any("glTF is by its standard" in note for note in survey.notes)
    assert told == (name == "G.GLB")


def test_with_y_up_north_is_minus_z_as_in_gltf(read):
    """glTF 2.0: +Y up, right-handed, metres."""
    turned = np.column_stack([POINTS[:, 0], POINTS[:, 2], -POINTS[:, 1]])
    survey = read({"g.glb": written("glb", turned)}, mesh=MeshAsRead(up="y", unit="m"), unit=METRE)
    assert heights(survey) == sorted(POINTS[f].ravel().tolist() for f in FACES)
    assert not any("standard" in note for note in survey.notes)


@pytest.mark.parametrize(
    ("unit", "feet"),
    [("ft", 1), ("in", 1 / 12), ("m", 1 / 0.3048), ("mm", 1 / 304.8), ("cm", 1 / 30.48),
     ("ftUS", 1200 / 3937 / 0.3048)],
)  # fmt: skip
def test_units_and_the_origin_are_those_the_job_states(read, unit, feet):
    points = POINTS / feet
    as_read = MeshAsRead(up="z", unit=unit, origin=(1000.0, 2000.0, 90.0))
    survey = read({"g.obj": written("obj", points, digits=12)}, mesh=as_read)
    asked = POINTS[np.lexsort(POINTS.T[::-1])] + [1000, 2000, 90]
    got = survey.triangles.points
    np.testing.assert_allclose(got[np.lexsort(got.T[::-1])], asked, atol=1e-6)


def test_parts_of_a_scene_stand_where_the_scene_puts_them(read):
    scene = trimesh.Scene()
    part = trimesh.Trimesh(POINTS, FACES, process=False)
    scene.add_geometry(part)
    scene.add_geometry(part, transform=trimesh.transformations.translation_matrix([40, 0, 5]))
    survey = read({"g.glb": scene.export(file_type="glb")}, mesh=Z_FEET)
    assert len(survey.triangles) == 4
    assert survey.files[0].high == (80.0, 60.0, 9.0)


def test_points_at_one_place_are_one_and_faces_of_two_corners_none(read):
    soup = POINTS[FACES].reshape(-1, 3)
    faces = [*np.arange(6).reshape(2, 3).tolist(), [0, 3, 1]]
    survey = read({"g.ply": written("ply", soup, faces)}, mesh=Z_FEET)
    assert len(survey.triangles.points) == 4
    assert len(survey.triangles) == 2


def header(*lines: str) -> bytes:
    return "\n".join(["ply", *lines, "end_header\n"]).encode()


def glb(document: object, binary: bytes = b"") -> bytes:
    text = json.dumps(document).encode()
    text += b" " * (-len(text) % 4)
    body = struct.pack("<II", len(text), 0x4E4F534A) + text
    if binary:
        body += struct.pack("<II", len(binary), 0x004E4942) + binary
    return struct.pack("<III", 0x46546C67, 2, 12 + len(body)) + body


ASCII = FORMATS["a.ply"]
OBJ = b"v 0 0 1\nv 40 0 2\nv 40 60 4\n"
VERTEX = ("element vertex 3", "property float x", "property float y", "property float z")
OUTSIDE = {
    "asset": {"version": "2.0"},
    "buffers": [{"uri": "../secret.bin", "byteLength": 36}],
    "bufferViews": [{"buffer": 0, "byteLength": 36}],
    "accessors": [{"bufferView": 0, "componentType": 5126, "count": 3, "type": "VEC3"}],
    "meshes": [{"primitives": [{"attributes": {"POSITION": 0}}]}],
    "nodes": [{"mesh": 0}], "scenes": [{"nodes": [0]}], "scene": 0,
}  # fmt: skip

BAD = {
    "an empty PLY": ("g.ply", b"", 1, "empty"),
    "PLY cut off in its faces": ("g.ply", FORMATS["g.ply"][:-9], None, "is cut off"),
    "PLY cut off in its points": ("g.ply", FORMATS["g.ply"][:-60], None, "is cut off"),
    "PLY cut off in its header": ("g.ply", FORMATS["g.ply"][:40], 1, "within its header"),
    "ASCII PLY cut off": ("g.ply", ASCII[: ASCII.rindex(b"3 ")], 15, "5 lines of 6"),
    "PLY of an unknown format": ("g.ply", header("format xml 1.0"), 2, "no line of a PLY header"),
    "PLY without a format": ("g.ply", header(*VERTEX, "element face 1"), 1, "no known format"),
    "PLY of no points": ("g.ply", header("format ascii 1.0", "element face 1"), None, "no points"),
    "PLY of points cut off": ("g.ply", header("format ascii 1.0", *VERTEX), 7, "0 lines of 3 are"),
    "PLY that promises much": (
        "g.ply", FORMATS["g.ply"].replace(b"face 2", b"face 999999999"), None, "is cut off"),
    "PLY with NaN": ("g.ply", written("ply", np.where(POINTS == 4, np.nan, POINTS)), None,
                     "1 point without a place"),
    "PLY to no point": ("g.ply", written("ply", faces=FACES + 2), None, "not there"),
    "OBJ called PLY": ("g.ply", OBJ, None, "no PLY mesh"),
    "PLY called OBJ": ("g.obj", ASCII, None, "this is a PLY mesh"),
    "OBJ with garbage": ("g.obj", OBJ + b"\xc2\x9b2Jhello\nf 1 2 3\n", 4, "no statement"),
    "OBJ with a word for a number": ("g.obj", OBJ + b"v 0 x 1\nf 1 2 3\n", 4, '"x" is not a'),
    "OBJ with NaN": ("g.obj", OBJ + b"v 0 nan 1\nf 1 2 3\n", 4, '"nan"'),
    "OBJ with two coordinates": ("g.obj", OBJ + b"v 0 1\nf 1 2 3\n", 4, "2 numbers"),
    "OBJ to no point": ("g.obj", OBJ + b"f 1 2 4\n", 4, "point 4 of 3"),
    "OBJ to point nought": ("g.obj", OBJ + b"f 0 1 2\n", 4, "point 0"),
    "OBJ before the first point": ("g.obj", OBJ + b"f -1 -2 -4\n", 4, "point -4"),
    "OBJ with a face of two": ("g.obj", OBJ + b"f 1 2\n", 4, "2 corners"),
    "OBJ with a face of words": ("g.obj", OBJ + b"f 1 2 a\n", 4, '"a"'),
    "OBJ without faces": ("g.obj", OBJ, None, "no faces"),
    "OBJ of bytes": ("g.obj", bytes(range(1, 9)) * 100, 1, "no text"),
    "an empty OBJ": ("g.obj", b"", 1, "empty"),
    "GLB cut off": ("g.glb", FORMATS["G.GLB"][:-30], None, "cut off"),
    "GLB cut off in its head": ("g.glb", FORMATS["G.GLB"][:18], None, "cut off"),
    "GLB of version 1": ("g.glb", b"glTF" + struct.pack("<II", 1, 20) + bytes(8), None, "GLTF 2"),
    "GLB of nothing": ("g.glb", glb({"asset": {"version": "2.0"}}), None, ""),
    "GLB that is no scene": ("g.glb", glb([1, 2]), None, "damaged"),
    "GLB that looks outside": ("g.glb", glb(OUTSIDE), None, "damaged"),
    "GLB whose points are elsewhere": (
        "g.glb", glb({**OUTSIDE, "buffers": [{"uri": "points.bin", "byteLength": 36}]}), None,
        "whole in one file. Export it again."),
    "glTF as text": ("g.glb", b'{"asset": {"version": "2.0"}}', None, "no GLB mesh"),
    "inside out": ("g.ply", written("ply", faces=FACES[:, ::-1]), None, "inside out"),
    "a body inside out": (
        "g.ply", written("ply", (box := trimesh.creation.box((20, 20, 9))).vertices,
                         box.faces[:, ::-1]), None, "inside out"),
    "millimetres taken for feet": ("g.ply", written("ply", POINTS * 304.8), None, "too wide"),
    "feet taken for millimetres": ("mm.ply", FORMATS["g.ply"], None, "too small"),
}  # fmt: skip


@pytest.mark.parametrize("case", BAD)
def test_a_bad_mesh_is_one_clear_error(read, case, tmp_path):
    (tmp_path.parent / "secret.bin").write_bytes(POINTS[:3].astype("<f4").tobytes())
    name, content, line, words = BAD[case]
    as_read = MeshAsRead(up="z", unit="mm" if name == "mm.ply" else "ft")
    with pytest.raises(SurveyError) as caught:
        read({name: content}, mesh=as_read)
    fault = caught.value.faults[0]
    assert (fault.file, len(caught.value.faults)) == (name, 1)
    assert words in fault.message
    assert fault.message.isprintable()
    assert len(fault.message) < 400
    if line is not None:
        assert fault.line == line


def test_a_mesh_without_a_stated_axis_and_unit_is_refused(read):
    for name in ("g.ply", "g.obj", "G.GLB"):
        with pytest.raises(SurveyError, match="which axis is up and the unit"):
            read({name: FORMATS[name]})


def test_all_bad_lines_of_an_obj_are_told_at_once(read):
    with pytest.raises(SurveyError) as caught:
        read({"g.obj": OBJ + b"v 1\nf 1 2 9\nwhat\n"}, mesh=Z_FEET)
    assert [f.line for f in caught.value.faults] == [4, 5, 6]


@pytest.mark.parametrize("name", ["g.ply", "a.ply", "g.obj", "G.GLB"])
def test_bytes_turned_at_random_are_read_or_refused_and_nothing_else(read, name):
    rng = np.random.default_rng(11)
    refused = passed = 0
    for _ in range(150):
        data = bytearray(FORMATS[name])
        for at in rng.integers(0, len(data), 3):
            data[at] = rng.integers(0, 256)
        try:
            read({name: bytes(data)}, mesh=Z_FEET)
        except SurveyError as error:
            refused += error.faults[0].file == name
        else:
            passed += 1
    assert refused + passed == 150
    assert refused > 10
