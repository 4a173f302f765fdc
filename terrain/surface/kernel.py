"""Compiled kernels of the overlay: arrays in, arrays out."""

import numpy as np

from terrain.base.arrays import BoolArray, FloatArray, IntArray
from terrain.surface.boxtree import touching
from terrain.surface.clipping import (
    COARSE,
    FINE,
    ROWS,
    Part,
    between,
    clip,
    load,
    load_edges,
    measure,
    split,
)
from terrain.surface.compiled import (
    Columns,
    Faces,
    Four,
    Pair,
    Point,
    SoundFaces,
    Starts,
    Task,
    Tree,
    inlined,
)
from terrain.surface.compiled import compiled as compiled  # other modules know it from here

FIGURES = 8  # what is kept of a pair
SUMS = 6  # and what of it is summed: areas and volumes, and the greatest depth
SPREAD = 4.0  # faces are looked up together while their box is no larger than so many of theirs


@compiled
def box_together(start: Starts, ring: FloatArray, first: int, last: int) -> tuple[int, Four]:
    """The end of a run of faces from `first` on that lie close together, and their common box.

    At least one face is taken, `last` is not.
    """
    west, south, east, north, room = np.inf, np.inf, -np.inf, -np.inf, 0.0
    for face in range(first, last):
        own_w, own_s = ring[start[face], 0], ring[start[face], 1]
        own_e, own_n = own_w, own_s
        for i in range(start[face] + 1, start[face + 1]):
            own_w, own_e = min(own_w, ring[i, 0]), max(own_e, ring[i, 0])
            own_s, own_n = min(own_s, ring[i, 1]), max(own_n, ring[i, 1])
        room += SPREAD * (own_e - own_w) * (own_n - own_s)
        new_w, new_s = min(west, own_w), min(south, own_s)
        new_e, new_n = max(east, own_e), max(north, own_n)
        if face > first and (new_e - new_w) * (new_n - new_s) > room:
            return face, (west, south, east, north)
        west, south, east, north = new_w, new_s, new_e, new_n
    return last, (west, south, east, north)


@inlined
def record(
    work: FloatArray, parts: tuple[Part, Part, Part], origin: Point, figures: FloatArray, at: int
) -> bool:
    """Whether the parts (all, above, below) have area; their figures go to column `at`.

    Rows: area, area above, volume above, area below, volume below, centroid of the part above
    (easting, northing), greatest depth above. Without a part above, its centroid is the origin.
    """
    common, above, below = parts
    area_above, volume_above, moment_e, moment_n, deepest = 0.0, 0.0, 0.0, 0.0, 0.0
    area_below, volume_below = 0.0, 0.0
    if above[1] > 0:
        area_above, volume_above, moment_e, moment_n = measure(work, above[0], above[1])
    if below[1] > 0:
        area_below, volume_below, _, _ = measure(work, below[0], below[1])
    double = area_above + area_below
    if above[1] == 0 and below[1] == 0:
        double, _, _, _ = measure(work, common[0], common[1])
    if not double > 0.0:
        return False
    for i in range(above[1]):
        deepest = max(deepest, work[above[0] + 2, i])
    share = 1.0 / (3.0 * area_above) if area_above > 0.0 else 0.0
    figures[0, at] = 0.5 * double
    figures[1, at] = 0.5 * max(area_above, 0.0)
    figures[2, at] = max(volume_above, 0.0) / 6.0
    figures[3, at] = 0.5 * max(area_below, 0.0)
    figures[4, at] = max(volume_below, 0.0) / 6.0
    figures[5, at] = origin[0] + moment_e * share
    figures[6, at] = origin[1] + moment_n * share
    figures[7, at] = deepest
    return True


@inlined
def measure_pair(
    surfaces: tuple[Faces, Faces],
    pair: Pair,
    sound: tuple[BoolArray, int],
    work: FloatArray,
    out: Columns,
) -> int:
    """The next column, once the figures of one pair are written if it has area.

    `sound` tells which edges of the coarse face to cut by, from a place on.
    """
    (start, ring, plane), (coarse_start, coarse_ring, coarse_plane) = surfaces
    face, other, sign, at = pair
    origin = (ring[start[face], 0], ring[start[face], 1])
    count = load(start, ring, face, origin, work, FINE)
    other_count = load(coarse_start, coarse_ring, other, origin, work, COARSE)
    load_edges(coarse_ring, coarse_start[other], other_count, work, COARSE)
    common = clip(work, count, other_count, sound[0], sound[1])
    if common[1] == 0:
        return at
    depth = between(plane, face, coarse_plane, other, origin)
    above, below = split(work, common, depth, sign)
    if not record(work, (common, above, below), origin, out[1], at):
        return at
    out[0][0, at], out[0][1, at] = face, other
    return at + 1


@compiled
def measure_chunk(
    fine: Faces, coarse: SoundFaces, tree: Tree, task: Task, out: Columns
) -> tuple[int, int, int]:
    """Figures of all pairs of the fine faces first to last, as (pairs, pairs, next face).

    `task` is (first, last, sign of the depth of fine over coarse, room for corners); `out` is
    (parents, figures), see `record`. It stops before a face that finds no room.
    """
    first, last, sign, most = task
    surfaces, sound = (fine, (coarse[0], coarse[1], coarse[2])), coarse[3]
    work = np.empty((ROWS, most))
    found, spare = np.empty((2, len(tree[2]) + 1), np.int32)
    done = 0
    for face in range(first, last):
        _, box = box_together(fine[0], fine[1], face, face + 1)
        candidates = touching(box, tree, found, spare)
        if done + candidates > out[1].shape[1]:
            return done, done, face
        for k in range(candidates):
            edges = (sound, coarse[0][found[k]])
            done = measure_pair(surfaces, (face, found[k], sign, done), edges, work, out)
    return done, done, last


@compiled
def add_part(
    work: FloatArray,
    part: tuple[int, int, int],
    origin: Point,
    out: Columns,
    at: tuple[int, int],
) -> tuple[int, int]:
    """Where the next part begins, (parts, corners), once this one (row, corners, tag) is written.

    A corner that repeats the one before it is left out, and so is a part without area.
    """
    row, count, tag = part
    if count == 0 or not measure(work, row, count)[0] > 0.0:
        return at
    parts, corners = out
    done, corner = at
    for i in range(count):
        j = i - 1 if i > 0 else count - 1
        if work[row, i] != work[row, j] or work[row + 1, i] != work[row + 1, j]:
            corners[0, corner] = work[row, i] + origin[0]
            corners[1, corner] = work[row + 1, i] + origin[1]
            corners[2, corner] = tag * work[row + 2, i]
            corner += 1
    parts[2, done], parts[3, done] = tag, corner - at[1]
    return done + 1, corner


@compiled
def polygons_chunk(
    fine: Faces, coarse: SoundFaces, tree: Tree, task: Task, out: Columns
) -> tuple[int, int, int]:
    """Polygons of all pairs of the fine faces first to last, as (parts, corners, next face).

    `task` is as for `measure_chunk`; `out` is (parts, corners): rows fine face, coarse face, tag
    and count of corners, and rows easting, northing, depth. It stops before a face that finds
    no room.
    """
    first, last, sign, most = task
    start, ring, plane = fine
    coarse_start, coarse_ring, coarse_plane, sound = coarse
    parts, corners = out
    work = np.empty((ROWS, most))
    found, spare = np.empty((2, len(tree[2]) + 1), np.int32)
    at = (0, 0)
    for face in range(first, last):
        origin = (ring[start[face], 0], ring[start[face], 1])
        count = load(start, ring, face, origin, work, FINE)
        _, box = box_together(start, ring, face, face + 1)
        candidates = touching(box, tree, found, spare)
        if (
            at[0] + 2 * candidates > parts.shape[1]
            or at[1] + 2 * most * candidates > corners.shape[1]
        ):
            return at[0], at[1], face
        for k in range(candidates):
            other = found[k]
            other_count = load(coarse_start, coarse_ring, other, origin, work, COARSE)
            load_edges(coarse_ring, coarse_start[other], other_count, work, COARSE)
            common = clip(work, count, other_count, sound, coarse_start[other])
            if common[1] == 0:
                continue
            depth = between(plane, face, coarse_plane, other, origin)
            above, below = split(work, common, depth, sign)
            before = at
            if above[1] == 0 and below[1] == 0:
                at = add_part(work, (common[0], common[1], 0), origin, out, at)
            at = add_part(work, (above[0], above[1], 1), origin, out, at)
            at = add_part(work, (below[0], below[1], -1), origin, out, at)
            for i in range(before[0], at[0]):
                parts[0, i], parts[1, i] = face, other
    return at[0], at[1], last


@compiled
def add_up(columns: Columns, count: int, by: tuple[int, IntArray], sums: FloatArray) -> None:
    """Add the first `count` pairs to the sums (SUMS, rows).

    `by` is which parent's label, and the rows of all its faces; no rows: all go to the first.
    """
    parents, figures = columns
    which, label = by
    for k in range(count):
        row = label[parents[which, k]] if len(label) else 0
        for i in range(5):
            sums[i, row] += figures[i, k]
        sums[5, row] = max(sums[5, row], figures[7, k])
