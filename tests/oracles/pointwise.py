"""The dig point by point, without any moving outline.

Convex outlines: a point is dug down to the greatest height, over walls, at which that wall's
front reaches it. One side for all walls of any outline: the outline at a height is the mitred
offset of the dig line by that side's run.
"""

import numpy as np
import shapely

from tests.oracles.dig import Pit, run_at, steps_to


def beyond(pit: Pit, plan: np.ndarray) -> np.ndarray:
    """How far each point (n, 2) lies out past each wall's dig line: (n, walls)."""
    along = np.roll(pit.corners, -1, axis=0) - pit.corners
    normal = np.column_stack([along[:, 1], -along[:, 0]])
    normal = normal / np.linalg.norm(along, axis=1)[:, None]
    face = (normal * pit.corners).sum(axis=1)
    return plan @ normal.T - face - np.array(pit.overdig)


def climb(side: list[tuple[float, float]], distance: np.ndarray, most: float) -> np.ndarray:
    """The height at which a wall's front reaches points so far out; infinite past `most`."""
    height = np.where(distance <= 0, 0.0, np.inf)
    run = risen = 0.0
    for step_run, step_rise in steps_to(side, most):
        inside = (distance > run) & (distance <= run + step_run)
        if step_run > 0:
            height[inside] = risen + (distance[inside] - run) * step_rise / step_run
        run, risen = run + step_run, risen + step_rise
    return height


def convex_dig(pit: Pit, plan: np.ndarray, most: float) -> np.ndarray:
    """The dig's elevation at points (n, 2), infinite where no front comes by `most`."""
    out = beyond(pit, plan)
    heights = [climb(side, out[:, wall], most) for wall, side in enumerate(pit.side)]
    return pit.floor + np.max(heights, axis=0)


def convex_wall(pit: Pit, plan: np.ndarray, most: float) -> np.ndarray:
    """The number of the wall that rules at each point outside the dig line."""
    out = beyond(pit, plan)
    heights = [climb(side, out[:, wall], most) for wall, side in enumerate(pit.side)]
    return np.argmax(heights, axis=0)


def offset_outline(pit: Pit, height: float):
    """The dig's outline at a height, when every wall has the same overdig and side."""
    distance = pit.overdig[0] + run_at(pit.side[0], height, treads=True)
    body = shapely.Polygon(pit.corners)
    return body.buffer(distance, join_style="mitre", mitre_limit=1e9)
