"""The verifier sees each fault a TIN can have, planted one by one."""

from dataclasses import replace

import numpy as np
import pytest

from terrain.surface.tin import Line, build_tin
from terrain.surface.tin_check import verify_tin
from tests.surface.made_ground import scattered

SHOTS = scattered(11, count=60)


def _said(tin, lines=(), shots=SHOTS):
    return " ".join(verify_tin(tin, shots, lines))


def test_a_sound_tin_has_nothing_wrong():
    assert verify_tin(build_tin(SHOTS), SHOTS) == []


def test_a_triangle_turned_round_is_seen():
    tin = build_tin(SHOTS)
    triangles = tin.triangles.copy()
    triangles[5] = triangles[5, ::-1]
    assert "Triangle 5 does not turn left" in _said(replace(tin, triangles=triangles))


def test_a_missing_neighbour_is_seen():
    tin = build_tin(SHOTS)
    neighbours = tin.neighbours.copy()
    t, k = np.argwhere(neighbours >= 0)[0]
    neighbours[t, k] = -1
    assert f"Across side {k} of triangle {t}" in _said(replace(tin, neighbours=neighbours))


def test_a_triangle_laid_twice_is_seen():
    tin = build_tin(SHOTS)
    twice = replace(
        tin,
        triangles=np.concatenate([tin.triangles, tin.triangles[:1]]),
        neighbours=np.concatenate([tin.neighbours, tin.neighbours[:1]]),
    )
    assert "lie on one side" in _said(twice)


def test_a_point_moved_over_its_neighbours_is_seen():
    tin = build_tin(SHOTS)
    points = tin.points.copy()
    points[tin.triangles[20, 0], :2] += 60.0
    assert "does not turn left" in _said(replace(tin, points=points))


def test_a_side_that_is_not_delaunay_is_seen():
    """Two flat triangles whose common side is the long diagonal."""
    shots = np.array([[0.0, 0, 0], [10, -1, 0], [20, 0, 0], [10, 1, 0]])
    tin = build_tin(shots, [Line(name="long", shots=np.array([0, 2]))])
    assert verify_tin(tin, shots) == []
    assert "inside the circle" in _said(replace(tin, fixed=tin.fixed[:0]), shots=shots)


def test_a_lost_shot_is_seen():
    tin = build_tin(SHOTS)
    shot = tin.shot.copy()
    shot[3] = shot[4]
    assert "exactly once" in _said(replace(tin, shot=shot))


def test_a_shot_at_another_height_is_seen():
    tin = build_tin(SHOTS)
    assert "isn't where its shot is" in _said(tin, shots=SHOTS + np.array([0, 0, 1e-9]))


def test_a_line_that_is_no_chain_of_sides_is_seen():
    tin = build_tin(SHOTS)
    far = [int(np.argmin(SHOTS[:, 0])), int(np.argmax(SHOTS[:, 0]))]
    line = Line(name="ditch", shots=np.array(far))
    assert 'breakline "ditch"' in _said(tin, [line])


def test_overlapping_ground_is_seen():
    """Two triangles that share ground but no point."""
    tin = build_tin(SHOTS)
    points = np.array([[0.0, 0, 0], [4, 0, 0], [4, 4, 0], [0, 4, 0], [1, 1, 0], [3, 1, 0]])
    triangles = np.array([[0, 1, 2], [3, 4, 5]], dtype=np.int32)
    overlapping = replace(
        tin,
        points=points,
        triangles=triangles,
        neighbours=np.full((2, 3), -1, dtype=np.int32),
        shot=np.arange(6, dtype=np.int32),
    )
    assert "one another's ground" in " ".join(verify_tin(overlapping))


@pytest.mark.parametrize("field", ["triangles", "neighbours"])
def test_wrong_shapes_and_types_are_seen(field):
    tin = build_tin(SHOTS)
    assert verify_tin(replace(tin, **{field: getattr(tin, field).astype(np.int64)}))
    assert verify_tin(replace(tin, **{field: getattr(tin, field)[:, :2]}))
    assert verify_tin(replace(tin, **{field: getattr(tin, field) + 100_000}))
