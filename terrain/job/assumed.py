"""What a job says beside its survey that the figures rest on, in words, each with a short title."""

import numpy as np

from terrain.base.arrays import FloatArray
from terrain.job.design import Layout
from terrain.job.load import Job
from terrain.pit.design import Wall
from terrain.surface.moves import Side

CUBED = str.maketrans("3", "³")


def assumed(job: Job, layout: Layout, own: FloatArray | None = None) -> tuple[tuple[str, str], ...]:
    """Titles and words on dig, ground and haul, as the job file gives them; titles may repeat.

    `own` are the accuracies that the survey's files state shot by shot, NaN where they don't.
    """
    unit = "m" if job.unit.is_metric else "ft"
    return (
        ("Floor", _floor(layout, unit)),
        *(("Overdig, side", words) for words in _walls(layout, unit)),
        ("Footing", _footing(job, layout, unit)),
        ("Topsoil strip", _length(job.dig.topsoil_strip, unit) or "none"),
        ("Soil class", job.soil.soil_class or "none given, so the rules for unclassified soil"),
        ("Accuracy", _accuracy(job, own, unit)),
        ("Marks", ", ".join(f"{n} at {e:g} {unit}" for n, e in job.existing.marks.items())
         or "none given, so the elevations are taken as they are"),
        ("Breaklines", _breaklines(job)),
        ("Truck", _truck(job)),
    )  # fmt: skip


def _length(length: float, unit: str) -> str:
    """A length as the job gives it; empty for nought."""
    return f"{length:g} {unit}" if length else ""


def _floor(layout: Layout, unit: str) -> str:
    how = next(v.how for v in layout.levels.chain if v.name == "floor of the dig")
    return f"{layout.design.floor:g} {unit}, {how}"


def _walls(layout: Layout, unit: str) -> list[str]:
    """A line for all walls with one overdig and side, in the job's order."""
    order = sorted(zip(layout.design.number, layout.design.walls, strict=True), key=lambda w: w[0])
    alike: dict[tuple[float, Side], list[Wall]] = {}
    for _, wall in order:
        alike.setdefault((wall.overdig, wall.side), []).append(wall)
    return [
        f"{', '.join(wall.name for wall in walls)}: {_length(overdig, unit) or 'none'} out, "
        f"then {side_words(side, unit)}"
        for (overdig, side), walls in alike.items()
    ]


def side_words(side: Side, unit: str) -> str:
    """A side from the floor up.

    >>> side_words(((0.0, 4.0), (3.0, 0.0), (0.75, 1.0)), "ft")
    '4 ft upright, a bench 3 ft wide, then 0.75 back for each 1 up'
    >>> side_words(((0.0, 1.0),), "ft"), side_words(((1.0, 4.0), (2.0, 0.0)), "m")
    ('upright', '1 m back in 4 m up, a bench 2 m wide, and so on')
    """
    if len(side) == 1 and side[0][0] == 0.0:
        return "upright"
    words = []
    for place, (run, rise) in enumerate(side):
        is_last = place == len(side) - 1
        if run == 0.0:
            words.append(f"{rise:g} {unit} upright")
        elif rise == 0.0:
            words.append(f"a bench {run:g} {unit} wide")
        elif is_last:
            words.append(f"{'then ' if words else ''}{run:g} back for each {rise:g} up")
        else:
            words.append(f"{run:g} {unit} back in {rise:g} {unit} up")
    if 0.0 in side[-1]:
        words.append("and so on")
    return ", ".join(words)


def _footing(job: Job, layout: Layout, unit: str) -> str:
    footing = job.foundation.footing
    if footing is None:
        return "none given"
    place = (
        "on the floor" if layout.design.footing is None else f"down to {footing.bottom:g} {unit}"
    )
    return (
        f"{footing.width:g} {unit} wide, {footing.depth:g} {unit} deep, "
        f"{layout.projection:g} {unit} past the outside face, {place}"
    )


def _accuracy(job: Job, own: FloatArray | None, unit: str) -> str:
    existing = job.existing
    said = [] if own is None else _own(own[np.isfinite(own)], unit)
    said += [
        f"{value:g} {unit} {of}"
        for value, of in (
            (existing.accuracy, "for each shot's elevation by itself"),
            (existing.horizontal_accuracy, "for each shot's place, each way"),
            (existing.datum_accuracy, "for the mark they hang on, the same for all shots"),
            (existing.correlated_accuracy, _shared_within(existing.correlation_range, unit)),
        )
        if value is not None
    ]
    if not said:
        return "none given, so no plus-or-minus"
    return (
        " and ".join(said)
        + " (one standard deviation: two errors in three are no larger); the plus-or-minus rests "
        "on it"
    )


def _own(said: FloatArray, unit: str) -> list[str]:
    """What files say of their own shots, from the best to the worst; nothing where they don't."""
    if not len(said):
        return []
    best, worst = f"{said.min():.2g}", f"{said.max():.2g}"
    span = best if best == worst else f"{best} to {worst}"
    return [f"{span} {unit} shot by shot, as the survey itself says"]


def _shared_within(reach: float | None, unit: str) -> str:
    return f"shared by shots less than {reach or 0.0:g} {unit} apart"


def _breaklines(job: Job) -> str:
    told = [f"by code: {', '.join(job.existing.breaklines)}"] if job.existing.breaklines else []
    if job.existing.lines:
        told.append(f"from files: {', '.join(job.existing.lines)}")
    return "; ".join(told) or "none named"


def _truck(job: Job) -> str:
    haul, volume = job.haul, job.unit.volume_name.translate(CUBED)
    if haul.truck is None:
        return "none given, so no loads"
    price = "" if haul.price_per_load is None else f", {_money(job, haul.price_per_load)} a load"
    return f"{haul.truck:g} {volume} loose, heaped{price}"


def _money(job: Job, price: float) -> str:
    """A price with the currency of the job's billing, where it has one."""
    return f"{price:g}" if job.billing is None else f"{price:g} {job.billing.currency}"
