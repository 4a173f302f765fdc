"""The ground of a dig plan as an operator sets out by it: top edges, topsoil, ramps, marks."""

import numpy as np
import shapely

from terrain.haul.piles import heap_volume
from terrain.job.dig_plan_extras import extras_told
from terrain.job.dig_plan_ground_record import (
    GroundTold,
    MarkTold,
    RampTold,
    TopsoilTold,
    WallCut,
)
from terrain.job.dig_plan_passes import Dug, in_unit
from terrain.job.dig_plan_planned import Planned
from terrain.job.dig_plan_record import Place
from terrain.job.volumes import Worked
from terrain.ledger.entries import BankVolume, LooseVolume
from terrain.ledger.loads import truck_loads
from terrain.pit.dig import row_of
from terrain.surface.cut import cut_along
from terrain.surface.profile import profiles_along

SHARES = np.linspace(1e-6, 1.0 - 1e-6, 25)
"""Shares of a wall's length at which its top edge is measured, a hair within its ends."""

BEYOND = 0.35
"""How far the small section goes on past the top edge, in its distance from the face."""

HAIR = 1e-9


def ground_told(planned: Planned, dug: Dug, places: tuple[Place, ...]) -> GroundTold:
    """What the pages say of the ground, of a plan whose places are told."""
    worked = planned.worked
    truck = worked.job.haul.truck
    cuts = tuple(cut for row in _rows(worked) for cut in [_cut(worked, row)] if cut is not None)
    return GroundTold(
        cuts=cuts,
        topsoil=_topsoil(planned, places),
        ramps=_ramps(planned),
        extras=extras_told(planned, dug),
        marks=_marks(worked),
        truck_load=None if truck is None else LooseVolume(truck),
        highest=max([worked.figures.deepest_cut, *(cut.depth[1] for cut in cuts)]),
    )


def _rows(worked: Worked) -> list[int]:
    return [int(row) for row in np.argsort(worked.layout.design.number)]


def _cut(worked: Worked, row: int) -> WallCut | None:
    """The top edge of a wall's own side; None where nothing is dug along it."""
    design = worked.layout.design
    start, end = design.corners[row], design.corners[(row + 1) % len(design.corners)]
    along = (end - start) / np.hypot(*(end - start))
    outward = np.array([along[1], -along[0]])
    spots = start + SHARES[:, None] * (end - start)
    far = float(np.hypot(*np.ptp(worked.existing.tin.points[:, :2], axis=0)))
    lines = np.stack([spots, spots + far * outward], axis=1)
    low = np.zeros(len(lines))
    ground = profiles_along(worked.existing.ground.surface, lines, low)
    dig = profiles_along(worked.dig.main, lines, low)
    runs = {
        k: run
        for k in range(len(lines))
        for run in cut_along(ground[k], dig[k]).runs
        if run.low <= HAIR < run.high
    }
    if not runs:
        return None
    # beside an inside corner the line square out comes up the next wall's side
    own = {k: run for k, run in runs.items() if int(row_of(run.label)[-1]) == row} or runs
    # and at a short wall it may cross the bench of the next one before it meets the wall's own side
    plain = {k: run for k, run in own.items() if (row_of(run.label) == row).all()} or own
    middle = min(plain, key=lambda k: abs(SHARES[k] - 0.5))
    run = own[middle]
    beyond = run.high * (1.0 + BEYOND) + 1.0
    top = np.array([[run.high, run.top_at_high]])  # plumb up to the ground, it may be
    shown = cut_along(ground[middle].between(0.0, beyond), dig[middle].between(0.0, run.high))
    out, up = np.array([(own[k].high, own[k].top_at_high) for k in sorted(own)]).T
    if design.number != tuple(range(len(design.corners))):  # drawn the other way round
        out, up = out[::-1], up[::-1]
    floor = design.floor
    return WallCut(
        wall=design.walls[row].name,
        out=(float(out.min()), float(out.max())),
        ends=(float(out[0]), float(out[-1])),
        ground=(float(up.min()), float(up.max())),
        depth=(float(up.min() - floor), float(up.max() - floor)),
        steps=tuple((float(run), float(rise)) for run, rise in design.walls[row].side),
        ground_line=np.vstack(shown.ground.lines()),
        dig_line=np.vstack([*shown.dig.lines(), top]),
    )


def _topsoil(planned: Planned, places: tuple[Place, ...]) -> TopsoilTold | None:
    """Off the cut alone: under piles it stays, as the plan's sums have it."""
    cells, unit = planned.field.work.cells, planned.worked.job.unit
    own = next((place for place in places if place.kind == "topsoil"), None)
    if own is None:
        return None
    heaping, laid = planned.spoil.heaping, own.ground
    held = heap_volume(laid, heaping.repose, heaping.height)
    middle = None if laid.is_empty else laid.centroid
    depth = planned.start.topsoil
    truck, over = planned.worked.job.haul.truck, LooseVolume(max(own.cast - unit.volume(held), 0.0))
    stripped = ~planned.best.order.left & (cells.topsoil > 0.0)
    taken = float(cells.topsoil[stripped].sum())
    return TopsoilTold(
        depth=depth,
        area=float(shapely.area(planned.field.work.shapes[stripped]).sum()),
        bank=BankVolume(unit.volume(taken)),
        loose=own.cast,
        holds=None if laid.is_empty else in_unit(unit, held),
        over=over,
        over_loads=None if truck is None else truck_loads(over, LooseVolume(truck)),
        middle=None if middle is None else (middle.x, middle.y),
        height=own.height,
    )


def _ramps(planned: Planned) -> tuple[RampTold, ...]:
    design = planned.worked.layout.design
    driven = {
        design.extras[line.row - len(design.walls)].name
        for line in planned.field.outside.lines
        if line.leads_out
    }
    return tuple(
        RampTold(
            name=ramp.name, width=ramp.width, run=ramp.run_per_rise, leads_out=ramp.name in driven
        )
        for ramp in planned.worked.job.dig.ramps
    )


def _marks(worked: Worked) -> tuple[MarkTold, ...]:
    """The job's marks, each where a shot of its name stands."""
    shots, frame = worked.survey.shots, worked.layout.frame
    points = shots.point
    found = []
    for name, elevation in worked.job.existing.marks.items():
        at = [] if points is None else np.flatnonzero(points == name.encode()).tolist()
        spot = frame.to_local(shots.plan[at[:1]])[0] if at else None
        found.append(
            MarkTold(
                name=name,
                elevation=float(elevation),
                spot=None if spot is None else (float(spot[0]), float(spot[1])),
            )
        )
    return tuple(found)
