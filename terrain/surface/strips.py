"""Trenches and ramps: a line and a width to outlines, square at ends, mitred at bends."""

import numpy as np
import shapely

from terrain.base.arrays import FloatArray

SHARPEST_BEND = 150.0
"""Degrees of turn at a bend beyond which a strip is taken to double back."""


def straightened(line: FloatArray) -> FloatArray:
    """The line (n, 2) without points that it passes straight through."""
    keep = np.ones(len(line), dtype=bool)
    keep[1:-1] = np.abs(_turns(line)) > 1e-9
    return line[keep]


def _directions(line: FloatArray) -> FloatArray:
    steps = np.diff(line, axis=0)
    along: FloatArray = steps / np.hypot(steps[:, 0], steps[:, 1])[:, None]
    return along


def _turns(line: FloatArray) -> FloatArray:
    """Degrees of turn at every point but the ends, counter-clockwise positive."""
    along = _directions(line)
    before, after = along[:-1], along[1:]
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    turns: FloatArray = np.degrees(np.arctan2(cross, np.sum(before * after, axis=1)))
    return turns


def _half_mitres(line: FloatArray, width: float) -> FloatArray:
    """From each point of the line to the left edge of the strip, (n, 2)."""
    along = _directions(line)
    left = np.column_stack([-along[:, 1], along[:, 0]])
    before, after = np.concatenate([left[:1], left]), np.concatenate([left, left[-1:]])
    across = (before + after) / (1.0 + np.sum(before * after, axis=1))[:, None]
    mitres: FloatArray = across * (width / 2)
    return mitres


def strip_pieces(line: FloatArray, width: float) -> list[FloatArray]:
    """One quadrilateral (4, 2) a segment, counter-clockwise: right edge, far, left, near.

    Neighbours share their mitre: the far side of one is the near side of the next.
    """
    half = _half_mitres(line, width)
    right, left = line - half, line + half
    return [np.array([right[i], right[i + 1], left[i + 1], left[i]]) for i in range(len(line) - 1)]


def strip_outline(line: FloatArray, width: float) -> FloatArray:
    """The whole strip as one ring (2n, 2), counter-clockwise."""
    half = _half_mitres(line, width)
    return np.concatenate([line - half, (line + half)[::-1]])


def climb_planes(line: FloatArray, floor: float, run_per_rise: float) -> FloatArray:
    """The floor plane (n - 1, 5) of each segment, climbing from `floor` along the centre line."""
    along = _directions(line)
    steps = np.diff(line, axis=0)
    run = np.concatenate([[0.0], np.cumsum(np.hypot(steps[:, 0], steps[:, 1]))[:-1]])
    upward = floor + run / run_per_rise
    return np.column_stack([line[:-1], upward, along / run_per_rise])


def strip_problems(line: FloatArray, width: float) -> list[str]:
    """What keeps a line (n, 2) of this width from being a strip, in words."""
    gaps = np.hypot(*np.diff(line, axis=0).T)
    if np.any(gaps < 1e-6):
        point = int(np.argmin(gaps))
        return [f"points {point + 1} and {point + 2} of the line are the same"]
    turns = _turns(line)
    if np.any(np.abs(turns) > SHARPEST_BEND):
        bend = int(np.argmax(np.abs(turns)))
        return [f"the line doubles back at its point {bend + 2} (a turn of {turns[bend]:.0f} deg)"]
    problems = []
    for i, (piece, along) in enumerate(
        zip(strip_pieces(line, width), _directions(line), strict=True)
    ):
        edges = ((piece[1] - piece[0]) @ along, (piece[2] - piece[3]) @ along)
        if min(edges) <= 0.0:
            problems.append(
                f"the strip folds over itself: its segment {i + 1} is {gaps[i]:g} long, too short "
                f"for the bends at its ends at a width of {width:g}"
            )
    if not problems and not shapely.Polygon(strip_outline(line, width)).is_valid:
        problems.append(f"the strip runs into itself at a width of {width:g}; make two of it")
    return problems
