"""The ledger's rows from the account's figures: units and soil states, converted once, here."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from terrain.base.units import LengthUnit
from terrain.ledger.account import Account
from terrain.ledger.doubt import Doubt
from terrain.ledger.entries import (
    BankVolume,
    Caution,
    Ledger,
    LooseVolume,
    Parts,
    PitRow,
    Total,
    WallRow,
)
from terrain.ledger.loads import truck_loads
from terrain.ledger.soil import SoilFactors, quantity
from terrain.pit.design import Design
from terrain.pit.dig import PARTS


@dataclass(frozen=True, slots=True, kw_only=True)
class Terms:
    """How a job tells volumes: its title, unit, soil, and truck (None without one)."""

    title: str
    unit: LengthUnit
    soil: SoilFactors
    truck: LooseVolume | None


def ledger_of(
    account: Account, design: Design, terms: Terms, cautions: tuple[Caution, ...]
) -> Ledger:
    """The ledger of a dig: walls in the order of the job file, then extras, then their total."""
    in_unit = terms.unit.volume
    bank = BankVolume(in_unit(account.total))
    told = quantity(bank, terms.soil)
    loads = truck_loads(told.loose, terms.truck) if terms.truck is not None else None
    whole = None if account.doubts is None else account.doubts.total.times(in_unit(1.0))
    return Ledger(
        title=terms.title,
        length_unit=terms.unit.name,
        volume_unit=terms.unit.volume_name,
        total=Total(
            quantity=told,
            topsoil=BankVolume(in_unit(float(account.topsoil.sum()))),
            bank_plus_minus_95=_together(whole),
            loads=loads,
            doubt=whole,
        ),
        walls=_wall_rows(account, design, terms),
        pits=_pit_rows(account, design, terms),
        daylight_area=account.daylight_area,
        deepest_cut=account.deepest_cut,
        cautions=cautions,
        deepest_in=_deepest_in(account, design),
    )


def _deepest_in(account: Account, design: Design) -> str | None:
    """The name of the row that goes deepest, the first of those that do."""
    if account.deepest_cut == 0.0:
        return None
    row = int(np.argmax(account.deepest))
    names = (*(w.name for w in design.walls), *(e.name for e in design.extras))
    return names[row]


def _wall_rows(account: Account, design: Design, terms: Terms) -> tuple[WallRow, ...]:
    in_unit = terms.unit.volume
    rows = []
    for _, row in sorted((number, row) for row, number in enumerate(design.number)):
        core, overdig, side, footing = (float(v) for v in account.bank[row])
        doubt = _row_doubt(account, row, in_unit)
        rows.append(
            WallRow(
                wall=design.walls[row].name,
                quantity=quantity(BankVolume(in_unit(core + overdig + side + footing)), terms.soil),
                topsoil=BankVolume(in_unit(float(account.topsoil[row]))),
                parts=Parts(
                    core=BankVolume(in_unit(core)),
                    overdig=BankVolume(in_unit(overdig)),
                    side=BankVolume(in_unit(side)),
                    footing=BankVolume(in_unit(footing)),
                ),
                bank_plus_minus_95=_together(doubt),
                plan_area=float(account.plan_area[row]),
                deepest=float(account.deepest[row]),
                doubt=doubt,
                part_doubts=_part_doubts(account, row, in_unit),
            )
        )
    return tuple(rows)


def _pit_rows(account: Account, design: Design, terms: Terms) -> tuple[PitRow, ...]:
    in_unit = terms.unit.volume
    rows = []
    for row, extra in enumerate(design.extras, start=len(design.walls)):
        doubt = _row_doubt(account, row, in_unit)
        bank = BankVolume(in_unit(float(account.bank[row].sum())))
        rows.append(
            PitRow(
                name=extra.name,
                kind=extra.kind,
                quantity=quantity(bank, terms.soil),
                topsoil=BankVolume(in_unit(float(account.topsoil[row]))),
                bank_plus_minus_95=_together(doubt),
                doubt=doubt,
            )
        )
    return tuple(rows)


def _row_doubt(account: Account, row: int, in_unit: Callable[[float], float]) -> Doubt | None:
    return None if account.doubts is None else account.doubts.rows[row].times(in_unit(1.0))


def _part_doubts(
    account: Account, row: int, in_unit: Callable[[float], float]
) -> dict[str, Doubt] | None:
    if account.doubts is None:
        return None
    own = account.doubts.parts[row]
    return {part: doubt.times(in_unit(1.0)) for part, doubt in zip(PARTS, own, strict=True)}


def _together(doubt: Doubt | None) -> float | None:
    return None if doubt is None else doubt.together
