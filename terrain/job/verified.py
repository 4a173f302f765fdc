"""All that `verify` answers: the hole against its design, and what the other later surveys tell."""

from dataclasses import dataclass, replace

from terrain.base.errors import Fault, JobError
from terrain.job.answer import InputFile
from terrain.job.asdug import surveyed_hole
from terrain.job.ground import input_of
from terrain.job.later_told import LaterTold, later_told
from terrain.job.load import Job
from terrain.job.made import MadeFrom, made_from
from terrain.job.verify import checked, survey_number
from terrain.job.verify_record import Verified
from terrain.job.verify_undug import undug
from terrain.job.volumes import Progress, work_out
from terrain.job.worked import Worked


@dataclass(frozen=True, slots=True, kw_only=True)
class AllVerified:
    """`hole` is None for a job without an as-dug survey; `inputs` are all later surveys' files."""

    worked: Worked
    made: MadeFrom
    inputs: tuple[InputFile, ...]
    hole: Verified | None
    later: LaterTold


def all_verified(job: Job, progress: Progress, date: str | None = None) -> AllVerified:
    """The hole on the last day surveyed or the one named, and all other later surveys.

    Raises:
        SpoilbankError: the job has no later survey, or one can't be used.
    """
    if not (job.asdug or job.asgraded or job.piles):
        message = (
            "the job has no later survey to check: give [[asdug]], [[piles]] or [[asgraded]] with "
            "its date and shots"
        )
        raise JobError(Fault(file=job.file, key="asdug", message=message))
    number = survey_number(job, date) if job.asdug or date is not None else None
    worked = work_out(job, progress)
    holes = [surveyed_hole(worked, k) for k in range(len(job.asdug))]
    progress("checking the hole")
    hole = None if number is None else checked(worked, holes[number])
    later = later_told(worked, holes, progress)
    if hole is not None:
        days = {day.date: day for day in later.progress}
        more = undug(hole, days.get(hole.date), job.unit.volume_sign)
        hole = replace(hole, todo=(*hole.todo, *more))
    files = [
        *(day.later.files for day in holes),
        *(survey.files for survey in later.piles),
        *(survey.files for survey in later.asgraded),
    ]
    return AllVerified(
        worked=worked,
        made=made_from(worked),
        inputs=tuple(input_of(fact) for every in files for fact in every),
        hole=hole,
        later=later,
    )
