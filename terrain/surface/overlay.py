"""The exact common refinement of two surfaces, and what lies between them.

Depth is the height of the first surface less that of the second. Every pair of faces that share
plan area is one row; where the depth changes sign the pair is split exactly there.
"""

import math
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from os import cpu_count
from typing import Any

import numpy as np
from numpy.typing import NDArray

from terrain.base.arrays import FloatArray, IntArray
from terrain.surface import kernel
from terrain.surface.boxtree import tree_of
from terrain.surface.compiled import Faces
from terrain.surface.patches import Surface
from terrain.surface.sound import sound_edges

FACES_A_CHUNK = 8192
PAIRS_A_FACE = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class Overlay:
    """Pairs of faces with common area, and the two bodies between them.

    Args:
        a: (n,) the pair's face of the first surface.
        b: (n,) the pair's face of the second surface.
        area: (n,) plan area the two faces share.
        area_above: (n,) plan area where the first surface is higher.
        volume_above: (n,) integral of the depth over it, >= 0.
        area_below: (n,) plan area where the first surface is lower.
        volume_below: (n,) integral of the depth over it with its sign turned, >= 0.
        centroid_above: (n, 2) plan centroid of the part above: area_above times a linear
            function there is the function's integral. Where nothing is above, some near point.
        depth_above: (n,) greatest depth, 0 where nothing is above.
    """

    a: IntArray
    b: IntArray
    area: FloatArray
    area_above: FloatArray
    volume_above: FloatArray
    area_below: FloatArray
    volume_below: FloatArray
    centroid_above: FloatArray
    depth_above: FloatArray

    def __len__(self) -> int:
        return len(self.a)


@dataclass(frozen=True, slots=True, kw_only=True)
class OverlayFaces:
    """The parts of the common refinement as polygons, each of one sign of depth.

    Args:
        a: (n,) the part's face of the first surface.
        b: (n,) the part's face of the second surface.
        side: (n,) 1 above, -1 below, 0 where the depth is nought throughout.
        start: (n + 1,) int64, where each part's corners begin.
        ring: (k, 2) corners, each part counter-clockwise.
        depth: (k,) depth at each corner, exactly 0 where a face was split.
    """

    a: IntArray
    b: IntArray
    side: IntArray
    start: NDArray[np.int64]
    ring: FloatArray
    depth: FloatArray

    def __len__(self) -> int:
        return len(self.a)


def overlay(a: Surface, b: Surface) -> Overlay:
    """Areas in square and volumes in cubic length units between two surfaces, pair by pair.

    The pairs cover exactly the common footprint. A pair however small is kept; the order is that
    of the faces of the surface that has more of them.
    """
    fine, coarse, sign = (a, b, 1.0) if len(a) >= len(b) else (b, a, -1.0)
    rows = (2, kernel.FIGURES)
    parents, figures = _run(kernel.measure_chunk, (fine, coarse, sign), rows)
    first, second = (parents[0], parents[1]) if sign > 0 else (parents[1], parents[0])
    return Overlay(
        a=first,
        b=second,
        area=figures[0],
        area_above=figures[1],
        volume_above=figures[2],
        area_below=figures[3],
        volume_below=figures[4],
        centroid_above=figures[5:7].T,
        depth_above=figures[7],
    )


def overlay_faces(a: Surface, b: Surface) -> OverlayFaces:
    """The parts of `overlay(a, b)` as convex polygons with their depths, in length units."""
    fine, coarse, sign = (a, b, 1.0) if len(a) >= len(b) else (b, a, -1.0)
    parts, corners = _run(kernel.polygons_chunk, (fine, coarse, sign), (4, 3))
    first, second = (parts[0], parts[1]) if sign > 0 else (parts[1], parts[0])
    return OverlayFaces(
        a=first,
        b=second,
        side=parts[2],
        start=np.concatenate([[0], np.cumsum(parts[3], dtype=np.int64)]),
        ring=np.ascontiguousarray(corners[:2].T),
        depth=corners[2],
    )


def _run(
    chunk_kernel: Callable[..., tuple[int, int, int]],
    surfaces: tuple[Surface, Surface, float],
    rows: tuple[int, int],
) -> tuple[IntArray, FloatArray]:
    """Both arrays of a chunk kernel over all faces of the finer surface, in their order."""
    fine, coarse, sign = surfaces
    if len(coarse) == 0:
        return np.empty((rows[0], 0), dtype=np.int32), np.empty((rows[1], 0))
    fine_arrays, coarse_arrays, tree = surface_arrays(fine), surface_arrays(coarse), tree_of(coarse)
    sound_arrays = (*coarse_arrays, sound_edges(*coarse_arrays[:2]))
    most = 2 * int(np.diff(fine_arrays[0]).max() + np.diff(coarse_arrays[0]).max()) + 8

    guess = len(fine) + len(coarse) + int(4 * math.sqrt(len(fine) * len(coarse))) + 64

    def run_chunk(first: int) -> list[tuple[IntArray, FloatArray]]:
        last = min(first + FACES_A_CHUNK, len(fine))
        room, pieces = PAIRS_A_FACE * (last - first) + 64, []
        while first < last:
            width = room if rows[1] == kernel.FIGURES else room * 4
            out = (np.empty((rows[0], room), dtype=np.int32), np.empty((rows[1], width)))
            task = (first, last, sign, most)
            *done, reached = chunk_kernel(fine_arrays, sound_arrays, tree, task, out)
            pieces.append((out[0][:, : done[0]], out[1][:, : done[1]]))
            room = room * 2 if reached == first else room
            first = reached
        return pieces

    with ThreadPoolExecutor(cpu_count()) as pool:
        return _gather(pool.map(run_chunk, range(0, len(fine), FACES_A_CHUNK)), rows, guess)


def _gather(
    chunks: Iterator[list[tuple[IntArray, FloatArray]]], rows: tuple[int, int], guess: int
) -> tuple[IntArray, FloatArray]:
    """All pieces side by side; each is let go as soon as it is copied."""
    wholes: list[Any] = [np.empty((rows[0], guess), np.int32), np.empty((rows[1], guess))]
    filled = [0, 0]
    for chunk in chunks:
        for piece in chunk:
            for k in range(2):
                end = filled[k] + piece[k].shape[1]
                if end > wholes[k].shape[1]:
                    grown = np.empty((rows[k], 2 * end), dtype=wholes[k].dtype)
                    grown[:, : filled[k]] = wholes[k][:, : filled[k]]
                    wholes[k] = grown
                wholes[k][:, filled[k] : end] = piece[k]
                filled[k] = end
    return wholes[0][:, : filled[0]], wholes[1][:, : filled[1]]


def surface_arrays(surface: Surface) -> Faces:
    """A surface as kernels take it."""
    return (
        np.ascontiguousarray(surface.start, dtype=np.int64),
        np.ascontiguousarray(surface.ring, dtype=np.float64),
        np.ascontiguousarray(surface.plane, dtype=np.float64),
    )
