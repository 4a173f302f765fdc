"""Ground files that can't be used end with status 1 and one clear message; odd names stay text."""

import re
from pathlib import Path

import numpy as np
import pytest
import trimesh
from typer.testing import CliRunner

from terrain.cli.main import app
from tests.job.made_job import changed, small, toml
from tests.survey.made_landxml import FACES, SQUARE, landxml, surface

MESH = {"up": "z", "unit": "ft"}
POINTS = np.array([[40, 140, 100], [210, 140, 101], [210, 300, 102], [40, 300, 101.0]])
LEVEL = np.array([[0, 1, 2], [0, 2, 3]])
LAUGHS = '<!DOCTYPE x [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;">]>\n'


def ply(points: np.ndarray, faces: np.ndarray = LEVEL) -> bytes:
    data: bytes = trimesh.Trimesh(points, faces, process=False).export(file_type="ply")
    return data


BAD = {
    "an empty LandXML": ("g.xml", "", "the file is empty"),
    "LandXML without surfaces": ("g.xml", "<LandXML version='1.2'><Units><Metric "
                                 "linearUnit='meter'/></Units></LandXML>", "no surface in it"),
    "another schema": ("g.xml", "<CityModel xmlns='http://www.opengis.net/citygml/2.0'/>",
                       "no LandXML"),
    "entities that grow": ("g.xml", landxml(surface(name="&b;"), head=LAUGHS), "DOCTYPE"),
    "LandXML without units": ("g.xml", landxml(units=""), "states no units"),
    "a face to a missing point": ("g.xml", landxml(surface(faces=[*FACES, (3, 7, 8)])), '"8"'),
    "NaN in LandXML": ("g.xml", landxml(surface([*SQUARE, (1, 2, 3, "NaN")])), '"NaN"'),
    "faces that overlap": ("g.xml", landxml(surface(faces=[*FACES, (7, 3, 11)])), "two heights"),
    "a mesh of an upright wall": ("g.ply", ply(POINTS[:, [0, 0, 1]] * [1, 0, 1]), "no ground"),
    "a mesh inside out": ("g.ply", ply(POINTS, LEVEL[:, ::-1]), "inside out"),
    "a mesh in millimetres": ("g.ply", ply(POINTS * 304.8), "too wide for a lot"),
    "a PLY cut off": ("g.ply", ply(POINTS)[:-5], "is cut off"),
    "an OBJ with garbage": ("g.obj", "v 0 0 0\nv 9 0 0\nv 0 9 0\nrubbish\nf 1 2 3\n", "rubbish"),
    "a GLB of nothing": ("g.glb", b"glTF" + bytes(40), "Export it again"),
    "ground beside the house": ("g.ply", ply(POINTS + np.eye(3)[0] * 900), "not cover the floor"),
}  # fmt: skip


def job(folder: Path, name: str, content: str | bytes) -> Path:
    (folder / name).write_bytes(content.encode() if isinstance(content, str) else content)
    existing = {"shots": [name]} if name.endswith("xml") else {"shots": [name], "mesh": MESH}
    path = folder / "job.toml"
    path.write_text(toml(changed(small(), ("existing",), existing)))
    return path


@pytest.mark.parametrize("case", BAD)
def test_bad_ground_is_one_clear_message_and_status_1(tmp_path, case):
    name, content, words = BAD[case]
    path = job(tmp_path, name, content)
    result = CliRunner().invoke(app, ["volumes", str(path)])
    assert result.exit_code == 1, result.output
    assert isinstance(result.exception, SystemExit)
    assert words in result.stderr
    assert result.stdout == ""
    assert "Traceback" not in result.stderr
    assert len(result.stderr.splitlines()) <= 4
    assert not (tmp_path / "out").exists()


def test_a_file_name_with_markup_stays_text_wherever_it_is_shown(tmp_path):
    name = "<img src=x onerror=alert(1)>[red]&amp;.ply"
    path = job(tmp_path, name, ply(POINTS))
    for command in ("check", "volumes"):
        result = CliRunner().invoke(app, [command, str(path)], env={"COLUMNS": "300"})
        assert result.exit_code == 0, result.output
    assert "[red]" in CliRunner().invoke(app, ["check", str(path)]).stdout
    page = (tmp_path / "out" / "report.html").read_text(encoding="utf-8")
    assert "<img src=x" not in page
    assert "&lt;img src=x onerror=alert(1)&gt;[red]&amp;amp;.ply" in page


def test_a_step_in_few_large_triangles_beside_a_dense_scan_is_drawn(tmp_path):
    """No point of the ground stands near the dig, and the scan has too many for a picture."""
    easting, northing = np.meshgrid(np.linspace(400, 500, 90), np.linspace(140, 300, 90))
    dense = np.column_stack([easting.ravel(), northing.ravel(), 0 * easting.ravel() + 100])
    a = (np.arange(89)[:, None] * 90 + np.arange(89)).ravel()
    cells = np.vstack([np.column_stack([a, a + 1, a + 91]), np.column_stack([a, a + 91, a + 90])])
    west, east = POINTS.copy(), POINTS.copy()
    west[1:3, 0], east[[0, 3], 0] = 124, 124
    points = np.vstack([west, east + np.array([0, 0, 1]), dense])
    path = job(tmp_path, "scan.ply", ply(points, np.vstack([LEVEL, LEVEL + 4, cells + 8])))
    result = CliRunner().invoke(app, ["volumes", str(path)])
    assert result.exit_code == 0, result.output
    assert (tmp_path / "out" / "report.html").exists()


def test_the_page_tells_what_was_read_of_a_mesh_and_what_hangs_over(tmp_path):
    canopy = np.array([[110, 210, 120], [130, 210, 120], [130, 230, 120], [110, 230, 120.0]])
    content = ply(np.vstack([POINTS, canopy]), np.vstack([LEVEL, LEVEL + 4]))
    path = job(tmp_path, "scan.ply", content)
    result = CliRunner().invoke(app, ["volumes", str(path)])
    assert result.exit_code == 0, result.output
    page = (tmp_path / "out" / "report.html").read_text(encoding="utf-8")
    assert "scan.ply" in page
    assert re.search(r"400\.00 ft² of ground lie under other parts of the mesh", page)
