"""The existing ground as a TIN: from shots and lines to triangles, and on to a surface.

The flow: check the shots, settle the lines among themselves (`breaklines`), lay lines without
elevations on the ground (`drape`), make triangles (`triangulate`), cut back (`boundary`).
"""

from collections.abc import Sequence

import numpy as np

from terrain.base.arrays import FloatArray, IntArray
from terrain.base.errors import Fault, SurfaceError
from terrain.base.frame import LocalFrame
from terrain.surface.boundary import Ring, cut_back, piece_notes
from terrain.surface.breaklines import Network, Rules, chain_edges, settle
from terrain.surface.drape import lay_lines
from terrain.surface.kernel import compiled
from terrain.surface.patches import Surface
from terrain.surface.tin_record import (
    SNAP,
    GroundNote,
    Line,
    LineKind,
    PlanLine,
    Tin,
    TinOptions,
)
from terrain.surface.triangulate import triangulate

__all__ = [
    "GroundNote", "Line", "LineKind", "PlanLine", "Tin", "TinOptions", "build_tin", "tin_surface",
]  # fmt: skip

STRAIGHT = 1e-6
"""Width over length at which shots count as standing on one line."""


def build_tin(
    points: FloatArray,
    lines: Sequence[Line] = (),
    plan_lines: Sequence[PlanLine] = (),
    options: TinOptions | None = None,
    frame: LocalFrame | None = None,
) -> Tin:
    """The ground through shots (n, 3): constrained Delaunay, cut back as the lines and options say.

    Args:
        points: easting, northing in the local frame and elevation of each shot, any order.
        lines: lines from shot to shot.
        plan_lines: lines without elevations. They change no height, since the sides of the
            triangles they cross are kept; only where four shots stand on one circle the other
            diagonal may come out.
        options: see `TinOptions`.
        frame: where the local frame lies, for messages only.

    Raises:
        SurfaceError: the shots make no surface, or lines contradict one another.
    """
    options, frame = options or TinOptions(), frame or LocalFrame()
    shots = np.ascontiguousarray(points, dtype=np.float64).reshape(-1, 3)
    _check_shots(shots, frame)
    _check_lines(lines, plan_lines, len(shots))
    labels = (*(line.label for line in lines), *(line.label for line in plan_lines))
    rules = Rules(labels=labels, height_tolerance=options.height_tolerance, frame=frame)
    network = settle(_network(shots, lines), rules)
    if plan_lines:
        every = np.arange(len(network.points), dtype=np.int32)
        base = _triangles(network, every, frame)
        network = settle(lay_lines(base, network, plan_lines, len(lines)), rules)
    name = np.full(len(network.points), -1, dtype=np.int32)
    name[: len(shots)] = np.arange(len(shots))
    rings = _rings(shots, lines, plan_lines)
    tin = cut_back(_triangles(network, name, frame), rings, options.max_edge)
    return Tin(
        points=tin.points,
        triangles=tin.triangles,
        neighbours=tin.neighbours,
        shot=tin.shot,
        fixed=tin.fixed,
        notes=network.notes + piece_notes(tin, frame),
    )


def _check_shots(shots: FloatArray, frame: LocalFrame) -> None:
    if len(shots) < 3:
        raise SurfaceError(
            f"A ground surface needs at least 3 shots; there are {len(shots)}. Add shots."
        )
    if not np.isfinite(shots).all():
        bad = np.flatnonzero(~np.isfinite(shots).all(axis=1))
        raise SurfaceError(
            f"{len(bad)} shots have a coordinate that is no finite number, the first is number "
            f"{bad[0] + 1}. Take them out."
        )
    # column by column: along the rows of so narrow an array numpy is many times slower
    east, north = (column - column.mean() for column in shots[:, :2].T)
    _, axes = np.linalg.eigh([[east @ east, east @ north], [north @ east, north @ north]])
    extent = [float(np.ptp(along[0] * east + along[1] * north)) for along in axes.T]
    width, length = min(extent), max(extent)
    if length <= SNAP:
        raise SurfaceError(
            f"All {len(shots)} shots stand in one place. Check that the columns for northing and "
            "easting are the right ones, and add shots."
        )
    if width <= max(STRAIGHT * length, SNAP):
        raise SurfaceError(
            f"All {len(shots)} shots stand on one straight line, {length:.2f} long. Check that "
            "the columns for northing and easting are the right ones, and add shots to its side."
        )


def _twin_fault(shots: FloatArray, pair: IntArray, frame: LocalFrame) -> Fault:
    easting, northing = frame.to_site(shots[pair[0], :2])
    heights = shots[pair, 2]
    return Fault(
        message=f"Two shots stand on one spot, easting {easting:.3f}, northing {northing:.3f}, "
        f"at elevations {heights[0]:.3f} and {heights[1]:.3f}. Keep one."
    )


def _check_lines(lines: Sequence[Line], plan_lines: Sequence[PlanLine], count: int) -> None:
    faults = [
        Fault(message=f"The {line.label} names a shot that isn't there; there are {count}.")
        for line in lines
        if len(line.shots) and not 0 <= np.min(line.shots) <= np.max(line.shots) < count
    ]
    faults += [
        Fault(message=f"The {line.label} has a coordinate that is no finite number.")
        for line in plan_lines
        if not np.isfinite(line.plan).all()
    ]
    if faults:
        raise SurfaceError(*faults)


def _network(shots: FloatArray, lines: Sequence[Line]) -> Network:
    edges = [chain_edges(line.shots, line.kind is not LineKind.BREAKLINE) for line in lines]
    owner = np.repeat(np.arange(len(lines)), [len(e) for e in edges])
    return Network(
        points=shots,
        edges=np.concatenate([*edges, np.zeros((0, 2), dtype=np.int32)]),
        owner=owner.astype(np.int32),
    )


def _triangles(network: Network, name: IntArray, frame: LocalFrame) -> Tin:
    """The TIN over the network's points, `name` (n,) telling where each comes from."""
    try:
        return triangulate(network.points, name, network.edges)
    except SurfaceError:
        order = np.lexsort(network.points[:, 1::-1].T)
        ranked = network.points[order, :2]
        twins = np.flatnonzero((ranked[1:] == ranked[:-1]).all(axis=1))
        if not len(twins):
            raise
        pairs = np.stack([order[twins], order[twins + 1]], axis=1)
        faults = [_twin_fault(network.points, pair, frame) for pair in pairs]
    raise SurfaceError(*faults)


def _rings(shots: FloatArray, lines: Sequence[Line], plan_lines: Sequence[PlanLine]) -> list[Ring]:
    """The boundaries and holes among the lines."""
    rings: list[Ring] = [
        (line.label, line.kind, shots[np.asarray(line.shots, dtype=np.int64), :2])
        for line in lines
        if line.kind is not LineKind.BREAKLINE
    ]
    rings += [
        (line.label, line.kind, np.asarray(line.plan, dtype=np.float64).reshape(-1, 2))
        for line in plan_lines
        if line.kind is not LineKind.BREAKLINE
    ]
    return rings


@compiled
def _fill_planes(
    points: FloatArray, triangles: IntArray, ring: FloatArray, plane: FloatArray
) -> None:
    """Write each triangle's corners and its plane through the corner opposite its longest side.

    Seen from that corner the other two are nearest, which keeps the gradient's error small.
    """
    for t in range(triangles.shape[0]):
        longest, most = 0, -1.0
        for k in range(3):
            a, b = triangles[t, k], triangles[t, (k + 1) % 3]
            ring[3 * t + k, 0], ring[3 * t + k, 1] = points[a, 0], points[a, 1]
            length = (points[b, 0] - points[a, 0]) ** 2 + (points[b, 1] - points[a, 1]) ** 2
            if length > most:
                longest, most = k, length
        a, b = triangles[t, longest], triangles[t, (longest + 1) % 3]
        c = triangles[t, (longest + 2) % 3]
        ae, an, au = points[a, 0] - points[c, 0], points[a, 1] - points[c, 1], points[a, 2]
        be, bn, bu = points[b, 0] - points[c, 0], points[b, 1] - points[c, 1], points[b, 2]
        au, bu = au - points[c, 2], bu - points[c, 2]
        twice_area = ae * bn - an * be
        plane[t, 0], plane[t, 1], plane[t, 2] = points[c, 0], points[c, 1], points[c, 2]
        plane[t, 3] = (au * bn - an * bu) / twice_area
        plane[t, 4] = (ae * bu - au * be) / twice_area


def tin_surface(tin: Tin) -> Surface:
    """The TIN as plane faces; face and label i are triangle i, corners in the same order."""
    return triangle_faces(tin.points, tin.triangles)


def triangle_faces(points: FloatArray, triangles: IntArray) -> Surface:
    """Triangles (m, 3) over points (n, 3) as plane faces, labelled and ordered as they are."""
    count = len(triangles)
    ring = np.empty((3 * count, 2))
    plane = np.empty((count, 5))
    _fill_planes(points, triangles, ring, plane)
    return Surface(
        start=np.arange(0, 3 * count + 1, 3, dtype=np.int64),
        ring=ring,
        plane=plane,
        label=np.arange(count, dtype=np.int32),
    )
