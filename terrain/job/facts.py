"""From layout and figures to the plain facts that cautions are drawn from."""

import numpy as np

from terrain.job.answer import Plan
from terrain.job.design import Layout
from terrain.job.ground import ExistingGround
from terrain.job.load import Job
from terrain.job.lot_line import lot_line
from terrain.ledger.account import Account
from terrain.ledger.facts import ExtraFacts, SiteFacts, WallFacts
from terrain.pit.design import Extra
from terrain.pit.dig import Dig
from terrain.surface.locate import heights_at
from terrain.surface.patches import height_on


def wall_facts(layout: Layout, dig: Dig, figures: Account) -> tuple[WallFacts, ...]:
    """The facts of every wall, in the order of the design."""
    return tuple(
        WallFacts(
            wall=wall.name,
            depth=float(figures.face_depth[row]),
            side=wall.side,
            overdig=wall.overdig,
            working_room=wall.overdig - layout.projection,
            dig_line="vanished" if row in dig.line.vanished else "kept",
        )
        for row, wall in enumerate(layout.design.walls)
    )


def site_facts(
    job: Job, layout: Layout, figures: Account, plan: Plan, existing: ExistingGround
) -> SiteFacts:
    """The facts of the dig as a whole, its extras and what stands round it."""
    lot, line = job.lot, lot_line(job)
    to_local = layout.frame.to_local
    first = len(layout.design.walls)
    return SiteFacts(
        unit=job.unit,
        deepest_cut=figures.deepest_cut,
        soil_class=job.soil.soil_class,
        extras=tuple(
            ExtraFacts(
                kind=extra.kind,
                name=extra.name,
                depth=float(figures.face_depth[row]),
                side=extra.side,
                end_face=_end_face(extra, existing) if extra.kind == "ramp" else 0.0,
            )
            for row, extra in enumerate(layout.design.extras, start=first)
        ),
        daylight=plan.daylight,
        lot=None if line is None else to_local(line),
        buildings=tuple(
            (name, to_local(np.array(corners)))
            for name, corners in (lot.buildings.items() if lot else ())
        ),
    )


def _end_face(ramp: Extra, existing: ExistingGround) -> float:
    """How far the far end of a ramp is still below ground, at the middle of it; 0 if it is not."""
    piece = ramp.pieces[-1]
    end = piece.corners[1:3].mean(axis=0, keepdims=True)
    ground = float(heights_at(existing.tin, end)[0])
    return max(ground - float(height_on(piece.plane, end)[0]), 0.0) if ground == ground else 0.0
