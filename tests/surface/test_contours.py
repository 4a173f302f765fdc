"""Contours lie at their height, cover each crossing of each triangle, never stop inland."""

import math

import numpy as np
import pytest

from terrain.surface.contours import Contours, contours, joined, usual_interval
from terrain.surface.facets import Facets
from terrain.surface.locate import heights_at
from terrain.surface.tin import build_tin


def shots(seed: int, rounded: int) -> np.ndarray:
    rng = np.random.default_rng(seed)
    plan = rng.uniform(0.0, 60.0, (300, 2))
    upward = 100.0 + 4.0 * np.sin(plan[:, 0] / 9.0) * np.cos(plan[:, 1] / 13.0)
    return np.column_stack([plan, np.round(upward, rounded)])


def cone() -> np.ndarray:
    turn = np.linspace(0.0, 2 * math.pi, 24, endpoint=False)
    ring = 10.0 * np.column_stack([np.cos(turn), np.sin(turn), np.zeros(24)])
    return np.vstack([ring, [[0.0, 0.0, 5.0]]])


GROUNDS = {
    "smooth": shots(1, 9),
    "rounded to tenths, many shots at a contour's height": shots(2, 1),
    "rounded to whole units, with level fields": shots(3, 0),
    "below nought": shots(4, 3) - [0.0, 0.0, 101.3],
    "a cone": cone(),
}


def lengths(drawn: Contours) -> dict[float, float]:
    """Plan length of contour by elevation."""
    out: dict[float, float] = {}
    for which, upward in enumerate(drawn.upward):
        steps = np.hypot(*np.diff(drawn.line(which), axis=0).T)
        out[round(float(upward), 6)] = out.get(round(float(upward), 6), 0.0) + float(steps.sum())
    return out


def lengths_by_triangle(tin, interval: float) -> dict[float, float]:
    """The same, triangle by triangle: a corner at the height counts as above it."""
    out: dict[float, float] = {}
    for corners in tin.points[tin.triangles]:
        for step in range(
            math.floor(corners[:, 2].min() / interval) - 1,
            math.ceil(corners[:, 2].max() / interval) + 2,
        ):
            upward = round(step * interval, 9)
            ends = []
            for p, q in ((0, 1), (1, 2), (2, 0)):
                a, b = corners[p], corners[q]
                if (a[2] >= upward) != (b[2] >= upward):
                    share = (upward - a[2]) / (b[2] - a[2])
                    ends.append(a[:2] + share * (b[:2] - a[:2]))
            if ends and math.dist(*ends) > 0:
                key = round(upward, 6)
                out[key] = out.get(key, 0.0) + math.dist(*ends)
    return out


@pytest.mark.parametrize("interval", [0.1, 0.5, 1.0])
@pytest.mark.parametrize("name", GROUNDS)
def test_contours_cover_the_crossings_of_every_triangle(name, interval):
    tin = build_tin(GROUNDS[name])
    seen, wanted = lengths(contours(tin, interval)), lengths_by_triangle(tin, interval)
    kept = {k: v for k, v in wanted.items() if v > 1e-6}
    assert {k: v for k, v in seen.items() if v > 1e-6} == pytest.approx(kept, abs=1e-7)


@pytest.mark.parametrize("name", GROUNDS)
def test_every_corner_lies_on_the_ground_at_the_contours_height(name):
    tin = build_tin(GROUNDS[name])
    drawn = contours(tin, 0.5)
    assert len(drawn) > 3
    for which, upward in enumerate(drawn.upward):
        found = heights_at(tin, drawn.line(which))
        assert found == pytest.approx(np.full(len(found), upward), abs=1e-9)


@pytest.mark.parametrize("name", GROUNDS)
def test_a_contour_closes_or_ends_at_the_edge_of_the_ground(name):
    tin = build_tin(GROUNDS[name])
    drawn = contours(tin, 0.5)
    face, side = np.nonzero(tin.neighbours < 0)
    start = tin.points[tin.triangles[face, side], :2]
    end = tin.points[tin.triangles[face, (side + 1) % 3], :2]
    for which in range(len(drawn)):
        line = drawn.line(which)
        assert (np.diff(line, axis=0) != 0).any(axis=1).all()
        if not np.array_equal(line[0], line[-1]):
            for tip in (line[0], line[-1]):
                off = np.hypot(*(tip - start).T) + np.hypot(*(end - tip).T)
                off -= np.hypot(*(end - start).T)
                assert off.min() < 1e-9


def test_contours_of_a_cone_are_rings_with_the_top_on_their_left():
    drawn = contours(build_tin(cone()), 1.0)
    # the foot at nought counts as above nought, and the top is a point
    assert drawn.upward.tolist() == [1.0, 2.0, 3.0, 4.0]
    for which, upward in enumerate(drawn.upward):
        line = drawn.line(which)
        area = np.sum(line[:-1, 0] * line[1:, 1] - line[1:, 0] * line[:-1, 1]) / 2
        radius = 10.0 * (1 - upward / 5.0)
        assert area == pytest.approx(12 * radius**2 * math.sin(2 * math.pi / 24))


def test_level_ground_has_no_contours():
    tin = build_tin([[0, 0, 100.0], [9, 0, 100.0], [9, 9, 100.0], [0, 9, 100.0]])
    assert len(contours(tin, 1.0)) == 0
    assert usual_interval(tin, 0.1) == 0.1


@pytest.mark.parametrize(
    ("relief", "interval"), [(9.0, 1.0), (3.4, 0.2), (0.5, 0.1), (90.0, 10.0), (41.0, 5.0)]
)
def test_the_usual_interval_is_round_and_gives_eight_contours_or_more(relief, interval):
    tin = build_tin([[0, 0, 100.0], [9, 0, 100.0 + relief], [9, 9, 100.0], [0, 9, 101.0]])
    assert usual_interval(tin, 0.1) == pytest.approx(interval)


def test_pieces_of_one_contour_are_joined_where_triangles_share_no_whole_side():
    # a slope cut in two at easting 5, the east half cut finer: three corners on one side
    points = np.array(
        [[0, 0, 0], [5, 0, 0], [5, 10, 10], [0, 10, 10], [5, 4, 4], [10, 0, 0], [10, 10, 10.0]]
    )
    triangles = np.array([[0, 1, 2], [0, 2, 3], [1, 5, 4], [5, 6, 4], [4, 6, 2]])
    mesh = Facets(points=points, triangles=triangles, label=np.zeros(5, dtype=np.int32))
    pieces = contours(mesh, 3.0)
    whole = joined(pieces)
    assert len(pieces) > len(whole) == 3
    for which, upward in enumerate(whole.upward):
        line = whole.line(which)
        np.testing.assert_allclose(line[:, 1], upward, atol=1e-6)
        # higher ground, to the north, is on the left of a line that runs east
        assert (line[0, 0], line[-1, 0]) == (0.0, 10.0)
    assert lengths(whole) == pytest.approx(lengths(pieces))


def test_nothing_to_join_is_nothing():
    mesh = Facets(
        points=np.array([[0, 0, 1], [1, 0, 1.2], [0, 1, 1.4]]),
        triangles=np.array([[0, 1, 2]]),
        label=np.zeros(1, dtype=np.int32),
    )
    assert len(joined(contours(mesh, 1.0))) <= 1
    assert len(joined(contours(mesh, 5.0))) == 0
