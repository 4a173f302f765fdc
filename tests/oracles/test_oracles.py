"""The oracles against each other and against what can be worked out by hand."""

from fractions import Fraction

import numpy as np
import pytest
import shapely
from scipy.spatial import Delaunay

from tests.oracles import dig, exact, faces, ground, pointwise, sampling, solids
from tests.oracles.moving import Front

HOUSE = np.array([[20.0, 20.0], [68.0, 20.0], [68.0, 44.0], [64.0, 48.0], [20.0, 48.0]])
SIDES = [
    [(0.25, 1.0)],
    [(1.0, 1.0)],
    [(1.5, 1.0)],
    [(0.0, 4.0), (3.0, 0.0), (0.5, 1.0)],
    [(0.0, 3.5), (1.0, 1.0)],
]
NOTCHED = np.array([[0.0, 0], [20, 0], [20, 12], [11, 12], [11, 6], [9, 6], [9, 12], [0, 12]])
CROOKED = np.array(
    [[0.0, 0], [20, 0], [22, 12], [14, 13], [11, 6], [9, 7], [10, 14], [3, 12], [4, 9], [-1, 8]]
)


def bumpy(count: int) -> tuple[np.ndarray, np.ndarray]:
    random = np.random.default_rng(3)
    plan = np.concatenate(
        [random.uniform(-20, 110, (count, 2)), [[-20, -20], [110, -20], [110, 110], [-20, 110]]]
    )
    points = np.column_stack([plan, random.normal(0.0, 1.0, len(plan))])
    return points, ground.triangles(plan, [])


def test_without_lines_the_triangulation_from_its_definition_is_scipys():
    points, corners = bumpy(90)
    theirs = Delaunay(points[:, :2]).simplices
    assert {tuple(sorted(t)) for t in corners.tolist()} == {
        tuple(sorted(t)) for t in theirs.tolist()
    }


def test_lines_are_edges_of_the_triangulation():
    points, _ = bumpy(60)
    west, east = (int(i) for i in (points[:60, 0].argmin(), points[:60, 0].argmax()))
    corners = ground.triangles(points[:, :2], [(west, east)])
    edges = {tuple(sorted(e)) for t in corners.tolist() for e in zip(t, t[1:] + t[:1], strict=True)}
    line = shapely.LineString(points[[west, east], :2])
    crossed = [e for e in edges if shapely.LineString(points[list(e), :2]).crosses(line)]
    assert (min(west, east), max(west, east)) in edges
    assert not crossed


def test_the_swept_dig_is_the_pointwise_dig_of_a_convex_outline():
    pit = dig.Pit(HOUSE, [2.0, 1.0, 2.0, 3.0, 0.5], SIDES, 90.0)
    dug = dig.faces(pit, 8.0)
    plan = np.random.default_rng(0).uniform(0, 90, (20_000, 2))
    upward = pointwise.convex_dig(pit, plan, 8.0)
    ruling = pointwise.convex_wall(pit, plan, 8.0)
    hits = shapely.STRtree([f.polygon for f in dug]).query(shapely.points(plan), predicate="within")
    assert len(hits.T) > 5000
    for point, face in hits.T:
        plane = dug[face].plane
        assert abs(plane[0] + plane[1:] @ plan[point] - upward[point]) < 1e-11
        if dug[face].label[1] == "side":
            assert dug[face].label[0] == ruling[point]


@pytest.mark.parametrize("corners", [NOTCHED, CROOKED])
@pytest.mark.parametrize("height", [0.5, 1.0, 1.2, 3.0, 6.0, 10.0])
def test_one_side_for_all_walls_sweeps_the_mitred_offset(corners, height):
    pit = dig.Pit(corners, [0.0] * len(corners), [[(0.5, 1.0)]] * len(corners), 0.0)
    dug = [f.polygon for f in dig.faces(pit, height)]
    wanted = pointwise.offset_outline(pit, height)
    assert abs(sum(p.area for p in dug) - wanted.area) < 1e-11
    assert shapely.union_all(dug).symmetric_difference(wanted).area < 1e-9


def test_face_by_face_volume_is_the_closed_solids_volume():
    points, corners = bumpy(120)
    runs = np.array([0.25, 1.0, 1.5, 0.5, 0.7])
    pit = dig.Pit(HOUSE, [2.0, 1.0, 2.0, 3.0, 0.5], [[(r, 1.0)] for r in runs], -9.0)
    front = Front.of(HOUSE)
    body = solids.sloped_pit(front.normal, front.reach + np.array(pit.overdig), runs, -9.0, 25.0)
    solid = (solids.prisms(points, corners, -50.0) ^ body).volume()
    slow = faces.volume_by_label(ground.tin_faces(points, corners), dig.faces(pit, 14.0))
    assert sum(slow.values()) == pytest.approx(solid, rel=1e-12)


def test_sampling_is_within_its_own_doubt_of_the_swept_volume():
    pit = dig.Pit(HOUSE, [2.0] * 5, SIDES, -6.0)
    box = (0.0, 0.0, 90.0, 70.0)
    flat = [faces.Face(shapely.box(*box), faces.level(0.0))]
    slow = sum(faces.volume_by_label(flat, dig.faces(pit, 7.0)).values())
    seen, doubt = sampling.volume(
        lambda p: np.zeros(len(p)), lambda p: pointwise.convex_dig(pit, p, 7.0), box, 400
    )
    assert doubt < slow * 1e-3
    assert abs(seen - slow) < 4 * doubt


def test_swept_walls_are_the_closed_form_of_a_rectangle():
    overdig, runs, depth = (
        [Fraction(2), Fraction(1), Fraction(3), Fraction(1, 2)],
        [Fraction(1), Fraction(1, 4), Fraction(3, 2), Fraction(3, 4)],
        Fraction(8),
    )
    pit = dig.Pit(
        np.array([[0.0, 0], [48, 0], [48, 28], [0, 28]]),
        [float(o) for o in overdig], [[(float(r), 1.0)] for r in runs], 0.0,
    )  # fmt: skip
    flat = [faces.Face(shapely.box(-60, -60, 110, 90), faces.level(8.0))]
    slow = faces.volume_by_label(flat, dig.faces(pit, 9.0))
    walls = exact.rectangle(Fraction(48), Fraction(28))
    dug = exact.moved(walls, overdig)
    sides = exact.sides(dug, [exact.Climb(runs, depth)], depth)
    strips = walls.strips(overdig)
    cores = exact.rectangle_cores(Fraction(48), Fraction(28))
    for wall in range(4):
        assert slow[wall, "side"] == pytest.approx(float(sides[wall]), rel=1e-12)
        assert slow[wall, "overdig"] == pytest.approx(float(strips[wall] * depth), rel=1e-12)
        assert slow[wall, "core"] == pytest.approx(float(cores[wall] * depth), rel=1e-12)
    assert sum(slow.values()) == pytest.approx(
        float(exact.frustum((Fraction(48), Fraction(28)), overdig, runs, depth)), rel=1e-13
    )


def test_frustum_agrees_with_the_printed_formula_of_a_mitred_pit():
    """LWh + s(L+W)h^2 + (4/3)s^2h^3, the exact form given beside the books' in SOURCES."""
    length, width, run, depth = Fraction(28), Fraction(36), Fraction(1, 2), Fraction(8)
    wanted = length * width * depth + run * (length + width) * depth**2
    wanted += Fraction(4, 3) * run**2 * depth**3
    assert exact.frustum((length, width), [Fraction(0)] * 4, [run] * 4, depth) == wanted
