"""A scan in a frame of its own digs the same hole as the same ground surveyed on the site."""

from pathlib import Path

import laspy
import numpy as np
import pytest
from scipy.spatial import Delaunay
from scipy.spatial.transform import Rotation

from terrain.base.errors import SpoilbankError
from terrain.job.ground import read_survey
from terrain.job.load import load_job
from terrain.job.volumes import volumes
from tests.job.made_job import small, write_job

TURN = Rotation.from_euler("zyx", [70.0, 3.0, -2.0], degrees=True).as_matrix()
AWAY = np.array([124.0, 218.0, 100.0])
TARGETS = AWAY + np.array([[40.0, 5.0, 3.0], [-35.0, 20.0, 1.0], [0.0, -38.0, 4.0], [30.0, 30, 2]])


def ground(count=2500):
    plan = np.random.default_rng(2).uniform([44.0, 138.0], [204.0, 298.0], (count, 2))
    return np.column_stack([plan, 100.0 + 0.02 * plan[:, 0] - 0.03 * plan[:, 1]])


def own_frame(points, per_foot=0.3048):
    """The scan's own numbers: metres, z up, turned and leaning a little."""
    return (points - AWAY) @ TURN * per_foot


def targets(per_foot=0.3048):
    own = own_frame(TARGETS, per_foot)
    return [
        {"name": f"T{k}", "scan": scan, "site": site}
        for k, (scan, site) in enumerate(zip(own.tolist(), TARGETS.tolist(), strict=True))
    ]


def write_ply(path: Path) -> dict:
    points = ground()
    own = own_frame(points)
    faces = Delaunay(points[:, :2]).simplices
    head = (
        f"ply\nformat ascii 1.0\nelement vertex {len(own)}\nproperty double x\nproperty double y\n"
        f"property double z\nelement face {len(faces)}\nproperty list uchar int vertex_indices\n"
        "end_header\n"
    )
    rows = [" ".join(repr(v) for v in p) for p in own.tolist()]
    rows += ["3 " + " ".join(map(str, f)) for f in faces.tolist()]
    path.write_text(head + "\n".join(rows) + "\n")
    return {"mesh": {"up": "z", "unit": "m"}, "control": {"targets": targets()}}


def write_xyz(path: Path) -> dict:
    np.savetxt(path, own_frame(ground(), 1.0), fmt="%.9f")
    return {"control": {"targets": targets(1.0)}}


def write_laz(path: Path) -> dict:
    header = laspy.LasHeader(point_format=6, version="1.4")
    header.scales = np.full(3, 1e-7)
    cloud = laspy.LasData(header)
    cloud.x, cloud.y, cloud.z = own_frame(ground()).T
    cloud.write(path)
    return {
        "cloud": {"horizontal_unit": "m", "vertical_unit": "m"},
        "control": {"targets": targets()},
    }


MADE = {"scan.ply": write_ply, "scan.xyz": write_xyz, "scan.laz": write_laz}


def floating_job(folder: Path, name: str, **control) -> Path:
    job = small()
    job["existing"] = {"shots": [name]} | MADE[name](folder / name)
    job["existing"]["control"] |= control
    return write_job(folder, job)


def surveyed_bank(folder: Path) -> float:
    job = small()
    path = write_job(folder, job)
    np.savetxt(folder / "shots.csv", ground(), delimiter=",", fmt="%.9f", comments="",
               header="easting,northing,elevation")  # fmt: skip
    return volumes(load_job(path)).ledger.total.quantity.bank


@pytest.mark.parametrize("name", list(MADE))
def test_a_floating_scan_digs_what_the_same_ground_on_the_site_does(tmp_path, name):
    job = load_job(floating_job(tmp_path, name))
    (tmp_path / "plain").mkdir()
    answer = volumes(job)
    expected = surveyed_bank(tmp_path / "plain")
    assert answer.ledger.total.quantity.bank == pytest.approx(expected, rel=1e-6)
    assert any(f"{name}: put on the site by 4 targets" in note for note in answer.notes)


def test_stable_ground_moves_the_scan_the_last_bit(tmp_path):
    lowered = [one | {"site": [*one["site"][:2], one["site"][2] - 0.3]} for one in targets(1.0)]
    refine = {"shots": "stable.csv", "within": 1.0}
    path = floating_job(tmp_path, "scan.xyz", targets=lowered, refine=refine)
    stable = ground()[::50]
    np.savetxt(tmp_path / "stable.csv", stable, delimiter=",", fmt="%.6f", comments="",
               header="easting,northing,elevation")  # fmt: skip
    survey = read_survey(load_job(path))
    upward = 100.0 + 0.02 * survey.shots.easting - 0.03 * survey.shots.northing
    assert np.abs(survey.shots.elevation - upward).max() < 1e-4
    assert any("stable shots (height and tilt)" in note for note in survey.notes)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"targets": targets(1.0)[:2]}, "give three or more"),
        ({"targets": [targets(1.0)[0]] * 2 + targets(1.0)[1:]}, "is named twice"),
        ({"files": ["other.xyz"]}, "is not among existing.shots"),
        ({"refine": {"shots": "none.csv", "within": 1.0}}, "there is no file"),
        ({"targets": targets(0.3)}, "fit only at"),
    ],
)
def test_control_that_cannot_hold_is_refused_by_its_key(tmp_path, change, said):
    with pytest.raises(SpoilbankError) as caught:
        volumes(load_job(floating_job(tmp_path, "scan.xyz", **change)))
    assert said in str(caught.value)
    assert "existing.control" in str(caught.value)
