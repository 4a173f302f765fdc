"""The excavated body as a closed mesh: ground above, dig below, faces upright where it jumps.

Closed means: every edge of a face, from one vertex to another, is an edge of just one other face,
the other way. It is so by construction, whatever rounding did to the parts: each part of the
overlay is a prism, closed by itself, and what two prisms have in common is taken from both. Where
the body only touches itself, at a point or along an edge, each side of the touch has vertices of
its own at the same place, see `pinch`.
"""

import math
from dataclasses import dataclass

import numpy as np

from terrain.base.arrays import FloatArray, IntArray
from terrain.pit.dig import row_of
from terrain.pit.pinch import unpinched, without_doubled
from terrain.pit.skin import Faces, columns_of, curtains, joined, sheets
from terrain.pit.weld import (
    Index,
    Loops,
    cut_at_crossings,
    cut_lone_edges,
    weld,
    without_spikes,
)
from terrain.surface.overlay import OverlayFaces, overlay_faces
from terrain.surface.patches import Surface

# Corners this near, as a share of the body's size, are one; and in no case nearer than so many
# roundings of the largest coordinate.
NEAR = 1e-10
ROUNDINGS = 64.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Solid:
    """A body as a closed mesh.

    Args:
        vertices: (n, 3) easting, northing, upward in the local frame.
        faces: (m, 3) int32, triangles that turn left seen from outside.
        row: (m,) int32, the row (walls, then extras) whose earth the face bounds.
    """

    vertices: FloatArray
    faces: IntArray
    row: IntArray


def dig_solid(ground: Surface, dig: Surface) -> Solid:
    """The earth between the ground and a dig below it, as a closed mesh in the local frame.

    Args:
        ground: the ground before the dig, without jumps.
        dig: the dig, labelled as `pit.dig` says; it may jump.
    """
    parts = overlay_faces(ground, dig)
    loops = _dug_loops(parts, ground)
    if len(loops.part) == 0:
        return Solid(
            vertices=np.zeros((0, 3)),
            faces=np.zeros((0, 3), dtype=np.int32),
            row=np.zeros(0, dtype=np.int32),
        )
    tolerance = _tolerance(loops)
    node, plan = weld(loops.plan, tolerance)
    loops = Loops(part=loops.part, node=node, top=loops.top, depth=loops.depth, plan=plan)
    loops = cut_lone_edges(without_spikes(loops), tolerance)
    columns = columns_of(cut_at_crossings(loops, tolerance), tolerance)
    ground_and_dig, vertices = sheets(columns)
    vertices, corners, part = _clean(vertices, joined(curtains(columns), *ground_and_dig))
    return Solid(
        vertices=vertices,
        faces=corners.astype(np.int32),
        row=row_of(dig.label[parts.b[part]]).astype(np.int32),
    )


def solid_volume(solid: Solid) -> float:
    """The volume a closed mesh encloses, in cubic length units.

    By the divergence theorem: the sum of the signed tetrahedra from a point in the middle of the
    mesh to its faces, without loss in the summing.
    """
    if len(solid.faces) == 0:
        return 0.0
    middle = (solid.vertices.min(axis=0) + solid.vertices.max(axis=0)) / 2
    a, b, c = (solid.vertices[solid.faces[:, k]] - middle for k in range(3))
    return math.fsum(np.einsum("ij,ij->i", a, np.cross(b - a, c - a)).tolist()) / 6.0


def _dug_loops(parts: OverlayFaces, ground: Surface) -> Loops:
    """The parts where ground is above dig, every corner a node of its own."""
    counts = np.diff(parts.start)
    part = np.repeat(np.arange(len(parts)), counts)
    dug = parts.side[part] == 1
    part, plan = part[dug], parts.ring[dug]
    plane = ground.plane[parts.a[part]]
    reach = plan - plane[:, :2]
    return Loops(
        part=part,
        node=np.arange(len(part)),
        top=plane[:, 2] + (plane[:, 3:] * reach).sum(axis=1),
        depth=parts.depth[dug],
        plan=plan,
    )


def _tolerance(loops: Loops) -> float:
    """How near corners must be to be one: well above rounding, far below anything that is dug."""
    size = max(float(np.ptp(loops.plan, axis=0).max()), float(loops.depth.max()))
    largest = max(float(np.abs(loops.plan).max()), float(np.abs(loops.top).max()))
    return max(NEAR * size, ROUNDINGS * float(np.finfo(np.float64).eps) * largest)


def _clean(vertices: FloatArray, faces: Faces) -> tuple[FloatArray, Index, Index]:
    """Used vertices, faces and their parts: no face on edge, none against another, no pinch."""
    a, b, c = faces.corners.T
    keep = (a != b) & (b != c) & (c != a)
    corners, part = faces.corners[keep], faces.part[keep]
    keep = without_doubled(corners)
    corners, part = corners[keep], part[keep]
    vertices, corners, source = unpinched(vertices, corners)
    used, renumbered = np.unique(corners, return_inverse=True)
    return vertices[used], renumbered.reshape(-1, 3), part[source]
