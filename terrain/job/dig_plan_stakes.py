"""Points to set out for a dig plan: stands, where the machine faces, piles' corners, trucks."""

import numpy as np
import shapely

from terrain.base.arrays import FloatArray
from terrain.job.dig_plan_planned import Planned
from terrain.job.dig_plan_record import Pass, Place, StakeKind, StakePoint, TruckSpot

DECIMALS = 3
SIMPLER = 0.05
"""Share of the setback by which a pile's outline may be straightened for setting out."""


def stake_points(
    planned: Planned,
    passes: tuple[Pass, ...],
    places: tuple[Place, ...],
    trucks: tuple[TruckSpot, ...],
) -> tuple[StakePoint, ...]:
    """S1, S2 ... at the stands, S1F at the front of the tracks, P1-1 ... round the first pile, T1
    at the middle of the first truck's tail, T1F at that of its front.
    """
    spots: list[tuple[str, StakeKind, str, FloatArray]] = []
    for one in passes:
        stand, name = one.stand, f"S{one.stand.number}"
        front = (stand.tracks[0] + stand.tracks[1]) / 2
        spots.append((name, "stand", stand.wall, np.array(stand.spot)))
        spots.append((f"{name}F", "facing", stand.wall, front))
    tolerance = SIMPLER * max(planned.spoil.setback, 1e-6)
    number = 0
    for place in places:
        if place.cast + place.already <= 0.0:
            continue
        for part in place.ground.geoms:
            number += 1
            ring = shapely.get_coordinates(part.exterior.simplify(tolerance))[:-1]
            spots += [(f"P{number}-{k}", "pile", place.name, at) for k, at in enumerate(ring, 1)]
    for truck in trucks:
        front, tail = truck.ring[:2].mean(axis=0), truck.ring[2:].mean(axis=0)
        spots += [(f"T{truck.number}", "truck", "truck", tail)]
        spots += [(f"T{truck.number}F", "truck", "truck", front)]
    if not spots:
        return ()
    plan = np.array([at for *_, at in spots])
    site, heights = planned.worked.layout.frame.to_site(plan), planned.field.work.heights(plan)
    return tuple(
        StakePoint(
            point=point,
            kind=kind,
            of=of,
            easting=round(float(at[0]), DECIMALS),
            northing=round(float(at[1]), DECIMALS),
            elevation=round(float(height), DECIMALS),
        )
        for (point, kind, of, _), at, height in zip(spots, site, heights, strict=True)
    )
