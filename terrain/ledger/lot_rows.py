"""What each side of the house gives and needs: the lot's rows in all measures, and the balance."""

from dataclasses import dataclass

import numpy as np

from terrain.base.arrays import FloatArray
from terrain.base.errors import SurfaceError
from terrain.base.units import LengthUnit
from terrain.ledger.entries import BankVolume, CompactedVolume, LooseVolume, Quantity
from terrain.ledger.loads import truck_loads
from terrain.ledger.lot_account import CLOSES_WITHIN, LotAccount
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

    `gives` is the earth taken out that is fit for fill, `needs` what all fill there is dug from,
    both in bank; `surplus` is what it gives beyond what it needs (+) or lacks (-). Stone, footing
    and `wall_volume`, of the foundation wall, are in place; of the footing what stands out.
    """

    wall: str
    backfill: Quantity
    grade_fill: Quantity
    stone: float
    footing: float
    wall_volume: float
    slab_fill: Quantity
    cut: BankVolume
    gives: BankVolume
    needs: BankVolume
    surplus: BankVolume


@dataclass(frozen=True, slots=True, kw_only=True)
class LotTotal:
    """The lot as a whole, in the job's volume unit.

    `cut` and `fill` are finished against existing ground outside the house, before topsoil.
    Topsoil is in place: what is stripped, and what is put back, as packed as fill. What that leaves
    of it, `topsoil_left`, or lacks, `topsoil_lacking`, is in no other figure; its `topsoil_loads`
    are those of either. What leaves, `haul_bank`, is the surplus and all that is fit for no fill,
    `unsuitable`; topsoil stays on the lot. `imported` and
    `hauled` are what is brought in and what leaves in all measures. `loads` are of both, each
    rounded up, None without a truck.
    """

    cut: BankVolume
    fill: CompactedVolume
    topsoil_strip: BankVolume
    topsoil_respread: CompactedVolume
    topsoil_left: Quantity
    topsoil_lacking: Quantity
    topsoil_loads: int | None
    slab_fill: CompactedVolume
    unsuitable: BankVolume
    import_bank: BankVolume
    haul_bank: BankVolume
    imported: Quantity
    hauled: Quantity
    import_loads: int | None
    haul_loads: int | None
    loads: int | None


def surplus_by_side(account: LotAccount, terms: LotTerms) -> FloatArray:
    """What each side gives beyond its needs, (rows,) cubic length units in bank."""
    return np.asarray(given_by_side(account, terms) - needed_by_side(account, terms))


def given_by_side(account: LotAccount, terms: LotTerms) -> FloatArray:
    """The earth taken out, less topsoil, less the share unfit for fill, (rows,) in bank."""
    return np.asarray((1.0 - terms.unsuitable) * subsoil_out(account, terms))


def needed_by_side(account: LotAccount, terms: LotTerms) -> FloatArray:
    """What the fill of each side is dug from, (rows,) cubic length units in bank.

    It needs backfill, grade fill and slab fill, compacted, and fill in place of topsoil stripped
    under fill. Topsoil put back stands in for fill, and where ground is only cut makes the cut
    that much deeper. Topsoil is depth times plan area: at a thin rim it is taken off to its full
    depth too.
    """
    respread = terms.topsoil_respread
    needed = account.backfill + account.grade_fill + terms.slab_fill * account.area_slab
    needed = needed + terms.topsoil_strip * account.area_fill
    needed = needed - respread * (_respread_area(account) - account.area_cut)
    return np.asarray(needed / (1.0 - terms.soil.shrink))


def subsoil_out(account: LotAccount, terms: LotTerms) -> FloatArray:
    """Earth taken out without its topsoil, (rows,) cubic length units in bank."""
    taken = np.maximum(account.earth_out - terms.topsoil_strip * account.area_out, 0.0)
    return np.asarray(taken + terms.topsoil_respread * account.area_cut)


def _respread_area(account: LotAccount) -> FloatArray:
    """The plan area that was changed and is not house: topsoil is put back there."""
    dug = account.area_out - account.area_core - account.area_house
    return np.asarray(dug + account.area_fill)


def _stripped_area(account: LotAccount) -> FloatArray:
    """The plan area that was changed, and all that lies under house."""
    return account.area_out - account.area_house + account.area_slab + account.area_fill


def lot_rows(
    account: LotAccount, names: tuple[str, ...], terms: LotTerms
) -> tuple[tuple[LotRow, ...], LotTotal]:
    """The rows by side and their total."""
    in_unit = terms.unit.volume
    gives, needs = given_by_side(account, terms), needed_by_side(account, terms)
    surplus = gives - needs
    slab = terms.slab_fill * account.area_slab
    rows = tuple(
        LotRow(
            wall=name,
            backfill=_compacted(in_unit(float(account.backfill[i])), terms.soil),
            grade_fill=_compacted(in_unit(float(account.grade_fill[i])), terms.soil),
            stone=in_unit(float(account.stone[i])),
            footing=in_unit(float(account.footing[i])),
            wall_volume=in_unit(float(account.wall[i])),
            slab_fill=_compacted(in_unit(float(slab[i])), terms.soil),
            cut=BankVolume(in_unit(float(account.earth_out[i]))),
            gives=BankVolume(in_unit(float(gives[i]))),
            needs=BankVolume(in_unit(float(needs[i]))),
            surplus=BankVolume(in_unit(float(surplus[i]))),
        )
        for i, name in enumerate(names)
    )
    return rows, _total(account, float(surplus.sum()), terms)


def _total(account: LotAccount, surplus: float, terms: LotTerms) -> LotTotal:
    in_unit = terms.unit.volume
    unfit = terms.unsuitable * float(subsoil_out(account, terms).sum())
    leaves, comes = hauled_and_imported(account, surplus, terms)
    _check_earth(account, (float(leaves), float(comes)), terms)
    strip = terms.topsoil_strip * float(_stripped_area(account).sum())
    respread = terms.topsoil_respread * float(_respread_area(account).sum())
    spread = bank_from_compacted(CompactedVolume(in_unit(respread)), terms.soil)
    left = in_unit(strip) - spread
    over, short = BankVolume(max(left, 0.0)), BankVolume(max(-left, 0.0))
    return LotTotal(
        cut=BankVolume(in_unit(float(account.cut.sum()))),
        fill=CompactedVolume(in_unit(float(account.grade_fill.sum()))),
        topsoil_strip=BankVolume(in_unit(strip)),
        topsoil_respread=CompactedVolume(in_unit(respread)),
        topsoil_left=quantity(over, terms.soil),
        topsoil_lacking=quantity(short, terms.soil),
        topsoil_loads=loads_moved(over, short, terms),
        slab_fill=CompactedVolume(in_unit(terms.slab_fill * float(account.area_slab.sum()))),
        unsuitable=BankVolume(in_unit(unfit)),
        import_bank=comes,
        haul_bank=leaves,
        imported=quantity(comes, terms.soil),
        hauled=quantity(leaves, terms.soil),
        import_loads=loads_moved(BankVolume(0.0), comes, terms),
        haul_loads=loads_moved(leaves, BankVolume(0.0), terms),
        loads=loads_moved(leaves, comes, terms),
    )


def hauled_and_imported(
    account: LotAccount, surplus: float, terms: LotTerms
) -> tuple[BankVolume, BankVolume]:
    """What leaves, all that is fit for no fill with it, and what is brought in.

    `surplus` is that of all sides together, in cubic length units in bank.
    """
    unfit = terms.unsuitable * float(subsoil_out(account, terms).sum())
    leaves, comes = max(surplus, 0.0) + unfit, max(-surplus, 0.0)
    return BankVolume(terms.unit.volume(leaves)), BankVolume(terms.unit.volume(comes))


def _check_earth(account: LotAccount, moved: tuple[float, float], terms: LotTerms) -> None:
    """Hold what comes out and in, in bank, against what is put back, what leaves and topsoil.

    Raises:
        SurfaceError: they differ, which is a fault of ours.
    """
    leaves, comes = (volume / terms.unit.volume(1.0) for volume in moved)
    fills = account.backfill + account.grade_fill + terms.slab_fill * account.area_slab
    topsoil = terms.topsoil_strip * account.area_fill
    topsoil = topsoil - terms.topsoil_respread * (_respread_area(account) - account.area_cut)
    put_back = float((fills + topsoil).sum()) / (1.0 - terms.soil.shrink)
    out = float(subsoil_out(account, terms).sum())
    if abs(out + comes - put_back - leaves) > CLOSES_WITHIN * (out + comes + abs(put_back)):
        raise SurfaceError(
            f"{out:.9g} dug and {comes:.9g} brought in do not make {put_back:.9g} put back and "
            f"{leaves:.9g} taken away, in cubic units; please report this job"
        )


def loads_moved(leaves: BankVolume, comes: BankVolume, terms: LotTerms) -> int | None:
    """Truck loads of what leaves and of what is brought in, each rounded up; None without truck."""
    truck = terms.truck
    if truck is None:
        return None
    return sum(truck_loads(quantity(moved, terms.soil).loose, truck) for moved in (leaves, comes))


def _compacted(volume: float, soil: SoilFactors) -> Quantity:
    """A volume in place, compacted, in its three measures."""
    return quantity(bank_from_compacted(CompactedVolume(volume), soil), soil)
