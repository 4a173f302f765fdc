"""The start of a dig plan from a day's as-dug survey, and from the piles up to that day."""

import numpy as np
import shapely

from terrain.base.errors import SpoilbankError
from terrain.job.asdug import surveyed_hole
from terrain.job.dig_plan_start import Start, from_design, from_survey
from terrain.job.later import under_key
from terrain.job.piles import read_piles
from terrain.job.piles_told import stock_by_side
from terrain.job.verify import survey_number
from terrain.job.volumes import Worked
from terrain.surface.minimum import lowest_of
from terrain.surface.patches import Surface, picked
from terrain.surface.tin import build_tin, tin_surface


def start_of(worked: Worked, day: str | None) -> Start:
    """The start of a plan on a day of `[[asdug]]`; without a day the design in whole ground.

    Raises:
        JobError: there is no survey of that day.
        SurveyError: its shots, or those of the piles, can't be read or are not of this lot.
    """
    if day is None:
        return from_design(worked)
    number = survey_number(worked.job, day)
    return from_survey(worked, day, _ground_on(worked, number), _stock(worked, day))


def _ground_on(worked: Worked, number: int) -> Surface:
    """The ground of a day: the hole as surveyed, where its toe makes a ring round the floor.

    A hole that is only begun makes none: then it is the surface of all shots, or the ground before
    where that is lower, since spoil on the ground is no part of the dig.
    """
    day = surveyed_hole(worked, number)
    if day.hole.sheet is not None:
        return day.hole.sheet.ground.surface
    key, later = f"asdug[{number + 1}]", day.later
    try:
        tin = build_tin(later.points, list(later.lines), frame=worked.layout.frame)
    except SpoilbankError as error:
        raise worked.job.located(under_key(error, f"{key}.shots")) from error
    whole = worked.figures.whole
    near = picked(worked.existing.ground.surface, np.unique(whole.a[whole.area_above > 0]))
    dug = tin_surface(tin)
    return lowest_of(near, dug, _plan_of(near), _plan_of(dug)).lowest


def _plan_of(surface: Surface) -> shapely.Geometry:
    polygons = [shapely.Polygon(surface.corners(face)) for face in range(len(surface))]
    return shapely.union_all(polygons, grid_size=1e-9)


def _stock(worked: Worked, day: str) -> dict[str, float]:
    """What lies in piles beside each wall up to a day, loose in cubic length units, no topsoil."""
    until = [n for n, survey in enumerate(worked.job.piles, start=1) if survey.date <= day]
    if not until:
        return {}
    stock = stock_by_side(worked, read_piles(worked, until[-1]))
    cubic = worked.job.unit.cubic_units_per_volume_unit
    return {name: max(loose, 0.0) * cubic for name, loose in stock.items()}
