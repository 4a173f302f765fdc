"""Buckets that add up: whole ones, counted as they go to each place."""

from dataclasses import replace

from terrain.job.dig_plan_record import Cast, Pass, Place

HALF = 0.5


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
