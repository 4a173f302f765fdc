"""How a job's level notes and phone positions are to be read: rules, what tapes are held from."""

import numpy as np

from terrain.base.errors import SpoilbankError
from terrain.base.units import LENGTH_UNITS
from terrain.job.figure import foundation_figure
from terrain.job.load import Job
from terrain.job.schema import Level, Phone
from terrain.surface.outline import ring_area
from terrain.survey.control import ControlAsked, Target
from terrain.survey.delimited import read_text
from terrain.survey.field_notes import LevelAsked
from terrain.survey.files import read_bytes
from terrain.survey.georef import AS_RECORDED, CloudAsRead
from terrain.survey.ground_filter import GroundFilter
from terrain.survey.layout import Asked
from terrain.survey.level_net import ROD_ACCURACY, USUAL_SIGHT, LevelRules
from terrain.survey.positions import Common, PhoneAsked
from terrain.survey.scan_place import Floating
from terrain.survey.tape import TapeFrom


def level_asked(job: Job) -> LevelAsked:
    """Rules and lines for level notes, lengths in the job's unit."""
    given, unit = job.existing.level or Level(), job.unit
    return LevelAsked(
        rules=LevelRules(
            unit=unit,
            rod_accuracy=given.rod_accuracy or ROD_ACCURACY[unit.name],
            closure=given.closure,
            sight=given.sight or USUAL_SIGHT[unit.name],
        ),
        tapes=_tapes(job, given),
    )


def _tapes(job: Job, given: Level) -> TapeFrom:
    """Lines and points of the job; walls run from corner i to the next, offsets outward.

    A corner is called by its two walls, `front/right`, in either order. A foundation that is
    itself fitted to shots, or can't be drawn, lends none: what is wrong with it is told elsewhere.
    """
    lines = {name: np.array(line) for name, line in given.lines.items()}
    points = dict(given.points)
    if job.foundation.stakes is not None:
        return TapeFrom(lines=lines, points=points)
    try:
        figure = foundation_figure(job)
    except SpoilbankError:
        return TapeFrom(lines=lines, points=points)
    corners = figure.frame.to_site(figure.corners)
    for k, name in enumerate(figure.walls):
        lines.setdefault(name, np.array([corners[k], corners[(k + 1) % len(corners)]]))
        spot = (float(corners[k][0]), float(corners[k][1]))
        for pair in ((figure.walls[k - 1], name), (name, figure.walls[k - 1])):
            points.setdefault("/".join(pair), spot)
    inward = ring_area(figure.corners) < 0
    left = frozenset(figure.walls) - frozenset(given.lines) if inward else frozenset()
    return TapeFrom(lines=lines, points=points, left=left)


def floating_asked(job: Job) -> Floating | None:
    """How the job's scans in a frame of their own are put on the site; None where none is.

    Raises:
        SurveyError: the file of stable shots can't be read.
    """
    given = job.existing.control
    if given is None:
        return None
    stable = None
    if given.refine is not None:
        name = given.refine.shots
        data = read_bytes(job.path(name), name)
        _, shots = read_text(name, data, Asked(unit=job.unit))
        stable = np.column_stack([shots.plan, shots.elevation])
    return Floating(
        control=ControlAsked(
            targets=tuple(
                Target(name=one.name, scan=one.scan, site=one.site) for one in given.targets
            ),
            scaled=given.scale,
            tolerance=given.tolerance,
        ),
        stable=stable,
        within=1.0 if given.refine is None else given.refine.within,
        files=tuple(given.files),
    )


def cloud_as_read(job: Job) -> CloudAsRead:
    """What the job says of units and records of its clouds."""
    given = job.existing.cloud
    return AS_RECORDED if given is None else CloudAsRead(**given.model_dump())


def ground_filter_asked(job: Job) -> GroundFilter | None:
    """How ground is told in scans that are not classed, in metres; None where the job is silent."""
    given, metres = job.existing.ground_filter, float(job.unit.metres)
    if given is None:
        return None
    usual = GroundFilter(way=given.way)
    return GroundFilter(
        way=given.way,
        cell=usual.cell if given.cell is None else given.cell * metres,
        threshold=usual.threshold if given.threshold is None else given.threshold * metres,
        widest=usual.widest if given.widest is None else given.widest * metres,
        stiffness=usual.stiffness if given.stiffness is None else given.stiffness,
        slope=usual.slope if given.slope is None else given.slope,
    )


def phone_asked(job: Job) -> PhoneAsked:
    """What the job says of phone positions."""
    given = job.existing.phone or Phone()
    geoid = job.path(given.geoid) if isinstance(given.geoid, str) else given.geoid
    return PhoneAsked(
        heights=given.heights,
        unit=LENGTH_UNITS[given.unit],
        geoid=geoid,
        common=tuple(Common(point=one.point, site=one.site) for one in given.common),
        scaled=given.scale,
        tolerance=given.tolerance,
    )
