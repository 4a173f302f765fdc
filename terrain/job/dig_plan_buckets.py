"""Buckets that add up: whole ones, counted as they go to each place."""

from dataclasses import dataclass, replace
from math import floor

from terrain.job.dig_plan_record import Cast, DigPlan, Pass, Place

HALF = 0.5

TRIM = 2
"""Buckets up to which a stand is a trim: it is set up only where something stands proud."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Filled:
    """How far a place is filled when a stand begins, in whole buckets, `whole` of them in all.

    `full` loads have left before; `to_come` are not full yet when the stand is done. Both are None
    for a pile.
    """

    before: int
    after: int
    whole: int
    full: int | None
    to_come: int | None


def whole_buckets(
    passes: tuple[Pass, ...], places: tuple[Place, ...], capacity: float
) -> tuple[tuple[Pass, ...], tuple[Place, ...]]:
    """The passes and places with bucket counts that sum, place by place, to the place's own.

    A stand's count is what whole buckets, rounded half up, its cast adds to all that went to the
    place before it: next to nothing is none, and no count is off by a bucket. `capacity` is of a
    bucket, in the volume unit.
    """
    sums: dict[str, float] = {}
    told = []
    for one in passes:
        casts = []
        for cast in one.to:
            before = sums.get(cast.place, 0.0)
            sums[cast.place] = before + cast.loose
            count = _whole(sums[cast.place], capacity) - _whole(before, capacity)
            casts.append(replace(cast, buckets=count))
        told.append(replace(one, to=tuple(casts)))
    counted = tuple(
        replace(place, buckets=_whole(sums.get(place.name, 0.0), capacity)) for place in places
    )
    return tuple(told), counted


def _whole(loose: float, capacity: float) -> int:
    return int(loose / capacity + HALF + 1e-9)


def buckets_to(passes: tuple[Pass, ...] | list[Pass], place: str) -> int:
    """Buckets that some passes cast to a place."""
    return sum(cast.buckets for one in passes for cast in one.to if cast.place == place)


def thrown(one: Pass) -> tuple[Cast, ...]:
    """The casts of a pass that its bucket makes: topsoil was stripped before."""
    return tuple(cast for cast in one.to if cast.swing is not None)


def trim_of(one: Pass) -> int | None:
    """The buckets of a stand that is a trim; None for one that digs more."""
    count = sum(cast.buckets for cast in thrown(one))
    return count if count <= TRIM else None


def filled(plan: DigPlan, one: Pass, cast: Cast) -> Filled:
    """How far the place of a cast is filled before and after it."""
    place = next(each for each in plan.places if each.name == cast.place)
    earlier = [
        each
        for other in plan.passes
        if other.stand.number < one.stand.number
        for each in thrown(other)
        if each.place == cast.place
    ]
    before, loose = sum(each.buckets for each in earlier), sum(float(c.loose) for c in earlier)
    load = plan.ground.truck_load
    is_truck = place.kind == "truck" and load is not None and plan.loads_dug is not None
    return Filled(
        before=before,
        after=place.buckets - before - cast.buckets,
        whole=place.buckets,
        full=floor(loose / load + 1e-9) if is_truck and load else None,
        to_come=(plan.loads_dug or 0) - floor((loose + cast.loose) / load + 1e-9)
        if is_truck and load
        else None,
    )
