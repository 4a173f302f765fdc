"""Earth over- and under-dug by wall, from the overlay of the hole with its design.

What is beyond and what is left are sums of positive depths: noise of the shots adds to both, about
0.4 sigma times the area on a face dug to design. The net has none of that.
"""

from dataclasses import dataclass, replace

import numpy as np

from terrain.asdug.beside import dug_beside
from terrain.asdug.faces import face_doubts, moved_out
from terrain.asdug.floor import THIN_CUT
from terrain.asdug.hole import Hole, hole_of
from terrain.asdug.measured import Measured, doubt_from, total
from terrain.asdug.progress import Standing, standing
from terrain.asdug.walls import Figure
from terrain.base.arrays import FloatArray
from terrain.base.errors import SpoilbankError
from terrain.job.asdug import CORNER, DayHole, plan_sigma_of, sides_of
from terrain.job.progress_days import day_dug, days_of
from terrain.job.verify_price import excess_price
from terrain.job.verify_record import WallAmounts
from terrain.job.worked import Worked
from terrain.pit.dig import PARTS
from terrain.surface.locate import heights_at
from terrain.surface.overlay import overlay

SIDE = PARTS.index("side")
SURE = 2.0
"""Standard deviations of a shot by which a face must be off to be surely so."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Amounts:
    """Every wall's in the order of the ring; `undercut` was dug below the floor under all."""

    walls: tuple[WallAmounts, ...]
    undercut: Figure


@dataclass(frozen=True, slots=True, kw_only=True)
class _Rows:
    """What stands in the rows of a day: beyond and left by label, and beside the design by row."""

    found: Standing
    beside: dict[int, Measured]

    def over(self, row: int) -> Measured:
        return total([*_of(self.found.beyond, row, range(SIDE, SIDE + 1)), *self._beside(row)])

    def under(self, row: int) -> Measured:
        return total(_of(self.found.left, row, range(len(PARTS))))

    def all_beyond(self, row: int) -> Measured:
        return total([*_of(self.found.beyond, row, range(len(PARTS))), *self._beside(row)])

    def undercut(self, rows: int) -> Measured:
        return total([m for row in range(rows) for m in _of(self.found.beyond, row, range(SIDE))])

    def _beside(self, row: int) -> list[Measured]:
        return [self.beside[row]] if row in self.beside else []


def _of(kind: dict[int, Measured], row: int, parts: range) -> list[Measured]:
    labels = (row * len(PARTS) + part for part in parts)
    return [kind[label] for label in labels if label in kind]


def amounts_of(worked: Worked, day: DayHole) -> Amounts | None:
    """The amounts of a day's hole, None where its shots make no ring."""
    errors, sigma = day.later.errors, plan_sigma_of(day.later.errors)
    dug = day_dug(day.asked.date, None, day.hole, replace(errors, horizontal_accuracy=sigma))
    rows = _rows(worked, day, day.hole)
    if dug is None or rows is None:
        return None
    surveys, volume = days_of(worked, (dug,)).surveys, worked.job.unit.volume
    count = len(worked.layout.design.walls)
    plumb = face_doubts(day.hole, sides_of(worked), worked.existing.tin, sigma)
    noise = _noise(worked, day)
    sure = _sure(worked, day)

    def doubt(amount: Measured) -> float | None:
        return doubt_from(amount, surveys).times(volume(1.0)).together

    told = []
    for row in range(count):
        over, under = rows.over(row), rows.under(row)
        beyond = rows.all_beyond(row)
        net = _with(doubt(beyond - under), None if plumb is None else volume(plumb[row]))
        biased = min(over.amount, under.amount, key=abs), min(under.amount, beyond.amount)
        kept = [
            None if noise is None else volume(min(noise[k, row], max(biased[k], 0.0)))
            for k in range(2)
        ]
        overdug = _figure(volume(over.amount), net, kept[0])
        told.append(
            WallAmounts(
                overdug=overdug,
                underdug=_figure(volume(under.amount), net, kept[1]),
                net=_figure(volume(beyond.amount - under.amount), net, None),
                noise_over=None if noise is None else volume(noise[0, row]),
                noise_under=None if noise is None else volume(noise[1, row]),
                sure_over=None if sure is None else volume(sure[0, row]),
                sure_under=None if sure is None else volume(sure[1, row]),
                cost=excess_price(worked, row, overdug),
            )
        )
    low = rows.undercut(count)
    floor = None if noise is None else volume(min(noise[2].sum(), low.amount))
    return Amounts(walls=tuple(told), undercut=_figure(volume(low.amount), doubt(low), floor))


def _figure(value: float, doubt: float | None, biased: float | None) -> Figure:
    """A volume; what noise may have added of it widens its interval as it is."""
    return Figure(value=value, plus_minus_95=None if doubt is None else doubt + (biased or 0.0))


def _with(doubt: float | None, more: float | None) -> float | None:
    return doubt if more is None else float(np.hypot(doubt or 0.0, more))


def _rows(worked: Worked, day: DayHole, hole: Hole) -> _Rows | None:
    dug = day_dug(day.asked.date, None, hole, day.later.errors)
    if dug is None:
        return None
    before = days_of(worked, (dug,)).before
    return _Rows(
        found=standing(before, dug.sheet, worked.dig),
        beside=dug_beside(before, dug.sheet, worked.dig, len(worked.layout.design.walls)),
    )


def _noise(worked: Worked, day: DayHole) -> FloatArray | None:
    """What noise alone adds to over- and underdug and to undercut, (3, walls) in cubic units.

    A side of plan area A and upright area V is off by A sigma in height and V sigma in plan.
    """
    height, plan = day.later.errors.accuracy, plan_sigma_of(day.later.errors)
    if height is None and plan is None:
        return None
    count = len(worked.layout.design.walls)
    pairs = overlay(worked.existing.ground.surface, worked.dig.surface)
    label = worked.dig.surface.label[pairs.b]
    area = np.bincount(label, pairs.area_above, count * len(PARTS))[: count * len(PARTS)]
    area = area.reshape(count, len(PARTS))
    sides = sides_of(worked)
    deep = _deep(worked, (sides.start + sides.end) / 2)
    upright = np.bincount(sides.wall, sides.length * deep, count)[:count]
    floor = THIN_CUT * (height or 0.0) * area[:, :SIDE].sum(axis=1)
    side = THIN_CUT * np.hypot((height or 0.0) * area[:, SIDE], (plan or 0.0) * upright)
    return np.array([side, side + floor, floor])


def _deep(worked: Worked, plan: FloatArray) -> FloatArray:
    heights = heights_at(worked.existing.tin, plan)
    return np.maximum(np.nan_to_num(heights - worked.layout.design.floor), 0.0)


def _sure(worked: Worked, day: DayHole) -> FloatArray | None:
    """Over- and underdug, (2, walls) in cubic units, were the hole two standard deviations smaller,
    and were it two larger.
    """
    height, plan = day.later.errors.accuracy, plan_sigma_of(day.later.errors)
    if height is None and plan is None:
        return None
    count, sides, found = len(worked.layout.design.walls), sides_of(worked), []
    for way in (-SURE, SURE):
        off = moved_out(day.hole, sides, (way * (plan or 0.0), -way * (height or 0.0)))
        try:
            hole = hole_of(
                off, day.hole.kind, sides, worked.existing.ground, CORNER[worked.job.unit.name]
            )
            rows = _rows(worked, day, hole)
        except SpoilbankError:
            return None
        if rows is None:
            return None
        wanted = rows.over if way < 0 else rows.under
        found.append([wanted(row).amount for row in range(count)])
    return np.array(found)
