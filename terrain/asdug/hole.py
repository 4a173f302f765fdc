"""The ground as dug: floor within the hole's ring, plumb faces, the ground before it outside.

Along a plumb face toe and top share a spot. Inside the ring such a spot stands at the height of the
toe, outside the ground goes on as it was, and the surface jumps there. Where a face leans the top
has a spot of its own, and what lies between toe and top is a slope of the hole.
"""

from dataclasses import dataclass

import numpy as np
import shapely

from terrain.asdug.hips import hips
from terrain.asdug.progress import Sheet
from terrain.asdug.rim import rim_of
from terrain.asdug.ring import Sides, corner_shots, ring_order
from terrain.asdug.told_apart import Kind
from terrain.base.arrays import FloatArray, IntArray
from terrain.ledger.errors_said import SurveyErrors
from terrain.ledger.ground import Ground
from terrain.surface.minimum import within
from terrain.surface.patches import join_faces, labelled
from terrain.surface.tin import Line, LineKind, Tin, build_tin, tin_surface

BEFORE, NOW = "existing", "asdug"
"""Keys of the two surveys that the ground as dug rests on."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Hole:
    """A hole as surveyed, in the local frame.

    Args:
        points: (n, 3), the shots.
        kind: (n,) of `Kind`.
        ring: shots of the hole's upper rim in order, as far as known; None without a ring.
        toes: shots of the toe ring in order; None without a ring.
        floor: the floor within the toe ring, or between the floor's shots where there is none;
            its `shot` are indices into `points`. None where nothing of the floor was shot.
        sheet: the ground as dug over all of the existing ground's plan; None without a ring.
        why_not: why there is no ring, in words; empty where there is one.
    """

    points: FloatArray
    kind: IntArray
    ring: IntArray | None
    toes: IntArray | None
    floor: Tin | None
    sheet: Sheet | None
    why_not: str

    @property
    def area(self) -> shapely.Polygon:
        """The plan of the floor within the toe ring; empty without one."""
        return shapely.Polygon() if self.toes is None else shapely.Polygon(self.plan_of(self.toes))

    def plan_of(self, shots: IntArray) -> FloatArray:
        """Plan (k, 2) of some of the shots."""
        return self.points[shots, :2]


def hole_of(
    points: FloatArray, kind: IntArray, sides: Sides, existing: Ground, reach: float
) -> Hole:
    """The hole that shots (n, 3) of known kind show.

    Args:
        points: in the local frame.
        kind: (n,) of `Kind`.
        sides: of the design's dig line, to order the ring by.
        existing: the ground before the dig.
        reach: how near a corner of the dig line a toe shot must lie to be of that corner.

    Raises:
        SurfaceError: the shots of the hole make no surface.
    """
    toe = np.flatnonzero(kind == Kind.TOE).astype(np.int32)
    order = ring_order(sides, points[toe, :2])
    missing = corner_shots(sides, points[toe, :2], reach) < 0
    why_not = ""
    if not len(toe):
        why_not = "no shot of a toe"
    elif missing.any():
        why_not = f"no toe shot near {int(missing.sum())} of the {len(sides)} corners"
    elif order is None:
        why_not = "the toe shots make no ring"
    if why_not or order is None:
        return _without_ring(points, kind, why_not)
    toes = toe[order]
    ring = rim_of(points, kind, sides, toes)
    if ring is None:
        return _without_ring(points, kind, "the tops make no ring round the toes")
    edges = [] if ring is toes else hips(sides, points[:, :2], (toes, ring), reach)
    inner = _inner(points, kind, (toes, ring), edges)
    return Hole(
        points=points,
        kind=kind,
        ring=ring,
        toes=toes,
        floor=_floor(points, kind, toes),
        sheet=_sheet(existing, inner, shapely.Polygon(points[ring, :2])),
        why_not="",
    )


def _without_ring(points: FloatArray, kind: IntArray, why_not: str) -> Hole:
    own = np.flatnonzero((kind == Kind.FLOOR) | (kind == Kind.TOE)).astype(np.int32)
    floor = None
    if len(own) >= 3 and np.linalg.matrix_rank(points[own, :2] - points[own[0], :2]) > 1:
        floor = _renumbered(build_tin(points[own]), own)
    return Hole(
        points=points, kind=kind, ring=None, toes=None, floor=floor, sheet=None, why_not=why_not
    )


def _inner(
    points: FloatArray,
    kind: IntArray,
    rings: tuple[IntArray, IntArray],
    edges: list[tuple[int, int]],
) -> Tin:
    """The hole's own surface within its rim; spots that a top shares with a toe are the toe's."""
    toes, ring = rings
    leans = ring is not toes
    wanted = (kind == Kind.FLOOR) | (kind == Kind.TOE)
    if leans:
        wanted |= (kind == Kind.FACE) | (kind == Kind.TOP)
    own = np.flatnonzero(wanted).astype(np.int32)
    rim = shapely.Polygon(points[ring, :2])
    held = shapely.intersects_xy(rim, points[own, 0], points[own, 1])
    # a shot of a face that noise brings over the floor would stand on it like a needle
    low = shapely.Polygon(points[toes, :2])
    on_floor = shapely.intersects_xy(low, points[own, 0], points[own, 1])
    held &= ~on_floor | np.isin(kind[own], (Kind.FLOOR, Kind.TOE))
    held |= np.isin(own, ring) | np.isin(own, toes)
    own = own[held]
    # the toe of a spot goes before whatever else stands on it
    rank = np.where(np.isin(own, toes), 0, 1)
    order = np.lexsort([own, rank])
    _, first = np.unique(points[own[order], :2], axis=0, return_index=True)
    own = own[np.sort(order[first])]
    place = {tuple(points[k, :2].tolist()): i for i, k in enumerate(own.tolist())}
    lines = [_closed("rim", points, ring, place, LineKind.BOUNDARY)]
    if leans:
        lines.append(_closed("toe", points, toes, place, LineKind.BREAKLINE))
        for pair in edges:
            shots = [place[tuple(points[k, :2].tolist())] for k in pair]
            lines.append(Line(name="edge", shots=np.array(shots, dtype=np.int32)))
    return _renumbered(build_tin(points[own], lines), own)


def _closed(
    name: str,
    points: FloatArray,
    ring: IntArray,
    place: dict[tuple[float, ...], int],
    kind: LineKind,
) -> Line:
    numbers = [place[tuple(points[k, :2].tolist())] for k in ring.tolist()]
    return Line(name=name, shots=np.array([*numbers, numbers[0]], dtype=np.int32), kind=kind)


def _floor(points: FloatArray, kind: IntArray, toes: IntArray) -> Tin:
    own = np.flatnonzero(kind == Kind.FLOOR).astype(np.int32)
    inside = shapely.Polygon(points[toes, :2])
    own = own[shapely.contains_xy(inside, points[own, 0], points[own, 1])]
    every = np.concatenate([toes, own])
    ring = np.append(np.arange(len(toes)), 0).astype(np.int32)
    line = Line(name="toe", shots=ring, kind=LineKind.BOUNDARY)
    return _renumbered(build_tin(points[every], [line]), every)


def _renumbered(tin: Tin, own: IntArray) -> Tin:
    """The TIN with `shot` telling the number among all shots."""
    from dataclasses import replace

    return replace(tin, shot=np.where(tin.shot >= 0, own[tin.shot], -1).astype(np.int32))


def _sheet(existing: Ground, inner: Tin, rim: shapely.Polygon) -> Sheet:
    """The existing ground outside the rim and the hole within it, on the points of both."""
    surface = existing.surface
    box = shapely.box(*surface.ring.min(axis=0), *surface.ring.max(axis=0))
    outside = within(surface, box.difference(rim))
    dug = tin_surface(inner)
    dug = labelled(dug, dug.label + len(existing.triangles))
    count = len(existing.points)
    ground = Ground(
        surface=join_faces(outside, dug),
        points=np.concatenate([existing.points, inner.points]),
        triangles=np.concatenate([existing.triangles, inner.triangles + count]),
        errors=SurveyErrors(),
    )
    of = np.concatenate([np.zeros(count), np.ones(len(inner.points))]).astype(np.int64)
    number = np.concatenate([np.arange(count), np.maximum(inner.shot, 0)]).astype(np.int64)
    return Sheet(ground=ground, surveys=(BEFORE, NOW), of=of, number=number)
