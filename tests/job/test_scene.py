"""The scene in space: the whole body by row, and ground everywhere else in the window."""

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from terrain.job.load import load_job
from terrain.job.scene import scene_of
from terrain.job.volumes import told, work_out
from tests.job.made_pit import plane, worked

DEMO = Path(__file__).parents[2] / "terrain" / "cli" / "demo_job" / "job.toml"


def enclosed(points):
    """The volume within triangles (m, 3, 3): signed prisms down to their lowest height."""
    foot = points[:, :, 2].min()
    one, two = points[:, 1, :2] - points[:, 0, :2], points[:, 2, :2] - points[:, 0, :2]
    area = (one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]) / 2
    return float(area @ (points[:, :, 2].mean(axis=1) - foot))


def plan_area(points):
    one, two = points[:, 1, :2] - points[:, 0, :2], points[:, 2, :2] - points[:, 0, :2]
    return float((one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]).sum() / 2)


@pytest.fixture(scope="module")
def demo():
    made = work_out(load_job(DEMO))
    return made, told(made).ledger, scene_of(made)


def test_the_bodies_enclose_the_ledgers_total(demo):
    _, ledger, scene = demo
    faces = np.concatenate([f for body in scene.bodies for f in (body.faces, body.lid)])
    assert enclosed(scene.vertices[faces]) / 27 == pytest.approx(
        ledger.total.quantity.bank, rel=1e-9
    )


def test_there_is_a_body_for_each_row_in_the_ledgers_order(demo):
    _, ledger, scene = demo
    rows = [("wall", r.wall) for r in ledger.walls] + [(r.kind, r.name) for r in ledger.pits]
    assert [(b.kind, b.name) for b in scene.bodies] == rows


def test_lid_and_ground_around_fill_the_window(tmp_path):
    scene = scene_of(worked(tmp_path, ground=plane(fall=(0.02, 0.05))))
    ground = scene.vertices[scene.ground]
    low, high = ground[:, :, :2].min(axis=(0, 1)), ground[:, :, :2].max(axis=(0, 1))
    lid = plan_area(scene.vertices[np.concatenate([b.lid for b in scene.bodies])])
    assert plan_area(ground) > 0
    assert lid + plan_area(ground) == pytest.approx(np.prod(high - low), rel=1e-9)


def test_the_ground_around_lies_on_the_plane_surveyed(tmp_path):
    scene = scene_of(worked(tmp_path, ground=plane(fall=(0.02, 0.05))))
    points = scene.vertices[scene.ground].reshape(-1, 3)
    site = points[:, :2] + [20.0, 15.0]  # the frame's origin is the middle of the house
    assert points[:, 2] == pytest.approx(100.0 + site @ [0.02, 0.05])


def test_a_level_pit_is_seen_from_the_south_and_a_hill_from_its_foot(tmp_path):
    for folder in ("a", "b"):
        (tmp_path / folder).mkdir()
    assert scene_of(worked(tmp_path / "a")).heading == pytest.approx(208.0)
    west_low = scene_of(worked(tmp_path / "b", ground=plane(fall=(0.1, 0.0))))
    assert west_low.heading == pytest.approx(270.0 + 28.0)


def test_no_line_is_drawn_across_one_face(tmp_path):
    """A level floor cut by the ground's triangles and shared by four walls: the walls part it."""
    scene = scene_of(worked(tmp_path))
    floor = scene.edges[np.all(np.abs(scene.edges[..., 2] - 92.0) < 1e-9, axis=1)]
    inner = floor[np.all(np.abs(floor[..., 0]) < 19.9, axis=1)]
    inner = inner[np.all(np.abs(inner[..., 1]) < 14.9, axis=1)]
    for start, end in inner:  # only the skeleton of the house: its ridge and its diagonals
        run = np.abs(end - start)[:2]
        assert min(run) < 1e-6 or run[0] == pytest.approx(run[1])


def test_dense_ground_is_thinned_and_says_so(tmp_path):
    random = np.random.default_rng(11)
    plan = random.uniform(-60, 100, (40_000, 2))
    ground = np.vstack([plane(), np.column_stack([plan, 100.0 + 0.03 * plan[:, 1]])])
    ground[:81, 2] = 100.0 + 0.03 * ground[:81, 1]
    made = worked(tmp_path, ground=ground)
    scene = scene_of(made)
    assert scene.of == len(made.existing.tin) > 60_000
    assert scene.shown <= 13_000
    faces = np.concatenate([f for body in scene.bodies for f in (body.faces, body.lid)])
    # the ground is one plane, so that any of its points tell all of it
    exact = Fraction(made.figures.total)
    assert enclosed(scene.vertices[faces]) == pytest.approx(float(exact), rel=1e-6)
