"""A surface as plane patches over convex plan polygons."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from terrain.base.arrays import FloatArray, IntArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Surface:
    """Plane faces over convex polygons that share no area; the surface may jump between them.

    Args:
        start: (n + 1,) int64, where each face's corners begin in `ring`.
        ring: (k, 2), corners in the local frame, each face counter-clockwise.
        plane: (n, 5), for each face a point (easting, northing, upward) on its plane and the
            plane's gradient (per easting, per northing).
        label: (n,) int32, whatever the maker says of each face.
    """

    start: NDArray[np.int64]
    ring: FloatArray
    plane: FloatArray
    label: IntArray

    def __len__(self) -> int:
        return len(self.label)

    def corners(self, face: int) -> FloatArray:
        """The corners (m, 2) of one face, counter-clockwise."""
        return self.ring[self.start[face] : self.start[face + 1]]

    def upward_at(self, face: int, plan: FloatArray) -> FloatArray:
        """The height of one face's plane over plan points (m, 2)."""
        return height_on(self.plane[face], plan)

    def with_plane(self, plane: FloatArray) -> "Surface":
        """The same faces with other planes."""
        return Surface(start=self.start, ring=self.ring, plane=plane, label=self.label)


def from_polygons(polygons: list[FloatArray], plane: FloatArray, label: IntArray) -> Surface:
    """A surface from a list of convex counter-clockwise polygons, each (m, 2)."""
    counts = np.array([len(p) for p in polygons], dtype=np.int64)
    start = np.concatenate([[0], np.cumsum(counts)])
    ring = np.concatenate(polygons) if polygons else np.zeros((0, 2))
    return Surface(
        start=start,
        ring=np.ascontiguousarray(ring, dtype=np.float64),
        plane=np.ascontiguousarray(plane, dtype=np.float64).reshape(-1, 5),
        label=np.ascontiguousarray(label, dtype=np.int32),
    )


def join_faces(*surfaces: Surface) -> Surface:
    """One surface from the faces of several that share no area."""
    lengths = np.concatenate([np.diff(s.start) for s in surfaces])
    return Surface(
        start=np.concatenate([[0], np.cumsum(lengths)]),
        ring=np.concatenate([s.ring for s in surfaces]),
        plane=np.concatenate([s.plane for s in surfaces]),
        label=np.concatenate([s.label for s in surfaces]),
    )


def picked(surface: Surface, faces: IntArray) -> Surface:
    """The chosen faces of a surface, in the order asked."""
    counts = np.diff(surface.start)[faces]
    start = np.concatenate([[0], np.cumsum(counts)])
    corners = np.repeat(surface.start[:-1][faces] - start[:-1], counts) + np.arange(start[-1])
    return Surface(
        start=start,
        ring=surface.ring[corners],
        plane=surface.plane[faces],
        label=surface.label[faces],
    )


def labelled(surface: Surface, label: IntArray) -> Surface:
    """The same faces with other labels (n,)."""
    return Surface(
        start=surface.start,
        ring=surface.ring,
        plane=surface.plane,
        label=np.asarray(label, dtype=np.int32),
    )


def lifted(surface: Surface, by: float) -> Surface:
    """The same faces so much higher."""
    plane = surface.plane.copy()
    plane[:, 2] += by
    return surface.with_plane(plane)


def height_on(plane: FloatArray, plan: FloatArray) -> FloatArray:
    """The height of one plane (5,), as in `Surface.plane`, over plan points (m, 2)."""
    easting, northing, upward, per_easting, per_northing = plane
    rise: FloatArray = per_easting * (plan[:, 0] - easting)
    rise += per_northing * (plan[:, 1] - northing)
    rise += upward
    return rise


def tilted(surface: Surface, plane: FloatArray) -> Surface:
    """Faces measured from a plane (5,) put on that plane."""
    tilted_plane = surface.plane.copy()
    tilted_plane[:, 2] += height_on(plane, surface.plane[:, :2])
    tilted_plane[:, 3:] += plane[3:]
    return surface.with_plane(tilted_plane)


def flipped(surface: Surface) -> Surface:
    """The surface upside down: every height with its sign turned."""
    return surface.with_plane(surface.plane * np.array([1.0, 1.0, -1.0, -1.0, -1.0]))
