"""The dig cut to what is below ground: the same volume, area by label, and nothing above ground."""

import math

import numpy as np
import pytest

from terrain.pit.dig import dig_of
from terrain.surface.facets import areas, faces_below, facets
from terrain.surface.overlay import overlay
from terrain.surface.patches import Surface
from terrain.surface.tin import build_tin, tin_surface
from tests.laws.site import design
from tests.oracles.faces import Face, plane_through, volume_by_label
from tests.oracles.ground import tin_faces

BOX = np.array([[0.0, 0.0], [48.0, 0.0], [48.0, 36.0], [0.0, 36.0]])


def rolling(seed: int) -> np.ndarray:
    rng = np.random.default_rng(seed)
    plan = rng.uniform([-60.0, -60.0], [110.0, 100.0], (120, 2))
    corners = np.array([[-60.0, -60.0], [110.0, -60.0], [110.0, 100.0], [-60.0, 100.0]])
    plan = np.vstack([plan, corners])
    upward = 6.0 + 3.0 * np.sin(plan[:, 0] / 15.0) + 2.0 * np.cos(plan[:, 1] / 11.0)
    return np.column_stack([plan, upward])


DIGS = {
    "upright": design(BOX, 2.0, 0),
    "slopes": design(BOX, 2.0, [0.5, 1.0, 1.5, 0.25]),
    "benches": design(BOX, [2.0, 0.0, 3.0, 1.0], [((0, 2), (2, 0))] * 4),
}


@pytest.fixture(params=list(DIGS))
def made(request):
    tin = build_tin(rolling(4))
    ground = tin_surface(tin)
    dig = dig_of(DIGS[request.param], tin.points).surface
    return tin, ground, dig, overlay(ground, dig)


def triangles_of(mesh) -> list[Face]:
    from shapely import Polygon

    return [
        Face(Polygon(mesh.points[own, :2]), plane_through(mesh.points[own]), int(label))
        for own, label in zip(mesh.triangles, mesh.label, strict=True)
    ]


def test_what_lies_between_is_the_same_label_by_label(made):
    tin, ground, dig, pairs = made
    mesh = facets(faces_below(ground, dig, pairs))
    seen = volume_by_label(tin_faces(tin.points, tin.triangles), triangles_of(mesh))
    label = dig.label[pairs.b]
    wanted = np.bincount(label, pairs.volume_above)
    whole = math.fsum(pairs.volume_above)
    for key in np.unique(label[pairs.volume_above > 0]).tolist():
        assert seen.get(key, 0.0) == pytest.approx(wanted[key], abs=1e-10 * whole)


def test_plan_areas_are_those_that_are_dug_label_by_label(made):
    _, ground, dig, pairs = made
    below = faces_below(ground, dig, pairs)
    wanted = np.bincount(dig.label[pairs.b], pairs.area_above)
    seen = np.bincount(below.label, areas(below), len(wanted))
    assert seen == pytest.approx(wanted, abs=1e-9 * wanted.sum())
    again = overlay(ground, below)
    assert again.area_below.sum() <= 1e-9 * wanted.sum()


def test_a_face_wholly_below_ground_stays_whole(made):
    _, ground, dig, pairs = made
    below = faces_below(ground, dig, pairs)
    touched = np.bincount(pairs.b, pairs.area_below, len(dig)) > 0
    inside = (~touched) & (areas(dig) > 0) & (np.bincount(pairs.b, minlength=len(dig)) > 0)
    spots = {tuple(map(tuple, below.corners(k).tolist())) for k in range(len(below))}
    # sides reach beyond the survey; only faces with ground over all of them are meant
    covered = np.bincount(pairs.b, pairs.area, len(dig)) >= areas(dig) * (1 - 1e-12)
    chosen = np.flatnonzero(inside & covered)
    assert len(chosen) >= 8
    for face in chosen.tolist():
        assert tuple(map(tuple, dig.corners(face).tolist())) in spots


def test_facets_turn_left_and_write_no_point_twice(made):
    _, ground, dig, pairs = made
    mesh = facets(faces_below(ground, dig, pairs))
    a, b, c = (mesh.points[mesh.triangles[:, k], :2] for k in range(3))
    double = (b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]
    assert (double > 0).all()
    assert len(np.unique(mesh.points.round(9), axis=0)) == len(mesh.points)


def test_nothing_has_no_facets():
    none = Surface(
        start=np.zeros(1, dtype=np.int64), ring=np.zeros((0, 2)), plane=np.zeros((0, 5)),
        label=np.zeros(0, dtype=np.int32),
    )  # fmt: skip
    mesh = facets(none)
    assert len(mesh.points) == len(mesh.triangles) == len(mesh.label) == 0
