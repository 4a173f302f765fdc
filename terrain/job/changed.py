"""A job worked out and then changed in a live process: only what the change touches is done anew.

Survey and triangles take most of the time of a job of many shots; a changed floor, side, overdig
or soil leaves both as they are.
"""

from dataclasses import replace

from terrain.job.cloud_bounds import cloud_bounds
from terrain.job.design import lay_out
from terrain.job.graded import Graded, grade_out
from terrain.job.ground import existing_ground
from terrain.job.load import Job
from terrain.job.volumes import Progress, dig_out, silent, work_out
from terrain.job.worked import Worked


def with_floor(job: Job, floor: float) -> Job:
    """The job with its main dig's floor at an elevation in its length unit.

    What else fixes the floor, as the top of the wall does, must agree with it when it is dug.
    """
    return replace(job, dig=job.dig.model_copy(update={"floor": floor}))


def redo(worked: Worked, job: Job, progress: Progress = silent) -> Worked:
    """A changed job worked out, the same as afresh; survey and ground are kept where they can be.

    The files of the survey are not looked at again while the job says to read them as before.

    Args:
        worked: the job as it was.
        job: the job as it is to be.
        progress: called with a few words as each stage begins.

    Raises:
        SpoilbankError: the job can't be computed as asked; the faults say where and why.
    """
    if not _read_alike(worked.job, job):
        return work_out(job, progress)
    survey, existing = worked.survey, worked.existing
    layout = lay_out(job, survey.shots)
    if layout.frame != worked.layout.frame:
        progress(f"making the ground from {len(survey.shots):,} shots")
        existing = existing_ground(job, survey, layout.frame)
    progress("digging")
    return dig_out(job, survey, layout, existing)


def regrade(graded: Graded, job: Job, progress: Progress = silent) -> Graded:
    """A changed job with its lot graded, the same as afresh; arguments and errors as for `redo`."""
    worked = redo(graded.worked, job, progress)
    kept = worked.existing is graded.worked.existing
    return grade_out(worked, progress, graded.dug.screen if kept else None)


def _read_alike(before: Job, after: Job) -> bool:
    """Whether two jobs read one survey and make one ground of it."""
    asked = [(job.site, job.existing, job.folder) for job in (before, after)]
    if asked[0] != asked[1]:
        return False
    if cloud_bounds(before) is None and cloud_bounds(after) is None:
        return True
    # a cloud is cropped to what is dug and graded
    needs = [(job.foundation, job.dig, job.house, job.lot) for job in (before, after)]
    return needs[0] == needs[1]
