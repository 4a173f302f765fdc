"""What each side of the house gives and needs: the lot's rows in all measures, and the balance."""

from dataclasses import dataclass

import numpy as np

from terrain.base.arrays import FloatArray
from terrain.base.units import LengthUnit
from terrain.ledger.entries import BankVolume, CompactedVolume, LooseVolume, Quantity
from terrain.ledger.loads import truck_loads
from terrain.ledger.lot_account import LotAccount
from terrain.ledger.soil import SoilFactors, bank_from_compacted, quantity


@dataclass(frozen=True, slots=True, kw_only=True)
class LotTerms:
    """How a job grades: depths in length units, shares of one.

    Args:
        topsoil_strip: depth of topsoil taken off wherever the ground changes.
        topsoil_respread: depth of topsoil put back on finished ground outside the house.
        slab_fill: depth of fill under house that is not pit.
        unsuitable: share of the earth taken out that is fit for no fill.
    """

    unit: LengthUnit
    soil: SoilFactors
    truck: LooseVolume | None
    topsoil_strip: float
    topsoil_respread: float
    slab_fill: float
    unsuitable: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LotRow:
    """One side of the house, in the job's volume unit.

    `surplus` is what it gives beyond what it needs (+) or lacks (-), in bank.
    """

    wall: str
    backfill: Quantity
    grade_fill: Quantity
    stone: float
    footing: float
    slab_fill: Quantity
    cut: BankVolume
    surplus: BankVolume


@dataclass(frozen=True, slots=True, kw_only=True)
class LotTotal:
    """The lot as a whole, in the job's volume unit.

    `cut` and `fill` are finished against existing ground outside the house, before topsoil;
    topsoil is in place. `loads` are of what is hauled off or brought in, None without a truck.
    """

    cut: BankVolume
    fill: CompactedVolume
    topsoil_strip: BankVolume
    topsoil_respread: CompactedVolume
    slab_fill: CompactedVolume
    import_bank: BankVolume
    haul_bank: BankVolume
    loads: int | None


def surplus_by_side(account: LotAccount, terms: LotTerms) -> FloatArray:
    """What each side gives beyond its needs, (rows,) cubic length units in bank.

    It gives the earth taken out, less topsoil, less the share unfit for fill. It needs backfill,
    grade fill and slab fill, compacted, and fill in place of topsoil stripped under fill. Topsoil
    put back stands in for fill, and where ground is only cut makes the cut that much deeper.
    """
    strip, respread = terms.topsoil_strip, terms.topsoil_respread
    taken = np.maximum(account.earth_out - strip * account.area_out, 0.0)
    taken = taken + respread * account.area_cut
    covered = account.area_out - account.area_core - account.area_cut + account.area_fill
    needed = account.backfill + account.grade_fill + terms.slab_fill * account.area_slab
    needed = needed + strip * account.area_fill - respread * covered
    surplus: FloatArray = taken * (1.0 - terms.unsuitable) - needed / (1.0 - terms.soil.shrink)
    return surplus


def lot_rows(
    account: LotAccount, names: tuple[str, ...], terms: LotTerms
) -> tuple[tuple[LotRow, ...], LotTotal]:
    """The rows by side and their total."""
    in_unit = terms.unit.volume
    surplus = surplus_by_side(account, terms)
    rows = tuple(
        LotRow(
            wall=name,
            backfill=_compacted(in_unit(float(account.backfill[i])), terms.soil),
            grade_fill=_compacted(in_unit(float(account.grade_fill[i])), terms.soil),
            stone=in_unit(float(account.stone[i])),
            footing=in_unit(float(account.footing[i])),
            slab_fill=_compacted(
                in_unit(float(account.area_slab[i]) * terms.slab_fill), terms.soil
            ),
            cut=BankVolume(in_unit(float(account.earth_out[i]))),
            surplus=BankVolume(in_unit(float(surplus[i]))),
        )
        for i, name in enumerate(names)
    )
    return rows, _total(account, float(surplus.sum()), terms)


def _total(account: LotAccount, surplus: float, terms: LotTerms) -> LotTotal:
    in_unit = terms.unit.volume
    changed = float((account.area_out + account.area_fill).sum())
    outside = changed - float(account.area_core.sum())
    moved = BankVolume(in_unit(abs(surplus)))
    loads = None
    if terms.truck is not None:
        loads = truck_loads(quantity(moved, terms.soil).loose, terms.truck)
    return LotTotal(
        cut=BankVolume(in_unit(float(account.cut.sum()))),
        fill=CompactedVolume(in_unit(float(account.grade_fill.sum()))),
        topsoil_strip=BankVolume(in_unit(changed * terms.topsoil_strip)),
        topsoil_respread=CompactedVolume(in_unit(outside * terms.topsoil_respread)),
        slab_fill=CompactedVolume(in_unit(float(account.area_slab.sum()) * terms.slab_fill)),
        import_bank=moved if surplus < 0 else BankVolume(0.0),
        haul_bank=moved if surplus > 0 else BankVolume(0.0),
        loads=loads,
    )


def _compacted(volume: float, soil: SoilFactors) -> Quantity:
    """A volume in place, compacted, in its three measures."""
    return quantity(bank_from_compacted(CompactedVolume(volume), soil), soil)
