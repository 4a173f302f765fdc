"""A level floor is not made doubtful by rough faces, nor faces sure by a level floor."""

from dataclasses import replace

import numpy as np
import pytest

from terrain.asdug.between_parts import between_parts
from terrain.ledger.between import between_shots
from terrain.ledger.errors_said import SurveyErrors
from terrain.ledger.ground import Ground
from terrain.ledger.hats import hats_between
from terrain.ledger.weights import weights_of
from terrain.surface.patches import lifted
from terrain.surface.tin import build_tin, tin_surface

FLOOR = 30.0
"""Half the width of the floor; faces go on to half as far again."""


def made(rough=1.0, waves=0.3, seed=3):
    """A hole whose floor is wavy and whose faces lean, torn by so much: ground, spots, on face."""
    rng = np.random.default_rng(seed)
    plan = rng.uniform(-1.5 * FLOOR, 1.5 * FLOOR, (400, 2))
    out = np.abs(plan).max(axis=1) - FLOOR
    on_face = out > 0.0
    height = waves * np.sin(plan[:, 0] / 2.0) + np.maximum(out, 0.0)
    height[on_face] += rng.normal(size=int(on_face.sum())) * rough
    tin = build_tin(np.column_stack([plan, height]))
    points = np.column_stack([plan, height])[tin.shot]
    ground = Ground(
        surface=tin_surface(tin),
        points=points,
        triangles=tin.triangles,
        errors=SurveyErrors(accuracy=0.02),
    )
    whole = weights_of(hats_between(ground, lifted(ground.surface, -1.0), "above"))
    spots = np.concatenate([each.spots.shots for each in whole.values()])
    assert len(spots)
    return ground, whole, on_face[tin.shot]


def all_of(whole):
    every = list(whole.values())
    return sum(every[1:], every[0])


def floor_and_face(whole, on_face):
    """The weights of what is floor alone, and of the rest."""
    weights = all_of(whole)
    faces = on_face[weights.spots.shots].any(axis=1)
    return [
        replace(weights, spots=weights.spots.picked(np.flatnonzero(own))) for own in (~faces, faces)
    ]


def test_the_floor_is_as_doubtful_as_its_own_shots_say_however_rough_its_faces():
    doubts = []
    for rough in (0.1, 3.0):
        ground, whole, on_face = made(rough)
        floor, _ = floor_and_face(whole, on_face)
        parts = between_parts(ground, all_of(whole).spots, on_face)
        doubts.append(parts.variance(floor))
        low = ~on_face[ground.triangles].any(axis=1)
        alone = between_shots(replace(ground, triangles=ground.triangles[low]), floor.spots)
        assert doubts[-1] == pytest.approx(alone.variance(floor), rel=1e-9)
        assert alone.variance(floor) > 0.0
    assert doubts[0] == pytest.approx(doubts[1], rel=1e-9)
    together = between_shots(ground, all_of(whole).spots)
    assert doubts[1] < 0.05 * together.variance(floor)


def test_faces_are_rougher_than_they_and_the_floor_together():
    ground, whole, on_face = made(3.0)
    _, faces = floor_and_face(whole, on_face)
    parts = between_parts(ground, all_of(whole).spots, on_face)
    together = between_shots(ground, all_of(whole).spots)
    assert parts.faces.typical_miss > together.typical_miss
    assert parts.faces.left_out < together.left_out
    share = (parts.faces.typical_miss / together.typical_miss) ** 2
    assert parts.variance(faces) == pytest.approx(share * together.variance(faces), rel=0.05)


def test_floor_and_faces_add_up():
    ground, whole, on_face = made()
    parts = between_parts(ground, all_of(whole).spots, on_face)
    floor, faces = floor_and_face(whole, on_face)
    both = parts.variance(floor) + parts.variance(faces)
    assert parts.variance(all_of(whole)) == pytest.approx(both, rel=1e-12)
    plan = np.concatenate([ground.points[:, :2], [[0.0, 0.0]]])
    assert parts.variance_on(all_of(whole), plan) == pytest.approx(both, rel=1e-9)


def test_a_hole_without_leaning_faces_is_all_floor():
    ground, whole, _ = made()
    nowhere = np.zeros(len(ground.points), dtype=np.bool_)
    parts = between_parts(ground, all_of(whole).spots, nowhere)
    one = between_shots(ground, all_of(whole).spots)
    assert parts.faces is None
    assert parts.variance(all_of(whole)) == pytest.approx(one.variance(all_of(whole)), rel=1e-12)
