"""The exact common refinement of two surfaces, and what lies between them.

Depth is the height of the first surface less that of the second. Every pair of faces that share
plan area is one row; where the depth changes sign the pair is split exactly there.
"""

import math
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from os import cpu_count
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from terrain.base.arrays import FloatArray, IntArray
from terrain.surface import kernel
from terrain.surface.boxtree import faces_touching, tree_of
from terrain.surface.compiled import Faces
from terrain.surface.patches import Surface, picked
from terrain.surface.sound import sound_edges

FACES_A_CHUNK = 8192
ROOM = 6 * FACES_A_CHUNK  # pairs, or parts, of a chunk; it goes on in another piece if need be
CORNERS_A_PART = 4
FACES_TOGETHER = 8
FEW = 0.5  # of the finer faces: where fewer reach the other surface, the rest is left out first

Columns: TypeAlias = tuple[IntArray, FloatArray]


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
) -> Columns:
    """Both arrays of a chunk kernel over all faces of the finer surface, in their order."""
    fine, coarse, sign = surfaces
    if len(coarse) == 0:
        return _room(rows, 0)
    coarse_arrays, tree = surface_arrays(coarse), tree_of(coarse)
    near = faces_touching(tree[0][-1], *surface_arrays(fine)[:2])
    if len(near) < FEW * len(fine):
        fine = picked(fine, near)
    arrays = surface_arrays(fine)
    sound_arrays = (*coarse_arrays, sound_edges(*coarse_arrays[:2]))
    counts = np.diff(arrays[0]), np.diff(coarse_arrays[0])
    together = FACES_TOGETHER if all((count == 3).all() for count in counts) else 1
    most = 2 * int(counts[0].max(initial=0) + counts[1].max()) + 8
    used: list[Columns] = []

    def run_chunk(first: int) -> list[tuple[Columns, list[int]]]:
        last = min(first + FACES_A_CHUNK, len(fine))
        room, pieces = ROOM, []
        while first < last:
            out = _used_or_new(used, rows, room)
            task = (first, last, sign, most, together)
            *done, reached = chunk_kernel(arrays, sound_arrays, tree, task, out)
            pieces.append((out, done))
            room = room * 2 if reached == first else room
            first = reached
        return pieces

    guess = len(fine) + len(coarse) + int(4 * math.sqrt(len(fine) * len(coarse))) + 64
    whole, filled = _room(rows, guess), [0, 0]
    with ThreadPoolExecutor(cpu_count()) as pool:
        for pieces in pool.map(run_chunk, range(0, len(fine), FACES_A_CHUNK)):
            for out, done in pieces:
                whole = _append(whole, filled, out, done)
                if out[0].shape[1] == ROOM:
                    used.append(out)
    if fine is not surfaces[0]:
        whole[0][0, : filled[0]] = near[whole[0][0, : filled[0]]]
    return whole[0][:, : filled[0]], whole[1][:, : filled[1]]


def _room(rows: tuple[int, int], count: int) -> Columns:
    """Room for so many pairs, or for so many parts and their corners."""
    width = count if rows[1] == kernel.FIGURES else CORNERS_A_PART * count
    return np.empty((rows[0], count), dtype=np.int32), np.empty((rows[1], width))


def _used_or_new(used: list[Columns], rows: tuple[int, int], room: int) -> Columns:
    """Room as asked, used before if possible: new memory costs the system time."""
    if room == ROOM:
        try:
            return used.pop()
        except IndexError:
            pass
    return _room(rows, room)


def _append(whole: Columns, filled: list[int], piece: Columns, done: list[int]) -> Columns:
    """The whole, grown if need be, with what is done of a piece put after what is filled."""
    grown = list[Any](whole)
    for k in range(2):
        end = filled[k] + done[k]
        if end > grown[k].shape[1]:
            grown[k] = np.empty((len(whole[k]), 2 * end), dtype=whole[k].dtype)
            grown[k][:, : filled[k]] = whole[k][:, : filled[k]]
        grown[k][:, filled[k] : end] = piece[k][:, : done[k]]
        filled[k] = end
    return grown[0], grown[1]


def surface_arrays(surface: Surface) -> Faces:
    """A surface as kernels take it."""
    return (
        np.ascontiguousarray(surface.start, dtype=np.int64),
        np.ascontiguousarray(surface.ring, dtype=np.float64),
        np.ascontiguousarray(surface.plane, dtype=np.float64),
    )
