"""Ground that a file brings ready made gives the volumes of the same ground from shots."""

from pathlib import Path
from typing import Any

import numpy as np
import pytest
import trimesh

from terrain.base.errors import JobError, SpoilbankError, SurveyError
from terrain.base.units import FOOT
from terrain.export.surfaces_xml import write_surfaces_xml
from terrain.job.check import check
from terrain.job.layers import layers_of
from terrain.job.load import load_job
from terrain.job.ready import tin_of
from terrain.job.volumes import told, volumes, work_out
from terrain.surface.overlay import overlay
from terrain.surface.tin import build_tin, tin_surface
from terrain.survey.georef import Site
from terrain.survey.landxml import LandxmlAsked, read_landxml
from tests.job.made_job import changed, small, toml
from tests.survey.made_landxml import landxml, surface

FT = {"up": "z", "unit": "ft"}


def shots(seed: int = 4) -> np.ndarray:
    """A bumpy slope round the foundation of the small job, easting, northing, elevation."""
    rng = np.random.default_rng(seed)
    plan = np.vstack([rng.uniform([40, 140], [210, 300], (300, 2)),
                      [[40, 140], [210, 140], [210, 300], [40, 300]]])  # fmt: skip
    return np.column_stack([plan, 100 + plan[:, 0] / 40 + rng.uniform(0, 1, len(plan))])


def triangles(points: np.ndarray) -> np.ndarray:
    tin = build_tin(points)
    return tin.shot[tin.triangles]


def as_landxml(points: np.ndarray, corners: np.ndarray) -> str:
    rows = [(i, repr(n), repr(e), repr(z)) for i, (e, n, z) in enumerate(points.tolist())]
    return landxml(surface(rows, corners.tolist()))


def as_mesh(points: np.ndarray, corners: np.ndarray, kind: str) -> bytes:
    data = trimesh.Trimesh(points, corners, process=False).export(file_type=kind)
    return data.encode() if isinstance(data, str) else data


def job_with(folder: Path, content: str | bytes, name: str, **existing: Any) -> Path:
    """The small job on the ground of one file."""
    folder.mkdir(exist_ok=True)
    (folder / name).write_bytes(content.encode() if isinstance(content, str) else content)
    path = folder / "job.toml"
    path.write_text(toml(changed(small(), ("existing",), {"shots": [name], **existing})))
    return path


def dug(path: Path) -> Any:
    return volumes(load_job(path))


def text(points: np.ndarray) -> str:
    return "n,e,z\n" + "".join(f"{n!r},{e!r},{z!r}\n" for e, n, z in points.tolist())


def test_landxml_gives_the_very_figures_of_its_shots(tmp_path):
    points = shots()
    one = dug(job_with(tmp_path / "a", text(points), "s.csv", accuracy=0.05))
    two = dug(job_with(tmp_path / "b", as_landxml(points, triangles(points)), "s.xml",
                       accuracy=0.05))  # fmt: skip
    for ours, theirs in zip(one.ledger.walls, two.ledger.walls, strict=True):
        assert theirs.quantity.bank == pytest.approx(ours.quantity.bank, rel=1e-14)
    ours, theirs = (a.ledger.total.bank_plus_minus_95 for a in (one, two))
    assert theirs == pytest.approx(ours, rel=1e-9)
    assert two.inputs[0].kind == "landxml"
    assert two.inputs[0].shots == len(points)


@pytest.mark.parametrize(
    ("kind", "mesh"),
    [("ply", FT), ("obj", FT), ("glb", {"up": "y", "unit": "m", "origin": [100.0, 200.0, 90.0]})],
)
def test_a_mesh_gives_the_same_within_its_own_digits(tmp_path, kind, mesh):
    points = shots()
    corners = triangles(points)
    ours = dug(job_with(tmp_path / "a", text(points), "s.csv")).ledger
    local = points
    if kind == "glb":
        local = (points - mesh["origin"])[:, [0, 2, 1]] * [0.3048, 0.3048, -0.3048]
    theirs = dug(job_with(tmp_path / "b", as_mesh(local, corners, kind), f"s.{kind}", mesh=mesh))
    for one, two in zip(ours.walls, theirs.ledger.walls, strict=True):
        assert two.quantity.bank == pytest.approx(one.quantity.bank, rel=1e-6)


def with_canopy(points: np.ndarray, corners: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The ground with a closed box of 20 by 20 by 1 hanging over the house, and a wall."""
    box = trimesh.creation.box((20, 20, 1))
    hung = box.vertices + np.array([124.3, 218.7, 115.0])
    wall = np.array([[110, 210, 104], [130, 210, 104], [120, 210, 112.0]])
    faces = [corners, box.faces + len(points), [[len(points) + 8 + k for k in range(3)]]]
    return np.vstack([points, hung, wall]), np.vstack(faces)


def test_under_an_overhang_the_lowest_sheet_is_dug_and_it_is_said(tmp_path):
    points = shots()
    corners = triangles(points)
    ours = dug(job_with(tmp_path / "a", text(points), "s.csv")).ledger
    hung = as_mesh(*with_canopy(points, corners), "obj")
    answer = dug(job_with(tmp_path / "b", hung, "s.obj", mesh=FT))
    for one, two in zip(ours.walls, answer.ledger.walls, strict=True):
        assert two.quantity.bank == pytest.approx(one.quantity.bank, rel=1e-6)
    notes = " ".join(answer.notes)
    assert "400.00 ft² of ground lie under other parts of the mesh" in notes
    assert "2 faces look down and are no ground, 400.0 ft² in plan: the underside" in notes
    assert "9 faces without area in plan left out" in notes


def test_a_dig_through_a_step_in_the_mesh_is_dug_whole(tmp_path):
    """Level ground at 100 west of easting 124 and 101 east of it, joined by an upright face.

    Of a box of 52 by 40 (overdig 2, sides upright) with its floor at 92.5 the step takes 26 by 40
    by 1 more than level ground.
    """
    west = np.array([[40, 140, 100], [124, 140, 100], [124, 300, 100], [40, 300, 100]])
    east = np.array([[124, 140, 101], [210, 140, 101], [210, 300, 101], [124, 300, 101]])
    points = np.vstack([west, east]).astype(float)
    flat = np.array([[0, 1, 2], [0, 2, 3]])
    corners = np.vstack([flat, flat + 4, [[1, 2, 7], [1, 7, 4]]])
    for kind in ("obj", "ply"):
        path = job_with(tmp_path / kind, as_mesh(points, corners, kind), f"s.{kind}", mesh=FT)
        path.write_text(path.read_text().replace("side = 1.0", "side = 0"))
        answer = dug(path)
        cubic = 52 * 40 * 7.5 + 26 * 40 * 1
        assert answer.ledger.total.quantity.bank == pytest.approx(cubic / 27, rel=1e-12)
        assert any("the ground jumps at 2 spots" in note for note in answer.notes)


def test_our_own_landxml_reads_back_to_the_same_volumes(tmp_path):
    points = shots()
    job = load_job(job_with(tmp_path / "a", text(points), "s.csv"))
    worked = work_out(job)
    answer = told(worked)
    (tmp_path / "b").mkdir()
    path = tmp_path / "b" / "s.xml"
    write_surfaces_xml(layers_of(worked, answer), path)
    again = dug(job_with(tmp_path / "b", path.read_bytes(), "s.xml", surface="existing"))
    for one, two in zip(answer.ledger.walls, again.ledger.walls, strict=True):
        assert two.quantity.bank == pytest.approx(one.quantity.bank, rel=1e-14)


def test_our_own_dig_surface_reads_back_to_the_ledgers_total(tmp_path):
    points = shots()
    worked = work_out(load_job(job_with(tmp_path, text(points), "s.csv")))
    write_surfaces_xml(layers_of(worked, told(worked)), tmp_path / "s.xml")
    asked = LandxmlAsked(site=Site(unit=FOOT), surface="dig")
    dig = tin_of(read_landxml(tmp_path / "s.xml", "s.xml", asked), worked.layout.frame, FOOT)
    pairs = overlay(worked.existing.ground.surface, tin_surface(dig))
    assert pairs.volume_above.sum() == pytest.approx(worked.figures.total, rel=1e-9)


def test_check_tells_what_was_read_of_ready_ground(tmp_path):
    points = shots()
    corners = triangles(points)
    result = check(load_job(job_with(tmp_path, as_landxml(points, corners), "s.xml")))
    assert result.ground.triangles == len(corners)
    assert result.ground.area == pytest.approx(170 * 160)
    assert any("taken as it is" in note for note in result.notes)


def test_faces_that_turn_right_are_turned_over_and_it_is_said(tmp_path):
    points = shots()
    corners = triangles(points)
    ours = dug(job_with(tmp_path / "a", as_landxml(points, corners), "s.xml")).ledger
    turned = corners.copy()
    turned[::3] = turned[::3, ::-1]
    theirs = dug(job_with(tmp_path / "b", as_landxml(points, turned), "s.xml"))
    assert theirs.ledger.total.quantity.bank == pytest.approx(ours.total.quantity.bank, rel=1e-14)
    assert any(f"{len(turned[::3])} faces turn right" in note for note in theirs.notes)


def test_faces_of_landxml_that_overlap_are_refused_by_their_lines(tmp_path):
    points = shots()
    corners = triangles(points)
    over = np.array([[len(points) - 4, len(points) - 3, len(points) - 2]])
    path = job_with(tmp_path, as_landxml(points, np.vstack([corners, over])), "s.xml")
    with pytest.raises(SurveyError, match="lies on the ground of the face in line") as caught:
        dug(path)
    last = 4 + len(points) + 1 + len(corners)
    assert caught.value.faults[0].line == last
    assert "more pairs of faces overlap" in str(caught.value.faults[-1])


def test_a_mesh_without_ground_is_refused(tmp_path):
    upright = np.array([[40, 140, 0], [200, 140, 0], [200, 140, 50], [40, 140, 50.0]])
    path = job_with(tmp_path, as_mesh(upright, np.array([[0, 1, 2], [0, 2, 3]]), "ply"), "s.ply",
                    mesh=FT)  # fmt: skip
    with pytest.raises(SurveyError, match="no ground in it"):
        dug(path)


RULES: list[tuple[dict[str, Any], str, str]] = [
    ({"shots": ["s.ply"]}, "existing.mesh", "required"),
    ({"shots": ["s.glb"]}, "existing.mesh", "required"),
    ({"shots": ["s.csv"], "mesh": FT}, "existing.mesh", "no use without a mesh"),
    ({"shots": ["s.xml"], "mesh": FT}, "existing.mesh", "no use without a mesh"),
    ({"shots": ["s.ply"], "mesh": {"up": "z"}}, "existing.mesh.unit", "required"),
    ({"shots": ["s.ply"], "mesh": {"unit": "m"}}, "existing.mesh.up", "required"),
    ({"shots": ["s.ply"], "mesh": {"up": "x", "unit": "m"}}, "existing.mesh.up", '"z" or "y"'),
    ({"shots": ["s.ply"], "mesh": {"up": "z", "unit": "yd"}}, "existing.mesh.unit", '"mm"'),
    ({"shots": ["s.ply"], "mesh": FT | {"origin": [1, 2]}}, "existing.mesh.origin", "elevation"),
    ({"shots": ["s.ply", "s.csv"], "mesh": FT}, "existing.shots[1]", "name it alone"),
    ({"shots": ["s.csv", "s.xml"]}, "existing.shots[2]", "name it alone"),
    ({"shots": ["s.csv"], "surface": "a"}, "existing.surface", "no use without a LandXML"),
    ({"shots": ["s.ply"], "mesh": FT, "surface": "a"}, "existing.surface", "without a LandXML"),
    ({"shots": ["s.xml"], "breaklines": ["a"]}, "existing.breaklines", "brings the ground ready"),
    ({"shots": ["s.xml"], "max_edge": 5.0}, "existing.max_edge", "brings the ground ready"),
    ({"shots": ["s.ply"], "mesh": FT, "marks": {"a": 1.0}}, "existing.marks", "no use with"),
]  # fmt: skip


@pytest.mark.parametrize(("existing", "key", "words"), RULES)
def test_keys_that_ready_ground_needs_or_has_no_use_for(tmp_path, existing, key, words):
    for name in ("s.csv", "s.ply", "s.glb", "s.xml"):
        (tmp_path / name).write_text("x")
    path = tmp_path / "job.toml"
    path.write_text(toml(changed(small(), ("existing",), existing)))
    with pytest.raises(JobError) as caught:
        load_job(path)
    [fault] = [f for f in caught.value.faults if f.key == key]
    assert words in fault.message
    assert fault.line is not None


def test_a_surface_that_is_not_there_points_at_the_key(tmp_path):
    points = shots()
    path = job_with(tmp_path, as_landxml(points, triangles(points)), "s.xml", surface="e.g.")
    with pytest.raises(SpoilbankError) as caught:
        dug(path)
    [fault] = caught.value.faults
    assert fault.key == "existing.surface"
    assert fault.file == str(path)
    assert 'the nearest are "EG"' in fault.message
