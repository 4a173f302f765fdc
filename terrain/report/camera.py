"""A view in space without vanishing points: lengths across it are true, none is exaggerated."""

from dataclasses import dataclass

import numpy as np

from terrain.base.arrays import FloatArray
from terrain.job.scene import Scene

ELEVATION = 38.0
"""Degrees from which the first view looks down."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Camera:
    """A viewer at `heading` (clockwise from north) and `elevation`, in degrees.

    `scale` is pixels a length unit; `left`, `top` are the view's own coordinates of the picture's
    top left corner; `width`, `height` its size in pixels.
    """

    heading: float
    elevation: float
    scale: float
    left: float
    top: float
    width: float
    height: float

    def pixels(self, points: FloatArray) -> FloatArray:
        """Across, down and towards the viewer (..., 3), in pixels, of points (..., 3)."""
        seen = points @ _axes(self.heading, self.elevation).T
        across = (seen[..., 0] - self.left) * self.scale
        down = (self.top - seen[..., 1]) * self.scale
        return np.stack([across, down, seen[..., 2] * self.scale], axis=-1)


def camera_on(scene: Scene, width: float, margin: float) -> Camera:
    """The first view of a scene, as wide as the picture but for a margin, in pixels."""
    points = np.concatenate([scene.vertices, scene.house.reshape(-1, 3)])
    seen = points @ _axes(scene.heading, ELEVATION).T
    low, high = seen[:, :2].min(axis=0), seen[:, :2].max(axis=0)
    scale = (width - 2 * margin) / max(float(high[0] - low[0]), 1e-9)
    return Camera(
        heading=scene.heading,
        elevation=ELEVATION,
        scale=scale,
        left=float(low[0]) - margin / scale,
        top=float(high[1]) + margin / scale,
        width=width,
        height=float(high[1] - low[1]) * scale + 2 * margin,
    )


def house_walls(scene: Scene) -> FloatArray:
    """The corners (n, 4, 3) of the foundation's outside faces; none where its top is not known.

    The scene's lines of the house are then n at its foot, n at its top in the same order, and n
    uprights.
    """
    count = len(scene.house) // 3
    foot, top = scene.house[:count], scene.house[count : 2 * count]
    if len(scene.house) != 3 * count or not np.allclose(foot[..., :2], top[..., :2]):
        return np.zeros((0, 4, 3))
    return np.concatenate([foot, top[:, ::-1]], axis=1)


def _axes(heading: float, elevation: float) -> FloatArray:
    """Right, up and towards the viewer, as rows of (easting, northing, upward)."""
    turn, rise = np.radians([heading, elevation])
    toward = np.array([np.sin(turn) * np.cos(rise), np.cos(turn) * np.cos(rise), np.sin(rise)])
    right = np.array([-np.cos(turn), np.sin(turn), 0.0])
    return np.stack([right, np.cross(toward, right), toward])
