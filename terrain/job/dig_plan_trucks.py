"""Where trucks are loaded, as a dig plan tells it."""

import numpy as np
import shapely

from terrain.job.dig_plan_passes import Dug, leg_names, polygons, used_bays
from terrain.job.dig_plan_planned import Planned
from terrain.job.dig_plan_record import Pass, TruckSpot
from terrain.ledger.entries import LooseVolume


def truck_spots(planned: Planned, dug: Dug, passes: tuple[Pass, ...]) -> tuple[TruckSpot, ...]:
    """The places of the truck that the best order's `passes` load at, as they are numbered."""
    bays, names = planned.best.loading.bays, leg_names(planned)
    ground = bays.ground()
    found = []
    for number, k in enumerate(used_bays(planned, dug), start=1):
        casts = [(p.stand.number, c.loose) for p in passes for c in p.to if c.truck == number]
        east, north = bays.facing[k]
        gaps = shapely.intersects(np.array(planned.places.ground, dtype=object), ground[k])
        found.append(
            TruckSpot(
                number=number,
                body=(float(bays.body[k, 0]), float(bays.body[k, 1])),
                heading=float(np.degrees(np.arctan2(east, north)) % 360.0),
                ring=bays.ring[k][[1, 0, 3, 2]],
                way=polygons(bays.way[k]),
                stands=tuple(stand for stand, _ in casts),
                loose=LooseVolume(sum(float(loose) for _, loose in casts)),
                between=tuple(name for name, gap in zip(names, gaps, strict=True) if gap),
            )
        )
    return tuple(found)
