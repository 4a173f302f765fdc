"""From layout and figures to the plain facts that cautions are drawn from."""

import numpy as np

from terrain.job.answer import Plan
from terrain.job.design import Layout
from terrain.job.load import Job
from terrain.job.lot_line import lot_line
from terrain.ledger.account import Account
from terrain.ledger.facts import ExtraFacts, SiteFacts, WallFacts
from terrain.pit.dig import Dig


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


def site_facts(job: Job, layout: Layout, figures: Account, plan: Plan) -> SiteFacts:
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
                depth=float(figures.deepest[row]),
                side=extra.side,
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
