"""Where the ground ends: cut back by length, by a boundary, by holes; rims and pieces."""

import numpy as np
import pytest
import shapely

from terrain.base.errors import SurfaceError
from terrain.base.frame import LocalFrame
from terrain.surface.boundary import boundary_edges, boundary_rings, pieces, triangle_areas
from terrain.surface.tin import Line, LineKind, PlanLine, TinOptions, build_tin
from tests.surface.made_ground import on_plane, plan_area, scattered, sound_tin

L_SHAPE = np.array([[0, 0], [30, 0], [30, 10], [10, 10], [10, 30], [0, 30]], dtype=float)


def _area(ring):
    return shapely.Polygon(ring).area


def _ring_area(tin, ring):
    east, north = tin.points[ring, 0], tin.points[ring, 1]
    return float(east @ np.roll(north, -1) - north @ np.roll(east, -1)) / 2


def _plan_ring(name, plan, kind=LineKind.BOUNDARY):
    return PlanLine(name=name, plan=np.array(plan, dtype=float), kind=kind)


def test_the_hull_is_the_boundary_unless_another_is_asked_for():
    shots = scattered(1)
    tin = sound_tin(shots)
    (ring,) = boundary_rings(tin)
    assert _ring_area(tin, ring) == pytest.approx(plan_area(tin), rel=1e-13)
    edges = boundary_edges(tin)
    assert sorted(edges[:, 0].tolist()) == sorted(ring.tolist())


def test_ground_lies_on_the_left_of_each_rim_edge():
    shots = scattered(2)
    tin = sound_tin(shots, plan_lines=[_plan_ring("house", L_SHAPE + 30, LineKind.HOLE)])
    begin, end = tin.points[boundary_edges(tin)][:, :, :2].transpose(1, 0, 2)
    way = end - begin
    left = (begin + end) / 2 + 1e-4 * np.column_stack([-way[:, 1], way[:, 0]])
    ground = shapely.unary_union(shapely.polygons(tin.points[tin.triangles][:, :, :2]))
    assert shapely.contains_xy(ground, left).all()


def test_no_triangle_keeps_a_side_longer_than_max_edge_and_no_other_is_lost():
    shots = scattered(3)
    whole, cut = build_tin(shots), sound_tin(shots, options=TinOptions(max_edge=12.0))
    corners = whole.points[whole.triangles][:, :, :2]
    longest = np.hypot(*(corners - np.roll(corners, 1, axis=1)).transpose(2, 0, 1)).max(axis=1)
    assert len(cut) == np.count_nonzero(longest <= 12.0)
    assert 0 < len(cut) < len(whole)
    assert plan_area(cut) == pytest.approx(triangle_areas(whole)[longest <= 12.0].sum())


def test_a_boundary_of_shots_leaves_just_the_ground_inside():
    inside = scattered(4, count=80, size=30.0)[:, :2]
    shots = on_plane(np.concatenate([L_SHAPE, inside]))
    line = Line(name="limit", shots=np.arange(6), kind=LineKind.BOUNDARY)
    tin = sound_tin(shots, [line])
    assert plan_area(tin) == pytest.approx(500.0, rel=1e-12)
    (ring,) = boundary_rings(tin)
    assert set(range(6)) <= set(tin.shot[ring].tolist())
    assert "shots_unused" in [note.code for note in tin.notes]


@pytest.mark.parametrize("step", [1, -1])
def test_a_hole_is_cut_whichever_way_round_it_was_shot(step):
    ring = np.array([[40.0, 40], [60, 42], [58, 61], [41, 60]])[::step]
    shots = on_plane(np.concatenate([scattered(5)[:, :2], ring]))
    hole = Line(name="house", shots=np.arange(200, 204), kind=LineKind.HOLE)
    whole, tin = build_tin(shots), sound_tin(shots, [hole])
    assert plan_area(tin) == pytest.approx(plan_area(whole) - _area(ring), rel=1e-12)
    areas = sorted(_ring_area(tin, r) for r in boundary_rings(tin))
    assert areas[0] == pytest.approx(-_area(ring), rel=1e-12)
    assert areas[1] == pytest.approx(plan_area(whole), rel=1e-12)


def test_a_boundary_laid_on_the_ground_cuts_at_its_very_line():
    shots = scattered(6)
    tin = sound_tin(shots, plan_lines=[_plan_ring("lot", L_SHAPE * 2 + 20)])
    assert plan_area(tin) == pytest.approx(2000.0, rel=1e-9)


def test_a_boundary_that_leaves_the_ground_counts_as_far_as_there_is_ground():
    shots = scattered(7)
    lot = np.array([[-50.0, 30], [70, 30], [70, 150], [-50, 150]])
    tin = sound_tin(shots, plan_lines=[_plan_ring("lot", lot)])
    hull = shapely.convex_hull(shapely.MultiPoint(shots[:, :2]))
    assert plan_area(tin) == pytest.approx(hull.intersection(shapely.Polygon(lot)).area, rel=1e-9)
    assert "line_outside_ground" in [note.code for note in tin.notes]


def test_two_boundaries_and_a_hole_in_one_of_them():
    lots = [_plan_ring("a", [[10, 10], [40, 10], [40, 40], [10, 40]])]
    lots += [_plan_ring("b", [[60, 60], [80, 60], [80, 80], [60, 80]])]
    hole = _plan_ring("shed", [[20, 20], [30, 20], [30, 30]], LineKind.HOLE)
    frame = LocalFrame(easting=5000.0, northing=100.0)
    tin = sound_tin(scattered(8), plan_lines=[*lots, hole], frame=frame)
    assert plan_area(tin) == pytest.approx(900 + 400 - 50, rel=1e-9)
    piece, count = pieces(tin)
    areas = np.bincount(piece, weights=triangle_areas(tin))
    assert count == 2
    np.testing.assert_allclose(sorted(areas), [400, 850], rtol=1e-9)
    (note,) = [note for note in tin.notes if note.code == "ground_in_pieces"]
    assert "2 pieces, of areas 850.00 near easting 50" in note.message
    assert "400.00" in note.message


def test_a_breakline_across_a_boundary_is_cut_with_the_ground():
    shots = on_plane(np.concatenate([scattered(9)[:, :2], [[2.0, 50], [98, 52]]]))
    ditch = Line(name="ditch", shots=np.array([200, 201]))
    lot = np.array([[20.0, 20], [80, 20], [80, 80], [20, 80]])
    tin = sound_tin(shots, [ditch], [_plan_ring("lot", lot)])
    assert plan_area(tin) == pytest.approx(3600.0, rel=1e-9)


def test_a_boundary_drawn_as_an_eight_is_refused():
    eight = _plan_ring("lot", [[20, 20], [80, 80], [80, 20], [20, 80]])
    with pytest.raises(SurfaceError, match='boundary "lot" doesn\'t close round an area'):
        build_tin(scattered(1), plan_lines=[eight])


def test_a_boundary_of_two_corners_is_refused():
    with pytest.raises(SurfaceError, match="fewer than three corners"):
        build_tin(scattered(1), plan_lines=[_plan_ring("lot", [[20, 20], [80, 80]])])


def test_a_cut_that_leaves_nothing_is_refused():
    with pytest.raises(SurfaceError, match="No ground is left"):
        build_tin(scattered(1), options=TinOptions(max_edge=1e-3))


def test_rims_that_touch_at_a_point_are_parted_there():
    """Two triangles corner to corner: two rings of three, none of which passes a point twice."""
    shots = on_plane([[0.0, 0], [4, -3], [4, 3], [8, 0], [12, -3], [12, 3], [4.1, 0]])
    holes = [
        _plan_ring("s", [[4, -3], [12, -3], [8, 0]], LineKind.HOLE),
        _plan_ring("n", [[4, 3], [8, 0], [12, 3]], LineKind.HOLE),
    ]
    tin = sound_tin(shots, plan_lines=holes)
    rings = boundary_rings(tin)
    assert len(rings) == 2
    assert sum(_ring_area(tin, ring) for ring in rings) == pytest.approx(plan_area(tin))
    assert all(len(set(ring.tolist())) == len(ring) for ring in rings)
    assert pieces(tin)[1] == 2
