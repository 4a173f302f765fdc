"""Straight lines in space against a surface: where each runs over which face, and how high."""

from dataclasses import dataclass

import numpy as np

from terrain.base.arrays import BoolArray, FloatArray, IntArray
from terrain.surface import clipping
from terrain.surface.boxtree import FAN, touching, tree_of
from terrain.surface.chunks import box_of, reaching
from terrain.surface.compiled import Point, SoundFaces, Tree, compiled
from terrain.surface.overlay import surface_arrays
from terrain.surface.patches import Surface
from terrain.surface.sound import sound_edges


@dataclass(frozen=True, slots=True, kw_only=True)
class SegmentPieces:
    """Pieces of straight segments, each over one face; in order along each segment.

    Args:
        segment: (n,) which segment.
        face: (n,) which face of the surface.
        start: (n,) where the piece begins, 0 at the segment's first end, 1 at its second.
        end: (n,) where it ends.
        depth_start: (n,) height of the segment less that of the surface at the beginning.
        depth_end: (n,) the same at the end.
    """

    segment: IntArray
    face: IntArray
    start: FloatArray
    end: FloatArray
    depth_start: FloatArray
    depth_end: FloatArray

    def __len__(self) -> int:
        return len(self.segment)


@compiled
def _span_inside(
    work: FloatArray, count: int, sound: BoolArray, first_edge: int, run: Point
) -> Point:
    """The stretch (start, end) of the segment from the origin by `run` inside the loaded face."""
    start, end = 0.0, 1.0
    run_e, run_n = run
    for k in range(count):
        if not sound[first_edge + k]:
            continue
        along_e, along_n, at_e, at_n = clipping.edge_of(work, clipping.COARSE, k)
        first = along_n * at_e - along_e * at_n
        last = along_e * (run_n - at_n) - along_n * (run_e - at_e)
        if first < 0.0 and last < 0.0:
            return 0.0, 0.0
        if first < 0.0:
            start = max(start, first / (first - last))
        elif last < 0.0:
            end = min(end, first / (first - last))
    return start, end


@compiled
def _cut_segments(
    surface: SoundFaces,
    tree: Tree,
    segments: FloatArray,
    first: int,
    out: tuple[IntArray, FloatArray],
) -> tuple[int, int]:
    """Pieces of the segments from `first` on, as (pieces, next segment)."""
    face_start, ring, plane, sound = surface
    which, figures = out
    widest = 0
    for face in range(len(face_start) - 1):
        widest = max(widest, face_start[face + 1] - face_start[face])
    work = np.empty((clipping.ROWS, widest + 1))
    found, spare = np.empty((2, len(tree[2]) + FAN), np.int32)
    done = 0
    for s in range(first, len(segments)):
        origin = (segments[s, 0, 0], segments[s, 0, 1])
        to_e, to_n = segments[s, 1, 0], segments[s, 1, 1]
        box = (min(origin[0], to_e), min(origin[1], to_n), max(origin[0], to_e),
               max(origin[1], to_n))  # fmt: skip
        candidates = touching(box, tree, found, spare)
        if done + candidates > figures.shape[1]:
            return done, s
        run_e, run_n = to_e - origin[0], to_n - origin[1]
        for k in range(candidates):
            face = found[k]
            count = clipping.load(face_start, ring, face, origin, work, clipping.COARSE)
            clipping.load_edges(ring, face_start[face], count, work, clipping.COARSE)
            start, end = _span_inside(work, count, sound, face_start[face], (run_e, run_n))
            if end > start:
                e, n, u, per_e, per_n = plane[face]
                at_first = (segments[s, 0, 2] - u) - (
                    per_e * (origin[0] - e) + per_n * (origin[1] - n)
                )
                at_last = (segments[s, 1, 2] - u) - (per_e * (to_e - e) + per_n * (to_n - n))
                which[0, done], which[1, done] = s, face
                figures[0, done], figures[1, done] = start, end
                figures[2, done] = (1.0 - start) * at_first + start * at_last
                figures[3, done] = (1.0 - end) * at_first + end * at_last
                done += 1
    return done, len(segments)


def segments_over(surface: Surface, segments: FloatArray) -> SegmentPieces:
    """Pieces of segments (k, 2, 3) by the faces under or over them; depths in length units.

    A segment that runs along the common edge of two faces is given over both, or, where rounding
    lays it on one side, over one; a face that is only touched at a point is left out.
    """
    segments = np.ascontiguousarray(segments, dtype=np.float64).reshape(-1, 2, 3)
    which = [np.empty((2, 0), dtype=np.int32)]
    figures = [np.empty((4, 0))]
    near = None
    if len(surface) and len(segments):
        surface, near = reaching(surface, box_of(segments.reshape(-1, 3)))
    start, ring, plane = surface_arrays(surface)
    arrays = start, ring, plane, sound_edges(start, ring)
    first, room = 0, 16 * len(segments) + 256
    tree = tree_of(surface) if len(surface) else None
    while tree is not None and first < len(segments):
        out = (np.empty((2, room), dtype=np.int32), np.empty((4, room)))
        done, reached = _cut_segments(arrays, tree, segments, first, out)
        which.append(out[0][:, :done])
        figures.append(out[1][:, :done])
        room = 2 * room if reached == first else room
        first = reached
    segment, face = np.concatenate(which, axis=1)
    begin, end, depth_start, depth_end = np.concatenate(figures, axis=1)
    order = np.lexsort((end, begin, segment))
    if near is not None:
        face = near[face]
    return SegmentPieces(
        segment=segment[order],
        face=face[order],
        start=begin[order],
        end=end[order],
        depth_start=depth_start[order],
        depth_end=depth_end[order],
    )
