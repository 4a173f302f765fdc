"""What the operator's card needs of a dig plan: a wall at a time, in the order of digging."""

import numpy as np

from terrain.job.dig_plan_buckets import buckets_to
from terrain.job.dig_plan_passes import leg_names, leg_number
from terrain.job.dig_plan_planned import Planned
from terrain.job.dig_plan_record import (
    CardCast,
    CardTerms,
    CardWall,
    Pass,
    Place,
    RimCorner,
)
from terrain.job.verify_judge import tolerances
from terrain.ledger.entries import BankVolume, LooseVolume
from terrain.surface.moves import Side


def card_of(
    planned: Planned,
    passes: tuple[Pass, ...],
    places: tuple[Place, ...],
    corners: tuple[RimCorner, ...],
) -> tuple[CardWall, ...]:
    """Each wall of the best order, in turn."""
    order, names = planned.best.order, leg_names(planned)
    count = len(order.round.legs)
    by_name = {place.name: place for place in places}
    return tuple(
        _wall(planned, (order.first + k) % count, (passes, by_name[name], corners))
        for k in range(count)
        for name in [names[leg_number(order, (order.first + k) % count)]]
    )


def card_terms(planned: Planned) -> CardTerms:
    """The tolerances and marks the operator checks by: those of the check of the hole."""
    job = planned.worked.job
    floor, line = tolerances(job)
    marks = tuple((name, float(height)) for name, height in job.existing.marks.items())
    return CardTerms(
        floor=planned.worked.layout.design.floor,
        floor_tolerance=floor,
        line_tolerance=line,
        marks=marks,
    )


def _wall(
    planned: Planned,
    of: int,
    told: tuple[tuple[Pass, ...], Place, tuple[RimCorner, ...]],
) -> CardWall:
    passes, place, corners = told
    order, design = planned.best.order, planned.worked.layout.design
    leg = order.round.legs[of]
    wall = design.walls[leg.wall]
    face = np.array([design.corners[leg.wall], design.corners[(leg.wall + 1) % len(design.walls)]])
    if order.direction == "clockwise":
        face = face[::-1]
    own = [one for one in passes if one.wall == place.name]
    middle = leg.at(leg.length / 2, 0.0)
    return CardWall(
        wall=place.name,
        face=face,
        line=np.array([leg.start, leg.end]),
        length=leg.length,
        overdig=wall.overdig,
        floor=design.floor,
        side=side_words(wall.side),
        top=float(planned.field.work.heights(middle[None])[0]),
        bank=BankVolume(sum(one.bank for one in own)),
        loose=LooseVolume(sum(one.loose for one in own)),
        stands=tuple(one.stand.number for one in own),
        casts=_casts(own),
        needed=place.needed,
        cast=place.cast,
        rim=tuple(
            next(name for name in corner.between if name != place.name)
            for corner in corners
            if place.name in corner.between
        ),
    )


def _casts(own: list[Pass]) -> tuple[CardCast, ...]:
    sums: dict[str, float] = {}
    for one in own:
        for cast in one.to:
            sums[cast.place] = sums.get(cast.place, 0.0) + cast.loose
    return tuple(
        CardCast(place=place, loose=LooseVolume(loose), buckets=buckets_to(own, place))
        for place, loose in sums.items()
    )


def side_words(side: Side) -> str:
    """A side in words, from the floor up: `1:1`, `upright`, `4 up, 4 level, then again`."""
    if len(side) == 1:
        run, rise = side[0]
        return "upright" if run == 0 else f"{run / rise:g}:1"
    said = []
    for run, rise in side:
        if run == 0:
            said.append(f"{rise:g} up")
        elif rise == 0:
            said.append(f"{run:g} level")
        else:
            said.append(f"{run / rise:g}:1")
    again = "" if side[-1][0] > 0 and side[-1][1] > 0 else ", then again"
    return ", ".join(said) + again
