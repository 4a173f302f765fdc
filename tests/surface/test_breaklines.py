"""Lines from shot to shot: honoured, split where they meet, refused where they contradict."""

import numpy as np
import pytest

from terrain.base.errors import SurfaceError
from terrain.base.frame import LocalFrame
from terrain.surface.crossing import crossings, points_on_edges
from terrain.surface.tin import Line, TinOptions, build_tin
from tests.surface.made_ground import on_plane, scattered, sound_tin

SQUARE = [[0.0, 0, 0], [20, 0, 0], [20, 20, 0], [0, 20, 0]]


def _line(name, *shots):
    return Line(name=name, shots=np.array(shots))


def _sides(tin):
    """Pairs of input shots joined by a triangle side."""
    named = tin.shot[tin.triangles]
    pairs = named[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2)
    return {tuple(sorted(pair)) for pair in pairs.tolist()}


def test_a_breakline_is_a_chain_of_triangle_sides():
    shots = scattered(3)
    order = np.argsort(shots[:, 0])[::12]
    line = Line(name="ditch", shots=order)
    free = build_tin(shots)
    tin = sound_tin(shots, [line])
    legs = {tuple(sorted(leg)) for leg in zip(order.tolist(), order.tolist()[1:], strict=False)}
    assert legs <= _sides(tin)
    assert not legs <= _sides(free), "the line would be there without being asked for"


def test_repeats_in_a_line_are_dropped():
    shots = np.array([*SQUARE, [5, 9, 1], [15, 11, 1]])
    tin = sound_tin(shots, [_line("ridge", 4, 4, 4, 5, 5)])
    assert tin.fixed.tolist() == [sorted([list(tin.shot).index(4), list(tin.shot).index(5)])]


@pytest.mark.parametrize("run", [(), (4,), (4, 4)])
def test_a_line_of_one_shot_or_none_asks_for_nothing(run):
    shots = np.array([*SQUARE, [5, 9, 1]])
    assert len(sound_tin(shots, [_line("stub", *run)]).fixed) == 0


def test_lines_that_cross_at_one_height_get_a_point_there():
    shots = np.array([*SQUARE, [5, 10, 1], [15, 10, 3], [10, 4, 2.5], [10, 16, 1.5]])
    tin = sound_tin(shots, [_line("road", 4, 5), _line("ditch", 6, 7)])
    made = tin.points[tin.shot < 0]
    np.testing.assert_allclose(made, [[10, 10, 2.0]], atol=1e-12)


def test_lines_that_cross_at_nearly_one_height_meet_at_the_mean():
    shots = np.array([*SQUARE, [5, 10, 1], [15, 10, 1], [10, 4, 1.03], [10, 16, 1.03]])
    tin = sound_tin(shots, [_line("road", 4, 5), _line("ditch", 6, 7)])
    np.testing.assert_allclose(tin.points[tin.shot < 0], [[10, 10, 1.015]], atol=1e-12)


def test_lines_that_cross_at_different_heights_are_refused_with_both_named():
    shots = np.array([*SQUARE, [5, 10, 1], [15, 10, 1], [10, 4, 3], [10, 16, 3]])
    lines = [_line("road", 4, 5), _line("ditch", 6, 7)]
    frame = LocalFrame(easting=1000.0, northing=2000.0)
    with pytest.raises(SurfaceError) as caught:
        build_tin(shots, lines, frame=frame)
    said = str(caught.value)
    for part in ('"road"', '"ditch"', "easting 1010.00, northing 2010.00", "1.000", "3.000"):
        assert part in said
    assert build_tin(shots, lines, options=TinOptions(height_tolerance=2.5))


def test_every_contradiction_is_told_at_once():
    shots = [*SQUARE]
    lines = []
    for i in range(3):
        shots += [
            [2.0 + 6 * i, 2, 1],
            [4.0 + 6 * i, 4, 1],
            [2.0 + 6 * i, 4, 9],
            [4.0 + 6 * i, 2, 9],
        ]
        lines += [_line(f"a{i}", 4 + 4 * i, 5 + 4 * i), _line(f"b{i}", 6 + 4 * i, 7 + 4 * i)]
    with pytest.raises(SurfaceError) as caught:
        build_tin(np.array(shots), lines)
    assert len(caught.value.faults) == 3


def test_three_lines_through_one_spot_get_one_point():
    angle = np.radians([0, 60, 120])
    ends = np.column_stack([np.cos(angle), np.sin(angle)]) * 7
    plan = np.concatenate([np.array(SQUARE)[:, :2] - 10, ends, -ends])
    shots = on_plane(plan)
    tin = sound_tin(shots, [_line(str(i), 4 + i, 7 + i) for i in range(3)])
    assert np.count_nonzero(tin.shot < 0) == 1


def test_a_line_through_a_shot_of_its_height_is_split_there():
    shots = np.array([*SQUARE, [5, 10, 1], [15, 10, 2], [9, 10, 1.4]])
    tin = sound_tin(shots, [_line("road", 4, 5)])
    assert {(4, 6), (5, 6)} <= _sides(tin)
    assert tin.notes == ()


def test_a_line_through_a_shot_of_another_height_keeps_the_shot_and_says_so():
    shots = np.array([*SQUARE, [5, 10, 1], [15, 10, 2], [9, 10, 1.9]])
    tin = sound_tin(shots, [_line("road", 4, 5)])
    assert {(4, 6), (5, 6)} <= _sides(tin)
    assert [note.code for note in tin.notes] == ["line_through_shot"]
    assert '"road"' in tin.notes[0].message


def test_a_line_that_ends_on_another_at_another_height_is_refused():
    shots = np.array([*SQUARE, [5, 10, 1], [15, 10, 2], [9, 10, 1.9], [9, 15, 3]])
    with pytest.raises(SurfaceError, match='"road" and the breakline "ditch" meet at different'):
        build_tin(shots, [_line("road", 4, 5), _line("ditch", 6, 7)])


def test_overlapping_lines_that_agree_become_one():
    shots = np.array([*SQUARE, [2, 10, 1], [12, 10, 2], [6, 10, 1.4], [18, 10, 2.6]])
    tin = sound_tin(shots, [_line("road", 4, 5), _line("curb", 6, 7), _line("again", 5, 4)])
    assert len(tin.fixed) == 3
    assert {(4, 6), (5, 6), (5, 7)} <= _sides(tin)


def test_overlapping_lines_that_disagree_are_refused():
    shots = np.array([*SQUARE, [2, 10, 1], [12, 10, 1], [6, 10, 1.4], [18, 10, 1.4]])
    with pytest.raises(SurfaceError, match="different heights") as caught:
        build_tin(shots, [_line("road", 4, 5), _line("curb", 6, 7)])
    assert len(caught.value.faults) == 2, "each line's end lies on the other"


def test_a_line_that_crosses_itself_at_another_height_is_refused():
    shots = np.array([*SQUARE, [5, 5, 1], [15, 15, 1], [15, 5, 4], [5, 15, 4]])
    with pytest.raises(SurfaceError, match='"loop" meets itself at different heights'):
        build_tin(shots, [_line("loop", 4, 5, 6, 7)])


def test_lines_turned_by_37_degrees_are_settled_alike():
    rng = np.random.default_rng(5)
    plan = rng.integers(0, 12, (40, 2)).astype(float)
    plan = np.unique(plan, axis=0)
    lines = [_line(str(i), *rng.integers(0, len(plan), 3)) for i in range(8)]
    angle = np.radians(37)
    turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    level = sound_tin(on_plane(plan), lines)
    turned = sound_tin(on_plane(plan @ turn), lines)
    assert len(turned.points) == len(level.points)
    assert len(turned.fixed) == len(level.fixed)


def test_crossings_are_those_of_all_pairs():
    rng = np.random.default_rng(9)
    points = rng.random((400, 3))
    edges = rng.permutation(400).reshape(-1, 2).astype(np.int32)
    found = crossings(points, edges)
    got = {tuple(sorted(p)) for p in zip(found.first.tolist(), found.second.tolist(), strict=True)}
    a, b = points[edges[:, 0], :2], points[edges[:, 1], :2]
    expected = set()
    for i in range(len(edges)):
        for j in range(i):
            matrix = np.column_stack([b[i] - a[i], a[j] - b[j]])
            along = np.linalg.solve(matrix, a[j] - a[i])
            if (along > 0).all() and (along < 1).all():
                expected.add((j, i))
    assert got == expected
    spot = a[found.first] + found.along_first[:, None] * (b - a)[found.first]
    other = a[found.second] + found.along_second[:, None] * (b - a)[found.second]
    np.testing.assert_allclose(spot, other, atol=1e-9)


def test_points_on_edges_are_those_of_all_pairs():
    rng = np.random.default_rng(2)
    points = np.column_stack([rng.integers(0, 15, (150, 2)), np.zeros(150)]).astype(float)
    points = np.unique(points, axis=0)
    edges = rng.integers(0, len(points), (80, 2)).astype(np.int32)
    edges = edges[edges[:, 0] != edges[:, 1]]
    hits = points_on_edges(points, edges)
    got = set(zip(hits.edge.tolist(), hits.point.tolist(), strict=True))
    expected = set()
    for e, (a, b) in enumerate(points[edges][:, :, :2]):
        for p, spot in enumerate(points[:, :2]):
            ahead, behind = spot - a, spot - b
            on_line = ahead[0] * (b - a)[1] == ahead[1] * (b - a)[0]
            if on_line and ahead @ behind < 0:
                expected.add((e, p))
    assert got == expected


def test_twenty_thousand_edges_are_all_kept():
    """200 level contours of 100 shots each."""
    t = np.linspace(0, 2 * np.pi, 100, endpoint=False)
    rings = [np.column_stack([np.cos(t), np.sin(t), np.full(100, 0.1)]) * r for r in range(1, 201)]
    shots = np.concatenate(rings)
    lines = [
        Line(name=str(r), shots=np.append(np.arange(100), 0) + 100 * r) for r in range(len(rings))
    ]
    tin = build_tin(shots, lines)
    assert len(tin.fixed) == 20_000
