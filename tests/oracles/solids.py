"""Closed solids by manifold3d: ground over pit, taken with a library that knows nothing of us."""

import manifold3d
import numpy as np


def prisms(points: np.ndarray, triangles: np.ndarray, bottom: float) -> manifold3d.Manifold:
    """The body between a TIN (triangles left-turning) and a level far below."""
    edges = np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]])
    back = {(b, a) for a, b in edges.tolist()}
    rim = np.array([e for e in edges.tolist() if tuple(e) not in back])
    count = len(points)
    low = points.copy()
    low[:, 2] = bottom
    walls = np.concatenate(
        [
            np.column_stack([rim[:, 1], rim[:, 0], rim[:, 0] + count]),
            np.column_stack([rim[:, 1], rim[:, 0] + count, rim[:, 1] + count]),
        ]
    )
    faces = np.concatenate([triangles, triangles[:, ::-1] + count, walls])
    return closed(np.concatenate([points, low]), faces)


def closed(vertices: np.ndarray, faces: np.ndarray) -> manifold3d.Manifold:
    """A manifold in double precision from vertices (n, 3) and outward faces (m, 3)."""
    mesh = manifold3d.Mesh64(
        vert_properties=np.ascontiguousarray(vertices, dtype=np.float64),
        tri_verts=np.ascontiguousarray(faces, dtype=np.uint64),
    )
    body = manifold3d.Manifold(mesh)
    if body.status() != manifold3d.Error.NoError or body.is_empty():
        raise AssertionError(f"not a closed solid: {body.status()}")
    return body


def sloped_pit(normal: np.ndarray, reach: np.ndarray, slope: np.ndarray, floor: float,
               height: float) -> manifold3d.Manifold:  # fmt: skip
    """A convex pit: a box cut down by one half-space a wall, up to `height` above the floor.

    Wall i holds `normal . plan <= reach + slope * (upward - floor)`.
    """
    body = manifold3d.Manifold.cube((4000.0, 4000.0, height), True).translate(
        (0.0, 0.0, floor + height / 2)
    )
    for out, offset, run in zip(normal, reach, slope, strict=True):
        steep = np.array([out[0], out[1], -run])
        size = np.linalg.norm(steep)
        body = body.trim_by_plane(tuple(-steep / size), -(offset - run * floor) / size)
    return body
