"""The same volumes as closed solids by manifold3d; the engine makes only the TINs for it."""

from pathlib import Path

import manifold3d
import numpy as np
from scipy.spatial import Delaunay

from scripts.benchmarks.case import Case
from scripts.benchmarks.made import Floats, Indices, RoundPit, plane_shots, round_pit
from scripts.benchmarks.peers import turned_left
from scripts.benchmarks.pit import SEED
from scripts.benchmarks.two_tins import crossing_shots
from terrain.surface.tin import Tin, build_tin

BOTTOMS = (-100.0, -150.0)  # not one level, so that two grounds share no face


def pit(count: int, folder: Path) -> Case[float]:
    """The common body of two solids; both are given."""
    dug = round_pit()
    ground, hole = ground_solid(build_tin(plane_shots(count, SEED)), BOTTOMS[0]), pit_solid(dug)

    def common() -> float:
        return float((ground ^ hole).volume())

    return Case(work=common, error=lambda volume: abs(volume / dug.volume - 1))


def pit_from_tin(count: int, folder: Path) -> Case[float]:
    """The same with the ground's solid made from its TIN, as an overlay of the TIN must."""
    dug, tin = round_pit(), build_tin(plane_shots(count, SEED))

    def common() -> float:
        return float((ground_solid(tin, BOTTOMS[0]) ^ pit_solid(dug)).volume())

    return Case(work=common, error=lambda volume: abs(volume / dug.volume - 1))


def two_tins(count: int, folder: Path) -> Case[float]:
    """One solid less the other; both are given."""
    *shots, exact = crossing_shots(count)
    a, b = (ground_solid(build_tin(s), low) for s, low in zip(shots, BOTTOMS, strict=True))
    return Case(
        work=lambda: float((a - b).volume()),
        error=lambda volume: abs(volume / exact - 1),
    )


def two_tins_from_shots(count: int, folder: Path) -> Case[float]:
    """The same from the shots: scipy's triangles first, since manifold3d makes none."""
    *shots, exact = crossing_shots(count)

    def wedge() -> float:
        a, b = (_solid_of_shots(s, low) for s, low in zip(shots, BOTTOMS, strict=True))
        return float((a - b).volume())

    return Case(work=wedge, error=lambda volume: abs(volume / exact - 1))


def _solid_of_shots(shots: Floats, bottom: float) -> manifold3d.Manifold:
    made = Delaunay(shots[:, :2])
    left = turned_left(shots, made.simplices)
    outside = made.neighbors < 0  # scipy's neighbour k lies across from corner k
    turned = (left != made.simplices).any(axis=1, keepdims=True)
    outside = np.roll(np.where(turned, outside[:, ::-1], outside), 1, axis=1)
    return solid_between(shots, left, np.nonzero(outside), bottom)


def closed(vertices: Floats, faces: Indices) -> manifold3d.Manifold:
    """A solid in double precision from vertices (n, 3) and outward faces (m, 3)."""
    solid = manifold3d.Manifold(
        manifold3d.Mesh64(
            vert_properties=np.ascontiguousarray(vertices, dtype=np.float64),
            tri_verts=np.ascontiguousarray(faces, dtype=np.uint64),
        )
    )
    if solid.status() != manifold3d.Error.NoError or solid.is_empty():
        raise ValueError(f"no closed solid: {solid.status()}")
    return solid


def ground_solid(tin: Tin, bottom: float) -> manifold3d.Manifold:
    """The body between a TIN with a convex rim and a level below it."""
    return solid_between(tin.points, tin.triangles, np.nonzero(tin.neighbours < 0), bottom)


def solid_between(
    points: Floats, triangles: Indices, rim: tuple[Indices, ...], bottom: float
) -> manifold3d.Manifold:
    """The body between triangles and a level; `rim` is the triangle and side of each outer side."""
    triangle, side = rim
    first, second = triangles[triangle, side], triangles[triangle, (side + 1) % 3]
    below = np.empty(len(points), dtype=np.int64)
    below[first] = len(points) + np.arange(len(first))
    low = np.concatenate([points[first], points[first].mean(axis=0, keepdims=True)])
    low[:, 2] = bottom
    centre = np.full(len(first), len(points) + len(first))
    faces = (
        triangles,
        np.column_stack([second, first, below[first]]),
        np.column_stack([second, below[first], below[second]]),
        np.column_stack([below[second], below[first], centre]),
    )
    return closed(np.concatenate([points, low]), np.concatenate(faces))


def pit_solid(pit: RoundPit) -> manifold3d.Manifold:
    """The body between a pit's floor and its rim."""
    count = len(pit.floor)
    k, k_next = np.arange(count), (np.arange(count) + 1) % count
    faces = (
        np.column_stack([k, k_next, k_next + count]),
        np.column_stack([k, k_next + count, k + count]),
        np.column_stack([np.zeros_like(k), k_next, k])[1:-1],
        np.column_stack([np.zeros_like(k), k, k_next])[1:-1] + count,
    )
    return closed(np.concatenate([pit.floor, pit.rim]), np.concatenate(faces))
