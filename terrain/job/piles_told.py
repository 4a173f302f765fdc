"""The piles of a day in names and the job's units: each pile, each side's stock, the swell."""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from terrain.asdug.measured import doubt_from, total
from terrain.asdug.piles import Pile
from terrain.job.piles import PilesRead, read_piles
from terrain.job.piles_checks import least_gap
from terrain.job.piles_record import (
    PileRow,
    PilesSurvey,
    SideStock,
    SoilMeasured,
    StockInAll,
)
from terrain.job.piles_soil import HoleBetween, days_of, is_topsoil, soil_found, soil_told
from terrain.job.worked import Worked
from terrain.ledger.entries import Caution, LooseVolume
from terrain.ledger.lot_rows import LotRow
from terrain.ledger.soil import SoilFactors


@dataclass(frozen=True, slots=True, kw_only=True)
class StockAsked:
    """What a day's piles are held against.

    Args:
        hole: the hole that was dug between two days.
        rows: the sides of the finished lot, None for a job without one.
        left: what is still to be dug by wall after an as-dug survey, in bank, in the volume unit;
            None where that survey does not say.
        given: the soil as the job's file or the tables have it.
        whole: the days whose as-dug survey shows a whole hole, None for all: of others no swell is
            told.
        left_of_extras: what is still to be dug of pits, ramps and trenches, likewise.
    """

    hole: HoleBetween
    rows: tuple[LotRow, ...] | None
    left: Callable[[str], Mapping[str, float] | None]
    given: SoilFactors
    whole: frozenset[str] | None = None
    left_of_extras: Callable[[str], float | None] = lambda on: 0.0


def piles_surveys(worked: Worked, asked: StockAsked) -> tuple[PilesSurvey, ...]:
    """Every `[[piles]]` survey of a job, oldest first.

    Raises:
        SurveyError: as `read_piles` and `soil_found`.
    """
    return tuple(_survey(worked, number, asked) for number in range(1, len(worked.job.piles) + 1))


def _survey(worked: Worked, number: int, asked: StockAsked) -> PilesSurvey:
    seen = read_piles(worked, number)
    rows = pile_rows(worked, seen)
    whole = total([pile.loose for pile in seen.piles])
    doubt = doubt_from(whole, seen.surveys).together
    volume = worked.job.unit.volume
    sides = _stocks(worked, seen, asked)
    return PilesSurvey(
        date=seen.asked.date,
        piles=rows,
        total=LooseVolume(volume(whole.amount)),
        total_plus_minus_95=None if doubt is None else volume(doubt),
        sides=sides,
        in_all=_in_all(worked, seen, asked, sides),
        soil=_soil(worked, seen, asked, topsoil=False),
        topsoil_soil=_soil(worked, seen, asked, topsoil=True),
        cautions=pile_cautions(worked, seen, rows),
        notes=seen.later.notes,
        files=seen.later.files,
    )


def _soil(
    worked: Worked, seen: PilesRead, asked: StockAsked, *, topsoil: bool
) -> SoilMeasured | None:
    days = days_of(worked.job, seen.asked)
    if days is None or (asked.whole is not None and not {*days} - {None} <= asked.whole):
        return None
    found = soil_found(worked, seen, asked.hole, topsoil=topsoil)
    if found is None:
        return None
    used = not topsoil and worked.soil.swell == found.swell.swell and worked.job.soil.measured
    return soil_told(found, worked, asked.given, is_used=used, is_topsoil=topsoil)


def _stocks(worked: Worked, seen: PilesRead, asked: StockAsked) -> tuple[SideStock, ...]:
    days = days_of(worked.job, seen.asked)
    left = None if days is None else asked.left(days[1])
    needs = None if asked.rows is None else {row.wall: float(row.needs) for row in asked.rows}
    loose = 1.0 + worked.soil.swell
    told = []
    for wall, stock in stock_by_side(worked, seen).items():
        to_come = None if left is None else loose * left.get(wall, 0.0)
        need = None if needs is None else loose * needs[wall]
        spare = None if need is None else stock + (to_come or 0.0) - need
        told.append(
            SideStock(
                wall=wall,
                stock=LooseVolume(stock),
                to_come=None if to_come is None else LooseVolume(to_come),
                needs=None if need is None else LooseVolume(need),
                spare=None if spare is None else LooseVolume(spare),
            )
        )
    return tuple(told)


def _in_all(
    worked: Worked, seen: PilesRead, asked: StockAsked, sides: tuple[SideStock, ...]
) -> StockInAll:
    days = days_of(worked.job, seen.asked)
    extras = None if days is None else asked.left_of_extras(days[1])
    more = None if extras is None else (1.0 + worked.soil.swell) * extras
    held = total([pile.loose for pile in seen.piles if not is_topsoil(seen.asked, pile)])
    doubt = doubt_from(held, seen.surveys).together

    def summed(every: list[float | None]) -> LooseVolume | None:
        known = [one for one in every if one is not None]
        return LooseVolume(math.fsum(known)) if len(known) == len(every) else None

    spare = summed([*(side.spare for side in sides), *([] if more is None else [more])])
    truck = worked.job.haul.truck
    return StockInAll(
        stock=LooseVolume(math.fsum(side.stock for side in sides)),
        stock_plus_minus_95=None if doubt is None else worked.job.unit.volume(doubt),
        from_extras=None if more is None else LooseVolume(more),
        to_come=summed([more, *(side.to_come for side in sides)]),
        needs=summed([side.needs for side in sides]),
        spare=spare,
        hauled=LooseVolume(seen.asked.hauled),
        truck=truck,
        loads=None if spare is None or truck is None else _loads(spare, truck),
    )


def _loads(spare: float, truck: float) -> int:
    """Loads to bring in, the last one not full; or full ones that may leave."""
    return math.ceil(-spare / truck) if spare < 0.0 else math.floor(spare / truck)


def pile_rows(worked: Worked, seen: PilesRead) -> tuple[PileRow, ...]:
    """Every pile in the job's units, largest first."""
    unit, frame = worked.job.unit, worked.layout.frame
    rows = []
    for pile in sorted(seen.piles, key=lambda p: -p.loose.amount):
        doubt = doubt_from(pile.loose, seen.surveys).times(unit.volume(1.0))
        top, foot = frame.to_site(pile.top[:2]), frame.to_site(pile.foot.spot)
        rows.append(
            PileRow(
                name=pile.name,
                side=side_of(seen, pile),
                is_topsoil=is_topsoil(seen.asked, pile),
                loose=LooseVolume(unit.volume(pile.loose.amount)),
                plus_minus_95=doubt.together,
                doubt=doubt,
                below=LooseVolume(unit.volume(pile.below)),
                area=pile.area,
                height=pile.height,
                top=(float(top[0]), float(top[1])),
                foot_mean=pile.foot.mean,
                foot_most=pile.foot.most,
                foot_spot=(float(foot[0]), float(foot[1])),
                missing=LooseVolume(unit.volume(pile.foot.missing)),
            )
        )
    return tuple(rows)


def side_of(seen: PilesRead, pile: Pile) -> str:
    """The wall on whose side most of a pile lies, or that the job says."""
    for name, wall in seen.asked.sides.items():
        if name.casefold() == pile.name.casefold():
            return wall
    return seen.sides.names[int(np.argmax(pile.by_side))]


def stock_by_side(worked: Worked, seen: PilesRead) -> dict[str, float]:
    """Loose earth in piles by wall, topsoil not counted, in the job's volume unit.

    A pile that the job gives to one side counts there, others where they lie.
    """
    stock = dict.fromkeys(seen.sides.names, 0.0)
    said = {name.casefold(): wall for name, wall in seen.asked.sides.items()}
    for pile in seen.piles:
        if is_topsoil(seen.asked, pile):
            continue
        wall = said.get(pile.name.casefold())
        shares = pile.by_side if wall is None else [pile.loose.amount]
        for name, share in zip(seen.sides.names if wall is None else [wall], shares, strict=True):
            stock[name] += worked.job.unit.volume(float(share))
    return stock


def pile_cautions(
    worked: Worked, seen: PilesRead, rows: tuple[PileRow, ...]
) -> tuple[Caution, ...]:
    """A caution for each pile whose foot does not meet the ground, with what is missing by it."""
    unit, told = worked.job.unit, []
    for row in rows:
        if row.foot_mean > least_gap(unit):
            told.append(
                Caution(
                    code="pile-foot",
                    wall=row.side,
                    message=f"the outermost shots of pile {row.name} stand {row.foot_mean:.2f} "
                    f"{unit.name} over the ground on the mean, {row.foot_most:.2f} at most: about "
                    f"{row.missing:.1f} {unit.volume_sign} beyond them are not counted. Shoot "
                    "where it meets the ground, all round.",
                )
            )
    if seen.surveys[seen.key].terms.errors.is_said and not seen.surveys[seen.key].terms.between:
        told.append(
            Caution(
                code="pile-shots",
                message="the piles have too few shots to tell what they do between them: their "
                "plus-or-minus leaves that out. Shoot ridges and slopes too.",
            )
        )
    return tuple(told)
