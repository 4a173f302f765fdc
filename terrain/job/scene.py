"""The dig in space: its faces by wall, the ground around, the lines that tell them apart."""

from dataclasses import dataclass

import numpy as np
import shapely

from terrain.base.arrays import BoolArray, FloatArray, IntArray
from terrain.job.around import ground_around, thinned_ground
from terrain.job.volumes import Worked
from terrain.pit.solid import Solid, dig_solid

MARGIN = 0.22
"""How much ground is shown on each side of the dig, as a share of its longer side."""

SAME_PLANE = 0.9986
"""Cosine (3 degrees) above which two faces of one row are drawn as one, without a line between."""

LEVEL_GROUND = 0.02
"""Ground that falls less than this is looked at from the south; else from its low side."""

ASIDE = 28.0
"""Degrees by which the view is turned aside, so that no wall is seen square."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Body:
    """What is dug in one row: a wall, pit, ramp or trench.

    `faces` (m, 3) are its floor and sides, `lid` (k, 3) the ground above, both into the scene's
    `vertices` and turning left seen from outside the earth that leaves. `spot` (3,) lies on its
    floor or sides, near their middle, `crown` (3,) on its lid, or at `spot` where it has none.
    """

    name: str
    kind: str
    faces: IntArray
    lid: IntArray
    spot: FloatArray
    crown: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """What the picture in space shows, in the local frame, heights not exaggerated.

    Args:
        vertices: (n, 3) easting, northing, upward.
        bodies: one a row that takes earth out, in the order of the ledger.
        ground: (m, 3) the existing ground round the dig, into `vertices`, turning left from above.
        edges: (k, 2, 3) lines between unlike faces of the dig, and its rim.
        house: (j, 2, 3) the outside faces of the foundation: floor, top and corners.
        heading: from where one looks at first, degrees clockwise from north.
        shown, of: the triangles of ground that the picture is made with, and that there are.
    """

    vertices: FloatArray
    bodies: tuple[Body, ...]
    ground: IntArray
    edges: FloatArray
    house: FloatArray
    heading: float
    shown: int
    of: int


def scene_of(worked: Worked) -> Scene:
    """The dig of a job in its ground, from so many triangles that a page can hold them."""
    window = _window(worked)
    ground = thinned_ground(worked.existing.tin, window)
    solid = dig_solid(ground, worked.dig.surface)
    around = ground_around(ground, worked.dig.surface, window)
    corners = np.arange(len(around) * 3, dtype=np.int32).reshape(-1, 3) + len(solid.vertices)
    lid = _normals(solid.vertices, solid.faces)[:, 2] > 1e-9
    return Scene(
        vertices=np.concatenate([solid.vertices, around.reshape(-1, 3)]),
        bodies=_bodies(worked, solid, lid),
        ground=corners,
        edges=_edges(solid, lid),
        house=_house(worked),
        heading=_looked_from(around),
        shown=len(ground),
        of=len(worked.existing.tin),
    )


def _window(worked: Worked) -> shapely.Polygon:
    """The box of ground that is shown: all that is dug, and some around it."""
    dig, whole = worked.dig, worked.figures.whole
    dug = whole.centroid_above[whole.area_above > 0]
    rings = [dig.line.ring.corners, *(line.ring.corners for _, line in dig.extra_lines)]
    corners = np.concatenate([worked.layout.design.corners, *rings, dug])
    low, high = corners.min(axis=0), corners.max(axis=0)
    margin = MARGIN * float((high - low).max())
    return shapely.box(*(low - margin), *(high + margin))


def _normals(vertices: FloatArray, faces: IntArray) -> FloatArray:
    """The unit normals (m, 3) of some faces; nought where a face has no area."""
    a, b, c = (vertices[faces[:, k]] for k in range(3))
    normal = np.cross(b - a, c - a)
    size = np.sqrt(np.sum(normal**2, axis=1, keepdims=True))
    unit: FloatArray = normal / np.where(size > 0, size, 1.0)
    return unit


def _bodies(worked: Worked, solid: Solid, lid: BoolArray) -> tuple[Body, ...]:
    """One body a row that has faces: walls as the job names them, then the extras."""
    design = worked.layout.design
    walls = len(design.walls)
    order = [*np.argsort(design.number).tolist(), *range(walls, walls + len(design.extras))]
    bodies = []
    for row in order:
        own = solid.row == row
        faces = solid.faces[own & ~lid]
        if len(faces) == 0:
            continue
        above = bool((own & lid).any())
        extra = design.extras[row - walls] if row >= walls else None
        bodies.append(
            Body(
                name=design.walls[row].name if extra is None else extra.name,
                kind="wall" if extra is None else extra.kind,
                faces=faces,
                lid=solid.faces[own & lid],
                spot=_spot(solid.vertices, faces),
                crown=_spot(solid.vertices, solid.faces[own & lid] if above else faces),
            )
        )
    return tuple(bodies)


def _spot(vertices: FloatArray, faces: IntArray) -> FloatArray:
    """The middle of the face that lies nearest the middle of them all by area."""
    a, b, c = (vertices[faces[:, k]] for k in range(3))
    area = np.sqrt(np.sum(np.cross(b - a, c - a) ** 2, axis=1))
    middles = (a + b + c) / 3
    middle = np.average(middles, axis=0, weights=area) if area.sum() > 0 else middles.mean(axis=0)
    large = np.flatnonzero(area >= 0.05 * area.max())
    nearest = large[np.argmin(np.sum((middles[large] - middle) ** 2, axis=1))]
    spot: FloatArray = middles[nearest]
    return spot


def _edges(solid: Solid, lid: BoolArray) -> FloatArray:
    """The edges (k, 2, 3) where the dig bends, passes from row to row or meets the ground."""
    faces = solid.faces
    if len(faces) == 0:
        return np.zeros((0, 2, 3))
    pairs = np.sort(np.stack([faces, np.roll(faces, -1, axis=1)], axis=2).reshape(-1, 2), axis=1)
    order = np.lexsort(pairs.T)
    one, two = order[0::2], order[1::2]  # a closed body has each edge twice
    face_one, face_two = one // 3, two // 3
    normal = _normals(solid.vertices, faces)
    bent = np.sum(normal[face_one] * normal[face_two], axis=1) < SAME_PLANE
    passes = solid.row[face_one] != solid.row[face_two]
    drawn = (bent | passes) & ~(lid[face_one] & lid[face_two])
    kept: FloatArray = solid.vertices[pairs[one[drawn]]]
    return kept


def _house(worked: Worked) -> FloatArray:
    """The outside faces from the floor to the top of the wall, or to the floor alone."""
    layout = worked.layout
    corners, levels = layout.design.corners, layout.levels
    base = levels.floor if levels.footing_top is None else levels.footing_top
    tops = [level.elevation for level in levels.chain if level.name == "top of wall"]
    heights = [base, *tops]
    rings = [np.column_stack([corners, np.full(len(corners), up)]) for up in heights]
    lines = [np.stack([ring, np.roll(ring, -1, axis=0)], axis=1) for ring in rings]
    if tops:
        lines.append(np.stack(rings, axis=1))
    return np.concatenate(lines)


def _looked_from(around: FloatArray) -> float:
    """The heading from the dig to the viewer: the low side of the ground, turned aside."""
    points = around.reshape(-1, 3)
    if len(points) < 3:
        return 180.0 + ASIDE
    own = points - points.mean(axis=0)
    plane, *_ = np.linalg.lstsq(own[:, :2], own[:, 2], rcond=None)
    fall = np.hypot(*plane)
    heading = 180.0 if fall < LEVEL_GROUND else np.degrees(np.arctan2(-plane[0], -plane[1]))
    return float((heading + ASIDE) % 360.0)
