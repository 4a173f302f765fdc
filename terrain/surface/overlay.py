"""The exact common refinement of two surfaces, and what lies between them.

Depth is the height of the first surface less that of the second. Every pair of faces that share
plan area is one row; where the depth changes sign the pair is split exactly there.
"""

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from terrain.base.arrays import FloatArray, IntArray
from terrain.surface.boxtree import tree_of
from terrain.surface.chunks import (
    CORNERS_A_PART,
    Gathered,
    Shape,
    Summed,
    Taker,
    in_chunks,
    reaching,
)
from terrain.surface.compiled import Columns, Faces, Tree
from terrain.surface.kernel import FIGURES, measure_chunk, polygons_chunk
from terrain.surface.patches import Surface
from terrain.surface.sound import sound_edges
from terrain.surface.together import measure_triangles

PAIRS = Shape(rows=(2, FIGURES))
PARTS = Shape(rows=(4, 3), each=CORNERS_A_PART)


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


@dataclass(frozen=True, slots=True)
class OverlaySums:
    """Sums over the pairs of an overlay by row, in square and cubic length units.

    The figures are those of `Overlay`, each (rows,); `depth_above` is the greatest of the row.
    """

    area: FloatArray
    area_above: FloatArray
    volume_above: FloatArray
    area_below: FloatArray
    volume_below: FloatArray
    depth_above: FloatArray


def overlay(a: Surface, b: Surface) -> Overlay:
    """Areas in square and volumes in cubic length units between two surfaces, pair by pair.

    The pairs cover exactly the common footprint. A pair however small is kept; the order is that
    of the faces of the surface that has more of them.
    """
    both = _both(a, b)
    parents, figures = _gathered(both, PAIRS)
    first, second = _first_and_second(both, parents)
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


def overlay_sums(
    a: Surface, b: Surface, by: Literal["a", "b"] | None = None, rows: int = 1
) -> OverlaySums:
    """Areas in square and volumes in cubic length units between two surfaces, summed by label.

    Nothing of a pair is kept, so this takes less time and memory than summing `overlay`.

    Args:
        a: the first surface.
        b: the second surface.
        by: whose labels are the rows, each in 0 .. rows - 1; None: all goes to row 0.
        rows: how many rows there are; meant for a few.

    Raises:
        ValueError: a label is no row.
    """
    if by is not None:
        label = (a if by == "a" else b).label
        if len(label) and not 0 <= label.min() <= label.max() < rows:
            raise ValueError(f"labels from {label.min()} to {label.max()} are no rows of {rows}")
    both = _both(a, b)
    of_fine = (by == "a") == (both.sign > 0)
    row = (both.fine if of_fine else both.coarse).label if by is not None else np.zeros(0)
    summed = Summed(by=(0 if of_fine else 1, np.ascontiguousarray(row, dtype=np.int32)), rows=rows)
    _run(both, PAIRS, summed)
    return OverlaySums(*summed.total())


def overlay_faces(a: Surface, b: Surface) -> OverlayFaces:
    """The parts of `overlay(a, b)` as convex polygons with their depths, in length units."""
    both = _both(a, b)
    parts, corners = _gathered(both, PARTS)
    first, second = _first_and_second(both, parts)
    return OverlayFaces(
        a=first,
        b=second,
        side=parts[2],
        start=np.concatenate([[0], np.cumsum(parts[3], dtype=np.int64)]),
        ring=np.ascontiguousarray(corners[:2].T),
        depth=corners[2],
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Both:
    """Two surfaces, the finer first: its faces are gone through, those of the other looked up.

    `sign` is that of the depth of fine over coarse; `near` tells which faces of the finer surface
    `fine` has, if not all.
    """

    fine: Surface
    coarse: Surface
    sign: float
    near: IntArray | None
    tree: Tree | None


def _both(a: Surface, b: Surface) -> _Both:
    fine, coarse, sign = (a, b, 1.0) if len(a) >= len(b) else (b, a, -1.0)
    if len(coarse) == 0:
        return _Both(fine=fine, coarse=coarse, sign=sign, near=None, tree=None)
    tree = tree_of(coarse)
    fine, near = reaching(fine, tree[0][-1])
    return _Both(fine=fine, coarse=coarse, sign=sign, near=near, tree=tree)


def _gathered(both: _Both, shape: Shape) -> Columns:
    """The columns of all faces of the finer surface, in their order."""
    fine, coarse = len(both.fine), len(both.coarse)
    guess = fine + coarse + int(4 * math.sqrt(fine * coarse)) + 64
    gathered = Gathered(shape=shape, guess=guess)
    _run(both, shape, gathered)
    return gathered.columns()


def _run(both: _Both, shape: Shape, taker: Taker) -> None:
    """Have a taker take pairs or parts, as the shape is, of all faces of the finer surface."""
    tree = both.tree
    if tree is None:
        return
    fine, coarse = surface_arrays(both.fine), surface_arrays(both.coarse)
    corners = np.diff(fine[0]), np.diff(coarse[0])
    most = 2 * int(corners[0].max(initial=0) + corners[1].max()) + 8
    if shape is PAIRS and all((count == 3).all() for count in corners):

        def chunk(span: tuple[int, int], out: Columns) -> tuple[int, int, int]:
            return measure_triangles(fine, coarse, tree, (*span, both.sign, most), out)

    else:
        kernel = measure_chunk if shape is PAIRS else polygons_chunk
        sound = (*coarse, sound_edges(*coarse[:2]))

        def chunk(span: tuple[int, int], out: Columns) -> tuple[int, int, int]:
            return kernel(fine, sound, tree, (*span, both.sign, most), out)

    in_chunks(len(both.fine), (chunk, shape), taker)


def _first_and_second(both: _Both, parents: IntArray) -> tuple[IntArray, IntArray]:
    """The faces of the first and the second surface."""
    fine = parents[0] if both.near is None else both.near[parents[0]]
    return (fine, parents[1]) if both.sign > 0 else (parents[1], fine)


def surface_arrays(surface: Surface) -> Faces:
    """A surface as kernels take it."""
    return (
        np.ascontiguousarray(surface.start, dtype=np.int64),
        np.ascontiguousarray(surface.ring, dtype=np.float64),
        np.ascontiguousarray(surface.plane, dtype=np.float64),
    )
