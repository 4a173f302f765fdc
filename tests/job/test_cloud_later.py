"""A scan of the hole is taken whole: its sides are no things that stand on the ground."""

import laspy
import numpy as np

from terrain.base.frame import LocalFrame
from terrain.job.later import read_later
from terrain.job.load import load_job
from terrain.job.volumes import work_out
from tests.job.made_hole import FACE, FLOOR, OVERDIG, MadeHole, ground, hole_job


def scan_of_the_hole(count: int) -> np.ndarray:
    """Points (n, 3) over the lot; where the dig is, a hole with sides of half a run per rise."""
    plan = np.random.default_rng(8).uniform([70.0, 170.0], [180.0, 266.0], (count, 2))
    low, high = np.array(FACE[0]) - OVERDIG, np.array(FACE[2]) + OVERDIG
    out = np.maximum(np.maximum(low - plan, plan - high), 0.0).max(axis=1)
    return np.column_stack([plan, np.minimum(FLOOR + out / 0.5, ground(plan))])


def read(folder, **existing):
    points = np.round(scan_of_the_hole(20_000), 3)
    header = laspy.LasHeader(point_format=6, version="1.4")
    header.scales = np.full(3, 0.001)
    cloud = laspy.LasData(header)
    cloud.x, cloud.y, cloud.z = points.T
    cloud.write(folder / "hole.laz")
    asdug = {"shots": ["hole.laz"]}
    job = load_job(hole_job(folder, MadeHole(), asdug=asdug, existing=existing))
    worked = work_out(job)
    frame = LocalFrame.near(np.array(FACE))
    return read_later(job, "asdug[1]", job.asdug[0], worked.existing, frame), points


def test_no_point_of_a_hole_is_filtered_away(tmp_path):
    later, points = read(tmp_path)
    facts = later.files[0].cloud
    assert (facts.read, facts.not_ground, facts.used) == (20_000, 0, 20_000)
    assert np.abs(later.shots.elevation - points[:, 2]).max() < 1e-9


def test_a_hole_is_thinned_as_the_job_says_of_its_ground(tmp_path):
    later, points = read(tmp_path, thin=2.0)
    cells = {tuple(place) for place in np.floor(points[:, :2] / 2.0).astype(int).tolist()}
    assert len(later.shots) == len(cells)
