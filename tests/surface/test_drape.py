"""Lines without elevations: laid on the ground they change no height of it."""

from itertools import pairwise

import numpy as np
import pytest

from terrain.surface.drape import drape
from terrain.surface.locate import heights_at
from terrain.surface.tin import Line, LineKind, PlanLine, build_tin
from tests.surface.made_ground import brute_heights, scattered, sound_tin

ACROSS = np.array([[5.0, 20], [60, 45], [95, 30], [50, 90]])


def test_every_point_of_a_draped_line_lies_on_the_ground():
    tin = build_tin(scattered(1))
    laid = drape(tin, ACROSS)
    np.testing.assert_allclose(laid.points[:, 2], brute_heights(tin, laid.points[:, :2]), atol=1e-8)
    middle = laid.points[laid.edges].mean(axis=1)
    np.testing.assert_allclose(middle[:, 2], brute_heights(tin, middle[:, :2]), atol=1e-8)
    walked = np.hypot(*np.diff(laid.points[laid.edges][:, :, :2], axis=1)[:, 0].T).sum()
    assert walked == pytest.approx(np.hypot(*np.diff(ACROSS, axis=0).T).sum(), rel=1e-12)
    assert laid.length_outside == 0.0


def test_a_line_laid_on_one_triangle_keeps_its_own_corners_only():
    tin = build_tin(np.array([[0.0, 0, 0], [10, 0, 1], [0, 10, 2]]))
    laid = drape(tin, np.array([[1.0, 1], [3, 1], [3, 3]]))
    np.testing.assert_allclose(np.unique(laid.points, axis=0)[:, 2], [0.3, 0.5, 0.9])
    assert len(laid.edges) == 2


def test_the_part_off_the_ground_is_left_out_and_measured():
    tin = build_tin(np.array([[0.0, 0, 0], [10, 0, 1], [10, 10, 2], [0, 10, 3]]))
    laid = drape(tin, np.array([[-5.0, 4], [17, 4]]))
    ends = laid.points[laid.edges]
    assert laid.length_outside == pytest.approx(12.0, abs=1e-12)
    assert ends[:, :, 0].min() == pytest.approx(0.0, abs=1e-12)
    assert ends[:, :, 0].max() == pytest.approx(10.0, abs=1e-12)


def test_a_line_along_a_side_and_through_shots_uses_those_shots():
    tin = build_tin(np.array([[0.0, 0, 0], [10, 0, 1], [10, 10, 2], [0, 10, 3], [5, 4, 9]]))
    laid = drape(tin, np.array([[0.0, 0], [5, 4]]))
    assert (laid.vertex >= 0).all()
    np.testing.assert_array_equal(laid.points[:, 2], [0.0, 9.0])


@pytest.mark.parametrize("plan", [np.zeros((0, 2)), [[5.0, 5]], [[5.0, 5], [5, 5]]])
def test_a_line_of_no_length_lays_nothing(plan):
    tin = sound_tin(scattered(2), plan_lines=[PlanLine(name="dot", plan=np.array(plan))])
    assert (tin.shot >= 0).all()


@pytest.mark.parametrize("seed", range(4))
def test_laid_lines_change_no_height(seed):
    shots = scattered(seed)
    order = np.argsort(shots[:, 0])[::15]
    ditch = Line(name="ditch", shots=order)
    rng = np.random.default_rng(seed)
    plan_lines = [
        PlanLine(name="fence", plan=rng.random((4, 2)) * 120 - 10),
        PlanLine(name="drive", plan=np.concatenate([shots[rng.integers(0, 200, 3), :2], ACROSS])),
    ]
    tin = sound_tin(shots, [ditch], plan_lines)
    probes = rng.random((2000, 2)) * 100
    before = heights_at(build_tin(shots, [ditch]), probes)
    np.testing.assert_allclose(heights_at(tin, probes), before, atol=1e-7)


def test_the_laid_line_is_a_chain_of_sides():
    shots = scattered(3)
    tin = sound_tin(shots, plan_lines=[PlanLine(name="fence", plan=ACROSS)])
    sides = {tuple(sorted(p)) for p in tin.triangles[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2).tolist()}
    for begin, end in pairwise(ACROSS):
        way = (end - begin) / np.hypot(*(end - begin))
        offset = tin.points[:, :2] - begin
        along, off = offset @ way, offset @ [-way[1], way[0]]
        inside = (along > -1e-6) & (along < np.hypot(*(end - begin)) + 1e-6)
        on = np.flatnonzero((np.abs(off) < 1e-6) & inside)
        run = on[np.argsort(along[on])].tolist()
        assert len(run) > 5
        assert all(tuple(sorted(p)) in sides for p in pairwise(run))


def test_laid_rings_that_share_a_side_share_its_points():
    left = PlanLine(name="lot 7", plan=np.array([[10.0, 10], [50, 12], [55, 80], [12, 85]]))
    right = PlanLine(name="lot 8", plan=np.array([[50.0, 12], [90, 15], [92, 82], [55, 80]]))
    rings = [PlanLine(name=r.name, plan=r.plan, kind=LineKind.BOUNDARY) for r in (left, right)]
    shots = scattered(5)
    both = sound_tin(shots, plan_lines=rings)
    made = both.points[both.shot < 0, :2]
    gaps = np.hypot(*(made[:, None] - made[None]).transpose(2, 0, 1)) + np.eye(len(made))
    assert gaps.min() > 1e-6
