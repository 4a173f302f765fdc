"""Earth over- and under-dug by wall, from the overlay of the hole with its design."""

from dataclasses import dataclass
from decimal import Decimal

from terrain.asdug.beside import dug_beside
from terrain.asdug.measured import Measured, doubt_from, total
from terrain.asdug.progress import standing
from terrain.asdug.walls import Figure
from terrain.job.asdug import DayHole
from terrain.job.load import Job
from terrain.job.progress_days import day_dug, days_of
from terrain.job.worked import Worked
from terrain.pit.dig import PARTS


@dataclass(frozen=True, slots=True, kw_only=True)
class Amounts:
    """By wall of the design's ring, in the job's volume unit: dug beyond, left, to fill, its cost.

    `undercut` is what was dug below the floor, under all walls.
    """

    overdug: tuple[Figure, ...]
    underdug: tuple[Figure, ...]
    backfill: tuple[float, ...]
    cost: tuple[float | None, ...]
    undercut: Figure


def amounts_of(worked: Worked, day: DayHole) -> Amounts | None:
    """The amounts of a day's hole, None where its shots make no ring."""
    dug = day_dug(day.asked.date, day.asked.hours, day.hole, day.later.errors)
    if dug is None:
        return None
    days = days_of(worked, (dug,))
    now = standing(days.before, dug.sheet, worked.dig)
    side = PARTS.index("side")
    volume = worked.job.unit.volume

    def figure(amounts: list[Measured]) -> Figure:
        whole = total(amounts)
        doubt = doubt_from(whole, days.surveys).times(volume(1.0))
        return Figure(value=volume(whole.amount), plus_minus_95=doubt.together)

    def of(kind: dict[int, Measured], row: int, parts: range) -> list[Measured]:
        labels = (row * len(PARTS) + part for part in parts)
        return [kind[label] for label in labels if label in kind]

    rows = range(len(worked.layout.design.walls))
    every = range(len(PARTS))
    low = [m for row in rows for m in of(now.beyond, row, range(side))]
    beside = dug_beside(days.before, dug.sheet, worked.dig, len(rows))
    wide = [of(now.beyond, row, range(side, side + 1)) for row in rows]
    overdug = tuple(
        figure([*own, beside[row]] if row in beside else own)
        for row, own in zip(rows, wide, strict=True)
    )
    return Amounts(
        overdug=overdug,
        underdug=tuple(figure(of(now.left, row, every)) for row in rows),
        backfill=tuple(one.value for one in overdug),
        cost=tuple(_cost(worked.job, one.value) for one in overdug),
        undercut=figure(low),
    )


def _cost(job: Job, bank: float) -> float | None:
    """What it costs to dig so much more and fill it again at the job's own prices, if it has any.

    In place the hole that is filled is as large as the one dug.
    """
    if job.billing is None:
        return None
    prices = {
        of: Decimal(item.price)
        for item in job.billing.items
        for of, measure in (("pit", "bank"), ("backfill", "compacted"))
        if item.of == of and item.measure == measure
    }
    return float(sum(prices.values())) * bank if len(prices) == 2 else None
