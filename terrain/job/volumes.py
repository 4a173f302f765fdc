"""The main question: how much earth comes out along each wall, and how many loads leave."""

import datetime
from collections.abc import Callable
from dataclasses import replace
from importlib.metadata import version
from pathlib import Path
from typing import TypeVar

from terrain.base.errors import EdgeError, SpoilbankError
from terrain.job.answer import Volumes
from terrain.job.assumed import assumed
from terrain.job.deepest import deepest_spot
from terrain.job.design import Layout, lay_out
from terrain.job.doubt import doubt_told
from terrain.job.facts import site_facts, wall_facts
from terrain.job.ground import (
    ExistingGround,
    existing_ground,
    input_files,
    is_cropped,
    read_survey,
)
from terrain.job.load import Job
from terrain.job.loose_range import loose_range
from terrain.job.lot import asks_grade
from terrain.job.notes import is_warning, spike_notes, survey_cautions
from terrain.job.plan import dig_corners, plan_of
from terrain.job.soil_used import soil_used, swell_words
from terrain.job.worked import Worked as Worked
from terrain.ledger.account import Account, account
from terrain.ledger.cautions import cautions
from terrain.ledger.entries import Caution, LooseVolume
from terrain.ledger.rows import Terms, ledger_of
from terrain.ledger.sanity import doubt_cautions, sanity_cautions
from terrain.ledger.soil import SoilFactors, soil_cautions, soil_factors
from terrain.pit.dig import Dig, dig_of
from terrain.pit.edge import require_surveyed
from terrain.surface.outline import ring_area
from terrain.survey.read import Survey

Progress = Callable[[str], None]
T = TypeVar("T")


def silent(stage: str) -> None:
    """Say nothing."""


def volumes(job: Job, progress: Progress = silent) -> Volumes:
    """Bank, loose and compacted volume by wall, pit, ramp and trench, with what to be careful of.

    Args:
        job: the job as its file tells it.
        progress: called with a few words as each stage begins.

    Raises:
        SpoilbankError: the job can't be computed as asked; the faults say where and why.

    >>> from terrain.job.load import load_job
    >>> answer = volumes(load_job("terrain/cli/demo_job/job.toml"))
    >>> answer.ledger.volume_unit, len(answer.ledger.walls) > 3
    ('yd3', True)
    """
    return told(work_out(job, progress))


def work_out(job: Job, progress: Progress = silent) -> Worked:
    """Read, dig and account for a job. Arguments and errors as for `volumes`."""
    soil_of(job)
    progress("reading the shots")
    survey = read_survey(job)
    try:
        return _from_survey(job, survey, progress)
    except EdgeError:
        if not is_cropped(survey):
            raise
    progress("reading the scan in full")
    return _from_survey(job, read_survey(job, crop=False), progress)


def _from_survey(job: Job, survey: Survey, progress: Progress) -> Worked:
    layout = lay_out(job, survey.shots)
    progress(f"making the ground from {len(survey.shots):,} shots")
    existing = existing_ground(job, survey, layout.frame)
    progress("digging")
    return dig_out(job, survey, layout, existing)


def soil_of(job: Job) -> SoilFactors:
    """The swell and shrink of a job's soil; errors as for `volumes`."""
    return _located(job, lambda: soil_factors(job.soil.material, job.soil.swell, job.soil.shrink))


def dig_out(job: Job, survey: Survey, layout: Layout, existing: ExistingGround) -> Worked:
    """Dig and account for a job whose ground is made; errors as for `volumes`.

    A job that says `soil.measured` goes by its own swell from here on.
    """
    soil = soil_of(job)
    dig, figures = _located(job, lambda: _dug(job, layout, existing))
    worked = Worked(
        job=job,
        soil=soil,
        survey=survey,
        layout=layout,
        existing=existing,
        dig=dig,
        figures=figures,
    )
    return replace(worked, soil=soil_used(worked)) if job.soil.measured else worked


def told(worked: Worked) -> Volumes:
    """The answer of a job that is worked out."""
    job, layout, figures = worked.job, worked.layout, worked.figures
    plan = plan_of(layout, worked.existing, worked.dig, figures.whole)
    spikes = spike_notes(worked.existing, job.unit.name)
    corners = dig_corners(layout, worked.dig)
    walls, area = wall_facts(layout, worked.dig, figures), ring_area(layout.design.corners)
    found = (
        *survey_cautions(worked.existing.notes),
        *sanity_cautions(walls, layout.design.floor, area, job.unit),
        *cautions(site_facts(job, layout, figures, plan, worked.existing), walls),
        *soil_cautions(worked.soil),
        *doubt_cautions(figures.total, _together(figures), job.unit),
    )
    terms = _terms(job, worked.soil)
    ledger = ledger_of(figures, layout.design, terms, _in_job_order(found, layout))
    return Volumes(
        ledger=ledger,
        soil=worked.soil,
        plan=plan,
        inputs=input_files(job, worked.survey),
        notes=(*worked.existing.notes, *spikes),
        truck=job.haul.truck,
        assumed=(*assumed(job, layout, worked.survey.shots.accuracy), *swell_words(worked)),
        dig_corners=corners,
        crs=job.site.crs,
        job_file=Path(job.file).name,
        version=version("spoilbank"),
        date=datetime.date.today().isoformat(),
        doubt=doubt_told(worked),
        deepest_at=deepest_spot(worked, corners),
        loose_range=loose_range(ledger.total, worked.soil, terms.truck),
        warnings=(*filter(is_warning, worked.existing.notes), *spikes),
        has_finished_lot=asks_grade(job),
    )


def _together(figures: Account) -> float | None:
    return None if figures.doubts is None else figures.doubts.total.together


def _dug(job: Job, layout: Layout, existing: ExistingGround) -> tuple[Dig, Account]:
    dig = dig_of(layout.design, existing.tin.points)
    require_surveyed(layout.design, dig, existing.tin, layout.frame, job.unit)
    rows = len(layout.design.walls) + len(layout.design.extras)
    return dig, account(existing.ground, dig, rows, job.dig.topsoil_strip)


def _located(job: Job, make: Callable[[], T]) -> T:
    try:
        return make()
    except SpoilbankError as error:
        raise job.located(error) from error


def _terms(job: Job, soil: SoilFactors) -> Terms:
    truck = job.haul.truck
    return Terms(
        title=job.title,
        unit=job.unit,
        soil=soil,
        truck=None if truck is None else LooseVolume(truck),
    )


def _in_job_order(found: tuple[Caution, ...], layout: Layout) -> tuple[Caution, ...]:
    """Cautions on the whole dig first, then wall by wall as the job names them."""
    order = {name: i for i, name in enumerate(layout.figure.walls)}
    return tuple(sorted(found, key=lambda c: -1 if c.wall is None else order[c.wall]))
