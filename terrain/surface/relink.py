"""The outline made sound again at an event: vanished fronts leave, colliding ones merge."""

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from terrain.base.arrays import FloatArray, IntArray
from terrain.base.errors import SurfaceError
from terrain.surface.outline import Front, Ring, meeting


@dataclass(slots=True, eq=False, kw_only=True)
class _Piece:
    """A front, or a part of one, between two nodes."""

    front: Front
    start: int
    end: int


def relink(rings: Sequence[Ring], tolerance: float) -> list[Ring]:
    """The same outline with every touch resolved.

    Corners within `tolerance` of each other are one node, a front that a corner touches is cut
    there, a front without length goes, two that lie on each other face to face cancel, and the
    rest is linked anew so that each piece of ground outside keeps a ring of its own.
    """
    if not rings:
        return []
    fronts = [f for r in rings for f in r.fronts]
    corners = np.concatenate([r.corners for r in rings])
    node = _nodes(corners, tolerance)
    ends = np.concatenate([np.roll(n, -1) for n in _by_ring(node, rings)])
    pieces = _cut_at_touches(fronts, corners, node, ends, tolerance)
    pieces = _without_face_to_face(pieces)
    old_next = {
        id(f): id(g)
        for r in rings
        for f, g in zip(r.fronts, [*r.fronts[1:], r.fronts[0]], strict=True)
    }
    linked = []
    for chain in _chains(pieces):
        chain = _merged(chain, tolerance)
        if len(chain) < 3:
            continue
        linked.append(_ring(chain, corners, old_next))
    return linked


def _by_ring(values: IntArray, rings: Sequence[Ring]) -> list[IntArray]:
    return np.split(values, np.cumsum([len(r.fronts) for r in rings])[:-1])


def _nodes(corners: FloatArray, tolerance: float) -> IntArray:
    """For each corner the first corner in the same place."""
    apart = np.abs(corners[:, None, :] - corners[None, :, :]).max(axis=2)
    node = (apart <= tolerance).argmax(axis=1).astype(np.int32)
    while not np.array_equal(node[node], node):
        node = node[node]
    return np.asarray(node)


def _cut_at_touches(
    fronts: list[Front], corners: FloatArray, node: IntArray, ends: IntArray, tolerance: float
) -> list[_Piece]:
    """Each front as pieces between the nodes that lie on it; fronts without length are left out."""
    normal = np.array([f.normal for f in fronts])
    along = np.stack([-normal[:, 1], normal[:, 0]], axis=1)
    offset = np.array([f.offset for f in fronts])
    places = np.unique(node)
    off_line = np.abs(corners[places] @ normal.T - offset)
    station = corners[places] @ along.T - np.einsum("ij,ij->i", along, corners[node])
    length = np.einsum("ij,ij->i", along, corners[ends] - corners[node])
    on = (off_line <= tolerance) & (station > tolerance) & (station < length - tolerance)
    pieces = []
    for i, front in enumerate(fronts):
        if node[i] == ends[i]:
            continue
        touched = np.flatnonzero(on[:, i])
        touched = touched[np.argsort(station[touched, i])]
        stops = [int(node[i]), *(int(p) for p in places[touched]), int(ends[i])]
        for k in range(len(stops) - 1):
            part = front if k == 0 else front.copy()
            pieces.append(_Piece(front=part, start=stops[k], end=stops[k + 1]))
    return pieces


def _without_face_to_face(pieces: list[_Piece]) -> list[_Piece]:
    """The pieces less every pair that runs between the same nodes in opposite directions."""
    waiting: dict[tuple[int, int], list[_Piece]] = defaultdict(list)
    for piece in pieces:
        facing = waiting[piece.end, piece.start]
        if facing:
            facing.pop()
        else:
            waiting[piece.start, piece.end].append(piece)
    kept = {id(p) for group in waiting.values() for p in group}
    return [p for p in pieces if id(p) in kept]


def _chains(pieces: list[_Piece]) -> list[list[_Piece]]:
    """Closed chains of pieces, linked at each node through the ground outside."""
    out_of = defaultdict(list)
    into = defaultdict(list)
    for piece in pieces:
        out_of[piece.start].append(piece)
        into[piece.end].append(piece)
    following: dict[int, _Piece] = {}
    for at, arriving in into.items():
        leaving = list(out_of[at])
        if len(leaving) != len(arriving):
            raise SurfaceError("the moving outline came apart; please report this job")
        for piece in arriving:
            turns = [_turn_outside(piece.front, p.front) for p in leaving]
            best = leaving.pop(turns.index(min(turns)))
            following[id(piece)] = best
    chains, seen = [], set()
    for piece in pieces:
        chain = []
        while id(piece) not in seen:
            seen.add(id(piece))
            chain.append(piece)
            piece = following[id(piece)]
        if chain:
            chains.append(chain)
    return chains


def _turn_outside(arriving: Front, leaving: Front) -> float:
    """The angle of the ground outside between a front that arrives and one that leaves."""
    back = -arriving.direction
    ahead = leaving.direction
    angle = math.atan2(
        back[0] * ahead[1] - back[1] * ahead[0], back[0] * ahead[0] + back[1] * ahead[1]
    )
    return angle if angle > 1e-9 else angle + 2 * math.pi


def _merged(chain: list[_Piece], tolerance: float) -> list[_Piece]:
    """The chain with neighbours of one owner on one line made one piece."""
    merged: list[_Piece] = []
    for piece in chain:
        if merged and _is_one_line(merged[-1].front, piece.front, tolerance):
            last = merged.pop()
            piece = _Piece(front=last.front, start=last.start, end=piece.end)
        merged.append(piece)
    if len(merged) > 1 and _is_one_line(merged[-1].front, merged[0].front, tolerance):
        last = merged.pop()
        merged[0] = _Piece(front=last.front, start=last.start, end=merged[0].end)
    return merged


def _is_one_line(one: Front, other: Front, tolerance: float) -> bool:
    return (
        one.owner == other.owner
        and bool(np.array_equal(one.normal, other.normal))
        and abs(one.offset - other.offset) <= tolerance
    )


def _ring(chain: list[_Piece], corners: FloatArray, old_next: dict[int, int]) -> Ring:
    """The ring of a chain; a corner whose two fronts met before stays exactly where it was."""
    placed = []
    for before, after in zip([chain[-1], *chain[:-1]], chain, strict=True):
        near = corners[after.start]
        if old_next.get(id(before.front)) == id(after.front):
            placed.append(near)
        else:
            placed.append(meeting(before.front, after.front, near))
    return Ring(fronts=[p.front for p in chain], corners=np.array(placed))
