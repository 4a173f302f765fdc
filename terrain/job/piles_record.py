"""What piles of spoil answer, ready for report and export to show. Volumes in the volume unit."""

from dataclasses import dataclass

from terrain.asdug.soil import SwellRange
from terrain.job.drainage import Spot
from terrain.ledger.doubt import Doubt
from terrain.ledger.entries import BankVolume, Caution, LooseVolume
from terrain.survey.read import FileFacts


@dataclass(frozen=True, slots=True, kw_only=True)
class PileRow:
    """One pile, loose. Lengths and areas in length units.

    Args:
        side: the wall whose side it is.
        below: what of its surface is below the ground, taken off the volume.
        foot_mean: how high its outermost shots stand over the ground along its rim, `foot_most` at
            most, at `foot_spot`; `missing` is about what lies beyond them.
    """

    name: str
    side: str
    is_topsoil: bool
    loose: LooseVolume
    plus_minus_95: float | None
    doubt: Doubt
    below: LooseVolume
    area: float
    height: float
    top: Spot
    foot_mean: float
    foot_most: float
    foot_spot: Spot
    missing: LooseVolume


@dataclass(frozen=True, slots=True, kw_only=True)
class SideStock:
    """What lies ready on one side of the house against what its fill needs, all loose.

    Args:
        stock: in its piles, topsoil not counted.
        to_come: what is still to be dug along this wall, None without an as-dug survey.
        needs: what backfill, grade fill and slab fill take, None for a job without a finished lot.
        spare: stock and what is to come beyond its needs (+), or what it lacks of them (-).
    """

    wall: str
    stock: LooseVolume
    to_come: LooseVolume | None
    needs: LooseVolume | None
    spare: LooseVolume | None


@dataclass(frozen=True, slots=True, kw_only=True)
class StockInAll:
    """All sides together, loose: what one side has over serves another that lacks it.

    Args:
        stock: in all piles, topsoil not counted, with its `stock_plus_minus_95`.
        from_extras: of what is to come, that of pits, ramps and trenches, which is on no side.
        to_come: all that is still to be dug; None without an as-dug survey.
        needs, spare: as of a side.
        hauled: what left by truck before the piles were shot.
        truck: what a truck holds, None where the job names none.
        loads: truck loads that must come in where earth lacks, else that may leave; None likewise.
    """

    stock: LooseVolume
    stock_plus_minus_95: float | None
    from_extras: LooseVolume | None
    to_come: LooseVolume | None
    needs: LooseVolume | None
    spare: LooseVolume | None
    hauled: LooseVolume
    truck: float | None
    loads: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class SoilMeasured:
    """The swell of what was dug between two days, against what the job goes by.

    Args:
        since: the day of the as-dug survey it was dug after, None for the beginning.
        until: the day of the one it was dug up to.
        bank: what the hole grew by; `loose` what the piles hold of it, with what was `hauled`.
        doubt: of the swell.
        table_swell: what the job goes by without it.
        published: what is printed of such a soil.
        reason: why it is not used, None if it may be.
        is_used: whether this answer's loose volumes and loads are made with it.
        is_topsoil: whether it is of the topsoil, by which no other volume goes.
    """

    since: str | None
    until: str
    bank: BankVolume
    bank_plus_minus_95: float | None
    loose: LooseVolume
    loose_plus_minus_95: float | None
    hauled: LooseVolume
    swell: float
    plus_minus_95: float | None
    doubt: Doubt
    table_swell: float
    published: SwellRange
    reason: str | None
    is_used: bool
    is_topsoil: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class PilesSurvey:
    """The piles of one day. `total` is all of them, topsoil too; `soil` None without a hole."""

    date: str
    piles: tuple[PileRow, ...]
    total: LooseVolume
    total_plus_minus_95: float | None
    sides: tuple[SideStock, ...]
    in_all: StockInAll
    soil: SoilMeasured | None
    topsoil_soil: SoilMeasured | None
    cautions: tuple[Caution, ...]
    notes: tuple[str, ...]
    files: tuple[FileFacts, ...]
