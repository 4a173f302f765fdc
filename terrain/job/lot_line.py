"""The lot line of a job, from its corners or from a file."""

from dataclasses import replace

import numpy as np

from terrain.base.arrays import FloatArray
from terrain.base.errors import SurveyError
from terrain.job.figure import coordinates_of
from terrain.job.load import Job
from terrain.survey.georef import Site
from terrain.survey.outline import OutlineAsked, read_outline


def lot_line(job: Job) -> FloatArray | None:
    """The corners (n, 2) of the lot line on the site's grid, None if the job gives none.

    Raises:
        SurveyError: at `lot.boundary`, where its file holds no closed outline.
    """
    if job.lot is None or job.lot.boundary is None:
        return None
    boundary = job.lot.boundary
    if not isinstance(boundary, str):
        return np.array(boundary)
    asked = OutlineAsked(
        site=Site(unit=job.unit, crs=job.site.crs), coordinates=coordinates_of(job, None)
    )
    try:
        return read_outline(job.path(boundary), boundary, asked).plan
    except SurveyError as error:
        faults = (replace(fault, key="lot.boundary") for fault in error.faults)
        raise SurveyError(*faults) from error
