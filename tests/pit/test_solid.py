"""The excavated body: closed, and of the ledger's own volume, by means that are not the engine's.

Every volume is held to trimesh's, manifold3d's and the overlay's; the body's thickness over single
points to heights looked up face by face.
"""

import math

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from terrain.pit.design import Extra, FootingTrench, Piece
from terrain.pit.dig import dig_of, row_of
from terrain.pit.pinch import unpinched
from terrain.pit.solid import Solid, dig_solid, solid_volume
from terrain.pit.weld import twins
from terrain.surface.moves import VERTICAL
from terrain.surface.overlay import overlay
from terrain.surface.patches import Surface, from_polygons
from terrain.surface.tin import build_tin, tin_surface
from tests.laws.site import design, flat
from tests.oracles.solids import closed

BOX = np.array([[0.0, 0.0], [48.0, 0.0], [48.0, 36.0], [0.0, 36.0]])
ELL = np.array([[0.0, 0.0], [48.0, 0.0], [48.0, 16.0], [20.0, 16.0], [20.0, 36.0], [0.0, 36.0]])
YOU = np.array(
    [[0.0, 0], [60, 0], [60, 40], [40, 40], [40, 14], [22, 14], [22, 40], [0, 40]]
)  # fmt: skip
CLIPPED = np.array([[0.0, 0.0], [44.0, 0.0], [48.0, 4.0], [48.0, 36.0], [0.0, 36.0]])
BENCHES, FOOT = ((0, 4), (4, 0)), ((0, 3.5), (1, 1))
TILTED = flat(9.0)
TILTED[:, 2] += 0.05 * TILTED[:, 0] - 0.03 * TILTED[:, 1]
TRENCH = FootingTrench(width=2.0, projection=0.5, bottom=-1.0)


def pit(corners, floor, side=VERTICAL, name="areaway"):
    plane = np.array([corners[0][0], corners[0][1], floor, 0.0, 0.0])
    piece = Piece(corners=np.array(corners, dtype=float), plane=plane)
    return Extra(kind="pit", name=name, pieces=(piece,), overdig=0.0, side=side, key="dig.pits")


RAMP = Extra(
    kind="ramp", name="way in", overdig=0.0, side=((1, 1),), key="dig.ramps",
    pieces=(
        Piece(
            corners=np.array([[18.0, -36.0], [30.0, -36.0], [30.0, 0.0], [18.0, 0.0]]),
            plane=np.array([18.0, 0.0, 0.0, 0.0, -0.25]),
        ),
    ),
)  # fmt: skip
AREAWAY = pit([[48, 12], [53, 12], [53, 18], [48, 18]], 2.0)
CORNER_TO_CORNER = (
    pit([[-20, -20], [-12, -20], [-12, -12], [-20, -12]], 3.0),
    pit([[-12, -12], [-6, -12], [-6, -6], [-12, -6]], 4.0),
)
DIGS = {
    "upright": design(BOX, 2.0, [VERTICAL] * 4),
    "one slope": design(BOX, 2.0, 1.0),
    "unlike slopes": design(BOX, [2.0, 1.0, 3.0, 0.0], [0.5, 1.0, 1.5, 0.25]),
    "benches": design(BOX, 2.0, [BENCHES] * 4),
    "unlike sides": design(BOX, [2.0, 1.0, 3.0, 0.0], [BENCHES, FOOT, 1.0, VERTICAL]),
    "L": design(ELL, 1.5, 1.0, footing=TRENCH),
    "U": design(YOU, 2.0, 1.5),
    "clipped corner": design(CLIPPED, 2.0, [0.25, 1.5, 0.25, 0.25, 0.25]),
    "areaway within a side": design(BOX, 2.0, 1.0, extras=(AREAWAY,)),
    "ramp": design(BOX, 2.0, [BENCHES, FOOT, 1.0, 1.0], footing=TRENCH, extras=(RAMP,)),
    "all": design(ELL, 2.0, 0.5, footing=TRENCH, extras=(AREAWAY, RAMP, *CORNER_TO_CORNER)),
    "corner to corner": design(BOX, 0.0, 1.0, extras=CORNER_TO_CORNER),
}


def made(wanted, points) -> tuple[Surface, Surface, Solid]:
    ground = tin_surface(build_tin(points))
    dig = dig_of(wanted, points).surface
    return ground, dig, dig_solid(ground, dig)


def directed(faces: np.ndarray) -> list[tuple[int, int]]:
    return [e for a, b, c in faces.tolist() for e in ((a, b), (b, c), (c, a))]


def check_closed(solid: Solid) -> None:
    edges = directed(solid.faces)
    assert len(set(edges)) == len(edges), "an edge runs one way on more than one face"
    assert set(edges) == {(b, a) for a, b in edges}, "an edge has a face on one side only"
    mesh = trimesh.Trimesh(solid.vertices, solid.faces, process=False)
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    assert np.array_equal(np.unique(solid.faces), np.arange(len(solid.vertices)))


def check_volume(solid: Solid, wanted: float, tolerance: float = 1e-9) -> None:
    mesh = trimesh.Trimesh(solid.vertices, solid.faces, process=False)
    seen = {
        "its own": solid_volume(solid),
        "trimesh": mesh.volume,
        "manifold3d": closed(solid.vertices, solid.faces).volume(),
    }
    for who, volume in seen.items():
        assert abs(volume - wanted) <= tolerance * wanted, f"{who}: {volume!r}, wanted {wanted!r}"


def narrowest(solid: Solid) -> float:
    """The least height of any triangle over its longest side."""
    a, b, c = (solid.vertices[solid.faces[:, k]] for k in range(3))
    area = np.linalg.norm(np.cross(b - a, c - a), axis=1)
    sides = [np.linalg.norm(p - q, axis=1) for p, q in ((a, b), (b, c), (c, a))]
    return float((area / np.max(sides, axis=0)).min())


def sheet_areas(solid: Solid, rows: int) -> tuple[np.ndarray, np.ndarray]:
    """Plan area by row of the faces that look up, and of those that look down."""
    a, b, c = (solid.vertices[solid.faces[:, k], :2] for k in range(3))
    area = ((b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]) / 2
    up = np.bincount(solid.row, np.maximum(area, 0), rows)
    return up, np.bincount(solid.row, np.maximum(-area, 0), rows)


@pytest.mark.parametrize("points", [flat(9.0), TILTED], ids=["level", "tilted"])
@pytest.mark.parametrize("name", DIGS)
def test_the_body_is_closed_and_has_the_overlays_volume_and_area_by_row(name, points):
    ground, dig, solid = made(DIGS[name], points)
    pairs = overlay(ground, dig)
    check_closed(solid)
    assert narrowest(solid) > 1e-6
    check_volume(solid, math.fsum(pairs.volume_above))
    row = row_of(dig.label[pairs.b])
    rows = int(row.max()) + 1
    wanted = np.bincount(row, pairs.area_above, rows)
    for seen in sheet_areas(solid, rows):
        assert seen == pytest.approx(wanted, abs=1e-9 * wanted.sum())
    assert set(np.unique(solid.row)) == set(np.flatnonzero(wanted > 0))


def test_a_level_pit_with_one_slope_has_the_volume_of_its_closed_form():
    # LWh + s(L+W)h^2 + (4/3)s^2 h^3, SOURCES section "Traps" (C)
    _, _, solid = made(DIGS["one slope"], flat(9.0))
    length, width, height = 52.0, 40.0, 9.0
    check_volume(
        solid,
        length * width * height + (length + width) * height**2 + 4 / 3 * height**3,
        1e-12,
    )


def test_an_upright_pit_in_level_ground_is_the_box_it_is():
    _, _, solid = made(DIGS["upright"], flat(9.0))
    assert solid.vertices.min(axis=0) == pytest.approx([-2.0, -2.0, 0.0], abs=1e-12)
    assert solid.vertices.max(axis=0) == pytest.approx([50.0, 38.0, 9.0], abs=1e-12)
    check_volume(solid, 52.0 * 40.0 * 9.0, 1e-12)
    mesh = trimesh.Trimesh(solid.vertices, solid.faces, process=False)
    assert mesh.area == pytest.approx(2 * (52 * 40 + 52 * 9 + 40 * 9), rel=1e-12)


def test_the_body_over_any_point_reaches_from_dig_to_ground():
    random = np.random.default_rng(5)
    points = np.vstack([flat(9.0), np.column_stack([random.uniform(-40, 90, (80, 2)),
                                                    random.normal(9.0, 1.0, 80)])])  # fmt: skip
    ground, dig, solid = made(DIGS["all"], points)
    for spot in random.uniform(-30, 80, (150, 2)):
        depth = height_over(ground, spot) - height_over(dig, spot, lacking=math.inf)
        assert thickness(solid, spot) == pytest.approx(max(depth, 0.0), abs=1e-9)


def crossing() -> tuple[Surface, Surface, Solid]:
    """Two floors side by side, of rows 0 and 1, that tilt against each other."""
    half = np.array([[0.0, -4.0], [5.0, -4.0], [5.0, 4.0], [0.0, 4.0]])
    planes = np.array([[0.0, 1.5, -3.0, 0.0, 0.25], [0.0, 1.5, -3.0, 0.0, -0.5]])
    dig = from_polygons([half - [5.0, 0.0], half], planes, np.array([0, 4]))
    ground = tin_surface(build_tin(TILTED))
    return ground, dig, dig_solid(ground, dig)


@pytest.mark.parametrize("seen_faces", [crossing, lambda: made(DIGS["all"], TILTED)])
def test_every_upright_face_has_its_rows_earth_on_its_inner_side_and_none_beyond(seen_faces):
    ground, dig, solid = seen_faces()
    seen = 0
    for (a, b, c), row in zip(solid.vertices[solid.faces], solid.row, strict=True):
        normal = np.cross(b - a, c - a)
        area = float(np.linalg.norm(normal)) / 2
        longest = max(math.dist(a, b), math.dist(b, c), math.dist(c, a))
        if abs(normal[2]) > 1e-9 * area or area < 0.05 * longest:
            continue
        seen += 1
        middle, out = (a + b + c) / 3, 1e-4 * normal / (2 * area)
        assert dug_row(ground, dig, middle - out) == row
        assert dug_row(ground, dig, middle + out) is None
    assert seen >= 10


def test_floors_that_cross_along_their_border_share_the_crossing():
    _, _, solid = crossing()
    check_closed(solid)
    assert (np.abs(solid.vertices - [0.0, 1.5, -3.0]).max(axis=1) < 1e-12).sum() == 1


def dug_row(ground: Surface, dig: Surface, spot: np.ndarray) -> int | None:
    """The row whose earth is at a spot (3,), None where none is dug."""
    face, earth = face_at(dig, spot[:2]), face_at(ground, spot[:2])
    if face is None or earth is None:
        return None
    low, high = (
        float(s.upward_at(f, spot[None, :2])[0]) for s, f in ((dig, face), (ground, earth))
    )
    return int(dig.label[face]) // 4 if low < spot[2] < high else None


def face_at(surface: Surface, spot: np.ndarray) -> int | None:
    for face in range(len(surface)):
        ring = surface.corners(face)
        side, reach = np.roll(ring, -1, axis=0) - ring, spot - ring
        if np.all(side[:, 0] * reach[:, 1] - side[:, 1] * reach[:, 0] >= 0):
            return face
    return None


def height_over(surface: Surface, spot: np.ndarray, lacking: float = math.nan) -> float:
    face = face_at(surface, spot)
    return lacking if face is None else float(surface.upward_at(face, spot[None])[0])


def thickness(solid: Solid, spot: np.ndarray) -> float:
    """How much of the upright line through a spot is inside: out of upper faces, into lower."""
    total = 0.0
    for a, b, c in solid.vertices[solid.faces]:
        area = double_area(a, b, c)
        if abs(area) < 1e-9:  # upright
            continue
        first, second = double_area(spot, b, c) / area, double_area(spot, c, a) / area
        if min(first, second, 1 - first - second) >= 0:
            height = first * a[2] + second * b[2] + (1 - first - second) * c[2]
            total += height if area > 0 else -height
    return total


def double_area(a: np.ndarray, b: np.ndarray, c: np.ndarray) -> float:
    return float((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]))


@pytest.mark.parametrize("name", ["unlike sides", "L", "all"])
def test_a_turned_and_moved_site_has_the_same_body(name):
    angle, shift = math.radians(37.0), np.array([2_000_000.0, 650_000.0])
    cos, sin = math.cos(angle), math.sin(angle)

    def moved(plan):
        return np.asarray(plan) @ np.array([[cos, sin], [-sin, cos]]) + shift

    here = DIGS[name]
    there = type(here)(
        corners=moved(here.corners), walls=here.walls, number=here.number, floor=here.floor,
        footing=here.footing, extras=tuple(moved_extra(e, moved) for e in here.extras),
    )  # fmt: skip
    ground, dig, solid = made(here, TILTED)
    points = np.column_stack([moved(TILTED[:, :2]), TILTED[:, 2]])
    _, _, turned = made(there, points)
    check_closed(turned)
    volume = math.fsum(overlay(ground, dig).volume_above)
    # at easting 2,000,000 a coordinate is only good to 2e-10
    check_volume(turned, volume, 1e-8)
    rows = int(solid.row.max()) + 1
    for one, other in zip(sheet_areas(solid, rows), sheet_areas(turned, rows), strict=True):
        assert one == pytest.approx(other, abs=1e-8 * one.sum())


def moved_extra(extra: Extra, moved) -> Extra:
    pieces = []
    for piece in extra.pieces:
        origin = moved(piece.plane[None, :2])[0]
        fall = moved(piece.plane[None, :2] + piece.plane[None, 3:])[0] - origin
        pieces.append(
            Piece(
                corners=moved(piece.corners),
                plane=np.array([*origin, piece.plane[2], *fall]),
                shared=piece.shared,
            )
        )
    return Extra(
        kind=extra.kind, name=extra.name, pieces=tuple(pieces), overdig=extra.overdig,
        side=extra.side, key=extra.key,
    )  # fmt: skip


@settings(max_examples=60, deadline=None)
@given(
    name=st.sampled_from(sorted(DIGS)),
    seed=st.integers(0, 2**32 - 1),
    shots=st.integers(4, 150),
    rough=st.sampled_from([0.0, 0.1, 2.0, 6.0]),
    step=st.sampled_from([0.0, 0.5, 4.0]),
)
def test_random_ground_gives_a_closed_body_of_the_overlays_volume(name, seed, shots, rough, step):
    random = np.random.default_rng(seed)
    plan, upward = random.uniform(-60, 110, (shots, 2)), random.normal(8.0, rough, shots)
    if step:  # shots on a grid share lines with the dig, and their heights with its levels
        plan, upward = np.round(plan / step) * step, np.round(upward)
    plan, chosen = np.unique(plan, axis=0, return_index=True)
    points = np.vstack([flat(8.0, 150.0), np.column_stack([plan, upward[chosen]])])
    ground, dig, solid = made(DIGS[name], points)
    check_closed(solid)
    check_volume(solid, math.fsum(overlay(ground, dig).volume_above))


def tent(ground_level: float) -> Solid:
    """A dig whose ridge, in the middle of it, is at elevation 0 from (-1, 0) to (1, 0)."""
    spots = np.array([[-3.0, -2, -1], [3, -2, -1], [3, 2, -1], [-3, 2, -1], [-1, 0, 0], [1, 0, 0]])
    rings = [[0, 1, 5], [0, 5, 4], [1, 2, 5], [2, 3, 4], [2, 4, 5], [3, 0, 4]]
    planes = []
    for ring in rings:
        a, b, c = spots[ring]
        normal = np.cross(b - a, c - a)
        planes.append([*a, -normal[0] / normal[2], -normal[1] / normal[2]])
    dig = from_polygons([spots[r][:, :2] for r in rings], np.array(planes), np.zeros(6))
    return dig_solid(tin_surface(build_tin(flat(ground_level))), dig)


def test_a_ridge_just_at_the_ground_is_parted_even_where_both_its_ends_hang_together():
    solid = tent(0.0)
    check_closed(solid)
    # a hip roof 6 by 4, 1 high with a ridge of 2, out of a box
    check_volume(solid, 6 * 4 * 1 - (2 * 4 * 1 / 2 + 4 * 4 * 1 / 3), 1e-12)
    places = np.unique(solid.vertices, axis=0)
    assert len(solid.vertices) == len(places) + 1  # the middle of the ridge, once for each side


@pytest.mark.parametrize("level", [-0.25, 0.5])
def test_a_ridge_below_or_above_the_ground_needs_no_parting(level):
    solid = tent(level)
    check_closed(solid)
    assert len(np.unique(solid.vertices, axis=0)) == len(solid.vertices)


def test_two_tetrahedra_on_one_edge_get_vertices_of_their_own():
    vertices = np.array([[0.0, 0, 0], [0, 0, 1], [1, 0, 0], [1, 1, 0], [-1, 0, 0], [-1, -1, 0]])
    faces = []
    for far in ((2, 3), (4, 5)):
        body = trimesh.convex.convex_hull(vertices[[0, 1, *far]])
        index = [int(np.flatnonzero((vertices == v).all(axis=1))[0]) for v in body.vertices]
        faces += [[index[i] for i in face] for face in body.faces.tolist()]
    own, corners, source = unpinched(vertices, np.array(faces))
    assert len(own) == 8
    assert np.array_equal(source, np.arange(8))
    check_closed(Solid(vertices=own, faces=corners.astype(np.int32), row=np.zeros(8, np.int32)))
    assert len(trimesh.Trimesh(own, corners, process=False).split()) == 2


def test_edges_are_paired_with_those_that_run_the_other_way():
    start, end = np.array([0, 1, 1, 2, 0, 5]), np.array([1, 0, 2, 0, 1, 6])
    assert twins(start, end).tolist() == [1, 0, -1, -1, -1, -1]


@pytest.mark.parametrize("level", [-5.0, 0.0])
def test_where_the_ground_is_nowhere_above_the_dig_there_is_no_body(level):
    dig = from_polygons([BOX], np.array([[0.0, 0.0, 0.0, 0.0, 0.0]]), np.zeros(1))
    solid = dig_solid(tin_surface(build_tin(flat(level))), dig)
    assert solid.faces.shape == (0, 3)
    assert solid.vertices.shape == (0, 3)
    assert solid_volume(solid) == 0.0


def floors(*levels_and_rings) -> Surface:
    planes = [[0.0, 0.0, level, 0.0, 0.0] for level, _ in levels_and_rings]
    rings = [np.array(ring, dtype=float) for _, ring in levels_and_rings]
    return from_polygons(rings, np.array(planes), np.arange(len(rings)) * 4)


def test_a_face_no_wider_than_rounding_leaves_nothing_behind():
    dig = floors(
        (-1.0, [[0, 0], [2, 0], [2, 2], [0, 2]]),
        (-1.0, [[2, 0], [2 + 1e-13, 0.7], [2, 2]]),
        (-1.0, [[2 + 1e-13, 0.7], [2, 0], [4, 0], [4, 2]]),
        (-1.0, [[2 + 1e-13, 0.7], [4, 2], [2, 2]]),
    )
    solid = dig_solid(tin_surface(build_tin(flat(0.0))), dig)
    check_closed(solid)
    check_volume(solid, 8.0, 1e-12)
    assert narrowest(solid) > 1e-6
    assert 1 not in solid.row


def test_beside_a_cut_what_is_dug_by_less_than_rounding_is_no_part_of_the_body():
    dig = floors(
        (-1.0, [[0, 0], [1, 0], [1, 1], [0, 1]]),
        (-1.0, [[0, 1], [1, 1], [1, 2], [0, 2]]),
        (-1e-14, [[1, 0], [3, 0], [3, 2], [1, 2]]),
    )
    solid = dig_solid(tin_surface(build_tin(flat(0.0))), dig)
    check_closed(solid)
    check_volume(solid, 2.0, 1e-12)
    assert solid.vertices[:, 0].max() == 1.0
    assert trimesh.Trimesh(solid.vertices, solid.faces, process=False).area == pytest.approx(10.0)


def test_ground_above_the_dig_by_less_than_rounding_gives_no_body():
    points = flat(0.0)
    points[:, 2] = 1e-16 * points[:, 0]
    dig = from_polygons([BOX], np.array([[0.0, 0.0, 0.0, 0.0, 0.0]]), np.zeros(1))
    assert len(dig_solid(tin_surface(build_tin(points)), dig).faces) == 0
