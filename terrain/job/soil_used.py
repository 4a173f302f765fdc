"""The soil that a job goes by: its own swell, once piles show it more surely than the tables."""

from collections.abc import Callable
from dataclasses import replace
from functools import partial

from terrain.asdug.soil import with_measured
from terrain.base.errors import Fault, JobError
from terrain.job.piles import read_piles
from terrain.job.piles_soil import HoleBetween, days_of, soil_found
from terrain.job.progress import hole_between
from terrain.job.progress_days import days_dug
from terrain.job.worked import Worked
from terrain.ledger.soil import SoilFactors


def hole_of(worked: Worked) -> HoleBetween:
    """What tells the hole that was dug between two days of a job."""
    return partial(hole_between, worked, days_dug(worked))


def soil_used(worked: Worked, hole_of: Callable[[Worked], HoleBetween] = hole_of) -> SoilFactors:
    """The soil factors of a job that says `soil.measured`: by its last piles, or as they were.

    They stay as they were where the measured swell is no surer than the tables; the source says so.

    Args:
        worked: the job, with the factors of its file or the tables.
        hole_of: what tells the hole that was dug between two days of the job.

    Raises:
        JobError: at `soil.measured`, where no piles or no as-dug survey tell anything.
        SurveyError: as `read_piles` and `soil_found`.
    """
    job = worked.job
    numbers = [
        number
        for number, survey in enumerate(job.piles, start=1)
        if days_of(job, survey) is not None
    ]
    if not numbers:
        lacking = "[[piles]] survey" if not job.piles else "[[asdug]] survey up to the piles' day"
        message = f"there is no {lacking} to measure the swell from: shoot it, or take this key out"
        raise job.located(JobError(Fault(key="soil.measured", message=message)))
    found = soil_found(worked, read_piles(worked, numbers[-1]), hole_of(worked))
    assert found is not None
    given = worked.soil
    since = "the beginning" if found.since is None else found.since
    when = f"from what was dug from {since} to {found.until}"
    if found.swell.reason is not None:
        told = f"the {found.swell.swell:.3f} measured on this lot {when} is not used"
        return replace(given, source=f"{given.source}; {told}: {found.swell.reason}")
    return with_measured(given, found.swell, when)


def swell_words(worked: Worked) -> tuple[tuple[str, str], ...]:
    """What to say of the swell beside other assumptions, where the job asks for its own."""
    soil = worked.soil
    if not worked.job.soil.measured:
        return ()
    doubt = soil.swell_plus_minus_95
    told = f"{soil.swell:.3f}" + ("" if doubt is None else f" ± {doubt:.3f}")
    return (("Swell", f"{told}: {soil.source}"),)
