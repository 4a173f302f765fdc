"""The lines of the plan drawing: where the cut meets the ground, seams, depths, shots."""

import numpy as np
import shapely

from terrain.base.arrays import FloatArray
from terrain.job.answer import CutGrid, DigCorner, ExtraOutline, Plan
from terrain.job.design import Layout
from terrain.job.ground import ExistingGround
from terrain.pit.dig import CORE, SIDE, Dig, part_of, row_of
from terrain.surface.chunks import box_of, reaching
from terrain.surface.overlay import Overlay
from terrain.surface.patches import Surface
from terrain.surface.rim import rim_lines
from terrain.surface.sampling import sample_grid
from terrain.surface.segments import segments_over

CELLS_ALONG = 400
"""Cells of the depth picture along the longer side of the cut."""


def plan_of(layout: Layout, existing: ExistingGround, dig: Dig, pairs: Overlay) -> Plan:
    """The plan drawing of a dig in its ground; `pairs` are the ground's with the dig surface."""
    design, frame = layout.design, layout.frame
    ground = existing.ground.surface
    daylight = rim_lines(ground, existing.tin.neighbours, dig.surface, pairs)
    lines = [dig.line.ring.corners, *(line.ring.corners for _, line in dig.extra_lines), *daylight]
    box = box_of(np.concatenate(lines))
    around, _ = reaching(ground, box)
    names = {row: e for row, e in enumerate(design.extras, start=len(design.walls))}
    order = np.argsort(design.number)
    return Plan(
        frame=frame,
        corners=layout.figure.corners,
        walls=tuple(design.walls[i].name for i in order),
        dig_line=(dig.line.ring.corners,),
        daylight=daylight,
        seams=_seams(around, dig),
        shares=share_lines(dig, layout.figure.corners),
        extras=tuple(
            ExtraOutline(
                name=extra.name,
                kind=extra.kind,
                rings=tuple(line.ring.corners for r, line in dig.extra_lines if r == row),
            )
            for row, extra in names.items()
        ),
        shots=frame.to_local(existing.shots.plan),
        shot_upward=existing.shots.elevation,
        breaklines=existing.breaklines(frame),
        cut=_cut_grid(around, dig, box),
    )


def share_lines(dig: Dig, outline: FloatArray) -> tuple[FloatArray, ...]:
    """Lines (m, 2) inside the outline between the walls' shares of the earth under the house."""
    row, faces = row_of(dig.main.label), np.flatnonzero(part_of(dig.main.label) == CORE)
    near = 1e-6 * float(np.ptp(outline, axis=0).max())
    shares = [
        shapely.union_all(
            [shapely.Polygon(dig.main.corners(int(face))) for face in faces[row[faces] == wall]],
            grid_size=near,  # faces of one wall meet but for rounding
        )
        for wall in np.unique(row[faces])
    ]
    edge = shapely.LinearRing(outline)
    parted = shapely.union_all([share.boundary for share in shares], grid_size=10 * near)
    inside = parted.difference(edge.buffer(20 * near))
    lines = shapely.get_parts(shapely.line_merge(shapely.snap(inside, edge, 40 * near)))
    return tuple(shapely.get_coordinates(line) for line in lines if line.length > 40 * near)


def dig_corners(layout: Layout, dig: Dig) -> tuple[DigCorner, ...]:
    """The corners of the dig line on the site's grid, each with the walls that meet there."""
    ring, walls = dig.line.ring, layout.design.walls
    site = layout.frame.to_site(ring.corners)
    return tuple(
        DigCorner(
            walls=tuple(
                dict.fromkeys(
                    walls[front.owner].name
                    for front in (ring.fronts[k - 1], ring.fronts[k])
                    if front.owner >= 0
                )
            ),
            easting=float(site[k, 0]),
            northing=float(site[k, 1]),
        )
        for k in range(len(ring.fronts))
    )


def _seams(ground: Surface, dig: Dig) -> FloatArray:
    """Edges of the swept sides (n, 2, 2) as far as they are below ground."""
    sides = np.flatnonzero(part_of(dig.main.label) == SIDE)
    edges = []
    for face in map(int, sides):
        corners = dig.main.corners(face)
        upward = dig.main.upward_at(face, corners)
        lifted = np.column_stack([corners, upward])
        edges.append(np.stack([lifted, np.roll(lifted, -1, axis=0)], axis=1))
    if not edges:
        return np.zeros((0, 2, 2))
    segments = np.concatenate(edges)
    pieces = segments_over(ground, segments)
    start, end, low, high = pieces.start, pieces.end, pieces.depth_start, pieces.depth_end
    below = (low < 0) | (high < 0)
    start, end, low, high = start[below], end[below], low[below], high[below]
    with np.errstate(divide="ignore", invalid="ignore"):
        crossing = np.where(low * high < 0, start + (end - start) * low / (low - high), np.nan)
    first = np.where(low >= 0, np.where(np.isnan(crossing), start, crossing), start)
    last = np.where(high >= 0, np.where(np.isnan(crossing), end, crossing), end)
    whole = segments[pieces.segment[below]][:, :, :2]
    along = whole[:, 1] - whole[:, 0]
    return np.stack(
        [whole[:, 0] + first[:, None] * along, whole[:, 0] + last[:, None] * along], axis=1
    )


def _cut_grid(ground: Surface, dig: Dig, box: FloatArray) -> CutGrid:
    """Depth of cut over the box round daylight line and dig line."""
    low, high = box[:2], box[2:]
    cell = float((high - low).max()) / CELLS_ALONG
    columns, rows = (int(n) for n in np.ceil((high - low) / cell))
    corner = (float(low[0]), float(low[1]))
    existing = sample_grid(ground, corner, cell, (rows, columns))
    depth = existing - sample_grid(dig.surface, corner, cell, (rows, columns))
    return CutGrid(
        easting=float(low[0]),
        northing=float(low[1]),
        cell=cell,
        depth=np.where(depth > 0, depth, np.nan),
    )
