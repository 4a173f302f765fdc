"""The swell of a job's own soil: which piles hold which hole, and what that comes to."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from terrain.asdug.measured import Measured, SurveyTerms, doubt_from, total
from terrain.asdug.piles import Pile
from terrain.asdug.soil import MeasuredSwell, measured_swell
from terrain.base.errors import Fault, SurveyError
from terrain.job.asdug_tables import Piles
from terrain.job.load import Job
from terrain.job.piles import PilesRead, read_piles
from terrain.job.piles_record import SoilMeasured
from terrain.job.worked import Worked
from terrain.ledger.entries import BankVolume, LooseVolume
from terrain.ledger.soil import SoilFactors


@dataclass(frozen=True, slots=True, kw_only=True)
class Hole:
    """What the hole grew by between two days, in bank, cubic length units.

    `surveys` hold the terms of all surveys it rests on; `topsoil` is the part of it that was
    topsoil.
    """

    bank: Measured
    topsoil: Measured
    surveys: Mapping[str, SurveyTerms]


HoleBetween = Callable[[str | None, str], Hole]
"""The hole dug between two as-dug surveys; since the beginning where the first is None."""


def days_of(job: Job, asked: Piles) -> tuple[str | None, str] | None:
    """The as-dug surveys after and up to which piles hold what was dug; None without a survey."""
    until = asked.asdug or max((d.date for d in job.asdug if d.date <= asked.date), default=None)
    return None if until is None else (asked.since, until)


@dataclass(frozen=True, slots=True, kw_only=True)
class SoilFound:
    """The swell of a day's piles with the amounts it is made of, in cubic length units."""

    since: str | None
    until: str
    loose: Measured
    bank: Measured
    hauled: float
    swell: MeasuredSwell
    surveys: Mapping[str, SurveyTerms]


def soil_found(
    worked: Worked, seen: PilesRead, hole_between: HoleBetween, *, topsoil: bool = False
) -> SoilFound | None:
    """The swell of what was dug, None where no as-dug survey goes with the piles.

    Where piles of topsoil are named, subsoil and topsoil are measured apart.

    Raises:
        SurveyError: nothing was dug between the two days.
    """
    job, asked = worked.job, seen.asked
    days = days_of(job, asked)
    apart = bool(asked.topsoil)
    if days is None or (topsoil and not apart):
        return None
    hole = hole_between(*days)
    bank = hole.topsoil if topsoil else hole.bank - hole.topsoil if apart else hole.bank
    if bank.amount <= 0.0:
        since = "the beginning" if days[0] is None else days[0]
        message = f"nothing was dug between {since} and {days[1]} that these piles could hold"
        raise job.located(SurveyError(Fault(key=seen.key, message=message)))
    surveys = {**seen.surveys, **hole.surveys}
    held = total([pile.loose for pile in seen.piles if is_topsoil(asked, pile) == topsoil])
    before = _before(worked, asked)
    if before is not None:
        kept = [p.loose for p in before.piles if is_topsoil(before.asked, p) == topsoil]
        held = held - total(kept)
        surveys = {**before.surveys, **surveys}
    hauled = 0.0 if topsoil else asked.hauled * job.unit.cubic_units_per_volume_unit
    loose = Measured(amount=held.amount + hauled, weights=held.weights)
    return SoilFound(
        since=days[0],
        until=days[1],
        loose=loose,
        bank=bank,
        hauled=hauled,
        swell=measured_swell(loose, bank, surveys, worked.soil),
        surveys=surveys,
    )


def is_topsoil(asked: Piles, pile: Pile) -> bool:
    """Whether the job names the pile as one of topsoil."""
    return pile.name.casefold() in {name.casefold() for name in asked.topsoil}


def _before(worked: Worked, asked: Piles) -> PilesRead | None:
    """The piles as they were on the day since when these are counted, if they were shot then."""
    if asked.since is None:
        return None
    job = worked.job
    for number, other in enumerate(job.piles, start=1):
        days = days_of(job, other)
        if other.date < asked.date and days is not None and days[1] == asked.since:
            return read_piles(worked, number)
    return None


def soil_told(
    found: SoilFound, worked: Worked, given: SoilFactors, *, is_used: bool, is_topsoil: bool
) -> SoilMeasured:
    """The swell in the job's units; `given` is what the job goes by without it."""
    volume = worked.job.unit.volume

    def doubt(amount: Measured) -> float | None:
        together = doubt_from(amount, found.surveys).together
        return None if together is None else volume(together)

    return SoilMeasured(
        since=found.since,
        until=found.until,
        bank=BankVolume(volume(found.bank.amount)),
        bank_plus_minus_95=doubt(found.bank),
        loose=LooseVolume(volume(found.loose.amount)),
        loose_plus_minus_95=doubt(found.loose),
        hauled=LooseVolume(volume(found.hauled)),
        swell=found.swell.swell,
        plus_minus_95=found.swell.plus_minus_95,
        doubt=found.swell.doubt,
        table_swell=given.swell,
        published=found.swell.published,
        reason=found.swell.reason,
        is_used=is_used,
        is_topsoil=is_topsoil,
    )
