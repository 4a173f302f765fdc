"""What a job's plus-or-minus is made of: the shots that matter, and where one more would help."""

import numpy as np

from terrain.job.doubt_record import DoubtTold, NextShotTold, ShotTold
from terrain.job.worked import Worked
from terrain.ledger.between import Between
from terrain.ledger.telling import carrying_shots, next_shot
from terrain.survey.shots import NONE

SHOTS_TOLD = 5


def doubt_told(worked: Worked) -> DoubtTold | None:
    """What a job's doubt is made of; None where nothing is said of how its survey errs."""
    doubts = worked.figures.doubts
    if doubts is None:
        return None
    terms, whole = doubts.terms, doubts.total_weights
    best = next_shot(whole, doubts.total, terms, worked.existing.ground)
    between = terms.between if isinstance(terms.between, Between) else None
    return DoubtTold(
        shots=tuple(
            _shot(worked, each.point, each.weight, each.share)
            for each in carrying_shots(whole, terms, SHOTS_TOLD)
        ),
        next_shot=None if best is None else _next(worked, best.at, best.together),
        left_out=None if between is None else between.left_out,
        typical_miss=None if between is None else between.typical_miss,
    )


def _shot(worked: Worked, point: int, weight: float, share: float) -> ShotTold:
    tin, shots = worked.existing.tin, worked.existing.shots
    easting, northing = worked.layout.frame.to_site(tin.points[point, :2])
    shot = int(tin.shot[point])
    return ShotTold(
        name="" if shot == NONE else shots.point_name(shot),
        place="" if shot == NONE else shots.place(shot),
        easting=float(easting),
        northing=float(northing),
        elevation=float(tin.points[point, 2]),
        weight=weight,
        share=share,
    )


def _next(worked: Worked, at: tuple[float, float], together: float) -> NextShotTold:
    easting, northing = worked.layout.frame.to_site(np.array(at))
    return NextShotTold(
        easting=float(easting),
        northing=float(northing),
        plus_minus_95=worked.job.unit.volume(together),
    )
