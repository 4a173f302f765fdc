"""The ground before the dig: from a job's survey files to a TIN in the local frame."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from terrain.base.arrays import FloatArray, IntArray
from terrain.base.errors import Fault, SpoilbankError, SurveyError
from terrain.base.frame import LocalFrame
from terrain.job.answer import InputFile
from terrain.job.cloud_bounds import cloud_bounds
from terrain.job.field import (
    cloud_as_read,
    floating_asked,
    ground_filter_asked,
    level_asked,
    phone_asked,
)
from terrain.job.figure import coordinates_of
from terrain.job.load import Job
from terrain.job.ready import tin_of
from terrain.job.schema import Coordinates, Existing
from terrain.ledger.account import Ground
from terrain.ledger.doubt import SurveyErrors
from terrain.surface.ready import without_jumps
from terrain.surface.spikes import Spike, SpikeLimits, find_spikes
from terrain.surface.tin import Line, LineKind, PlanLine, Tin, TinOptions, build_tin, tin_surface
from terrain.survey.cloud_facts import BoundsAt
from terrain.survey.files import sha256_of_file
from terrain.survey.georef import Site
from terrain.survey.merge import SameSpot
from terrain.survey.meshes import MeshAsRead
from terrain.survey.outline import OutlineAsked, read_lines
from terrain.survey.read import FileFacts, ReadOptions, Survey, read_shots, usual_same_spot
from terrain.survey.shots import Breakline, Breaklines, Shots, lines

MOST_CROPS = 2
"""Crops that are tried before a cloud is read in full."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ExistingGround:
    """The existing ground, in the local frame.

    `ground` is what the ledger takes: one face a triangle of `tin`. `notes` tell what was merged,
    left out, assumed or settled, of the survey too.
    """

    tin: Tin
    ground: Ground
    shots: Shots
    lines: tuple[Line, ...]
    draped: tuple[PlanLine, ...]
    spikes: tuple[Spike, ...]
    notes: tuple[str, ...]

    def breaklines(self, frame: LocalFrame) -> tuple[FloatArray, ...]:
        """Every breakline as a polyline (m, 2) of the plan, holes and boundary included."""
        drawn = tuple(line.plan for line in self.draped)
        if not self.lines:
            return drawn
        plan = self.shots.plan
        return (*(frame.to_local(plan[line.shots]) for line in self.lines), *drawn)


def read_survey(job: Job, crop: bool = True) -> Survey:
    """The shots of a job's files; clouds are cropped to what the job needs, unless told not to.

    Ground that is higher than was reckoned with is read again in a larger crop, at last in full.

    Raises:
        SurveyError: every fault of every file, or of what they make together.
    """
    needed = cloud_bounds(job) if crop else None
    if needed is None:
        return _read_within(job, None)
    top = needed.usual_top
    for _ in range(MOST_CROPS):
        survey = _read_within(job, needed.up_to(top))
        higher = needed.higher_top(survey.files, top)
        if higher is None:
            return survey
        top = higher
    return _read_within(job, None)


def is_cropped(survey: Survey) -> bool:
    """Whether points of a cloud were left out as farther away than the job needs."""
    return any(file.cloud is not None and file.cloud.outside > 0 for file in survey.files)


def _read_within(job: Job, bounds: BoundsAt | None) -> Survey:
    existing = job.existing
    usual = usual_same_spot(job.unit)
    tolerance = existing.same_spot_tolerance
    options = ReadOptions(
        unit=job.unit,
        folder=job.folder,
        columns=_columns(job),
        same_spot=SameSpot(
            tolerance=usual.tolerance if tolerance is None else tolerance,
            choice=existing.same_spot,
        ),
        marks=existing.marks,
        mark_tolerance=existing.mark_tolerance,
        cloud=cloud_as_read(job),
        crs=job.site.crs,
        bounds=bounds,
        cell=existing.thin,
        ground_filter=ground_filter_asked(job),
        surface=existing.surface,
        mesh=None if existing.mesh is None else MeshAsRead(**existing.mesh.model_dump()),
        notes=tuple(existing.notes),
        level=level_asked(job) if existing.notes else None,
        positions=tuple(existing.positions),
        phone=phone_asked(job),
    )
    try:
        options = replace(options, floating=floating_asked(job))
        return read_shots(existing.shots, options)
    except SpoilbankError as error:
        raise job.located(error) from error


def _columns(job: Job) -> tuple[str, ...] | None:
    if job.existing.columns is None:
        return None
    return tuple(name.strip().casefold() for name in job.existing.columns)


def existing_ground(job: Job, survey: Survey, frame: LocalFrame) -> ExistingGround:
    """The ground through a job's shots, broken along its lines and cut back as it asks.

    Ground that a file brings ready made is taken as it is, of sheets above one another the lowest.

    Raises:
        SurveyError: a code that no shot has, a file of lines that can't be read, or triangles that
            are no ground.
        SurfaceError: the shots make no surface, or lines contradict one another.
    """
    shots = survey.shots
    try:
        if survey.triangles is not None:
            tin = tin_of(survey.triangles, frame, job.unit)
            return _ground(job, survey, tin, Drawn())
        broken, notes = _lines_of_shots(job, shots)
        draped, draped_notes = _draped_lines(job, frame)
        tin = build_tin(
            np.column_stack([frame.to_local(shots.plan), shots.elevation]),
            broken,
            draped,
            TinOptions(max_edge=job.existing.max_edge),
            frame,
        )
    except SpoilbankError as error:
        raise job.located(error) from error
    said = (*notes, *draped_notes)
    return _ground(job, survey, tin, Drawn(lines=broken, draped=draped, notes=said))


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """The lines that the ground is broken along, and what there is to say of them."""

    lines: tuple[Line, ...] = ()
    draped: tuple[PlanLine, ...] = ()
    notes: tuple[str, ...] = ()


def _ground(job: Job, survey: Survey, tin: Tin, drawn: Drawn) -> ExistingGround:
    smooth = replace(tin, neighbours=without_jumps(tin)) if survey.triangles else tin
    return ExistingGround(
        tin=tin,
        ground=Ground(
            surface=tin_surface(tin),
            points=tin.points,
            triangles=tin.triangles,
            errors=replace(
                survey_errors(job.existing),
                each=_accuracies(survey.shots, job.existing.accuracy, tin.shot),
            ),
            on_line=np.unique(tin.fixed),
        ),
        shots=survey.shots,
        lines=drawn.lines,
        draped=drawn.draped,
        spikes=find_spikes(smooth, SpikeLimits(least=0.3 if job.unit.is_metric else 1.0)),
        notes=(*survey.notes, *drawn.notes, *(note.message for note in tin.notes)),
    )


def _accuracies(shots: Shots, usual: float | None, shot: IntArray) -> FloatArray | None:
    """The accuracy of every point of the ground, where files say it shot by shot.

    Shots that no file says it of have the job's, or count as exact: the doubt is then the least it
    can be. So do points that are no shots (-1 in `shot`), which lie on lines between them.
    """
    if shots.accuracy is None or not np.isfinite(shots.accuracy).any():
        return None
    said = np.where(np.isfinite(shots.accuracy), shots.accuracy, usual or 0.0)
    every: FloatArray = np.where(shot >= 0, said[shot], usual or 0.0)
    return every


def survey_errors(existing: Existing) -> SurveyErrors:
    """What a job says that its survey errs by."""
    return SurveyErrors(
        accuracy=existing.accuracy,
        horizontal_accuracy=existing.horizontal_accuracy,
        datum_accuracy=existing.datum_accuracy,
        correlated_accuracy=existing.correlated_accuracy,
        correlation_range=existing.correlation_range,
    )


def _lines_of_shots(job: Job, shots: Shots) -> tuple[tuple[Line, ...], list[str]]:
    """Breaklines by code and by the `line` column, then the boundary and holes."""
    existing = job.existing
    found: list[Line] = []
    notes: list[str] = []
    boundary = [existing.boundary_code] if existing.boundary_code else []
    asked = [
        ("existing.breaklines", existing.breaklines, LineKind.BREAKLINE),
        ("existing.boundary_code", boundary, LineKind.BOUNDARY),
        ("existing.hole_codes", existing.hole_codes, LineKind.HOLE),
    ]
    for key, codes, kind in asked:
        if codes:
            coded = _coded_lines(shots, codes, key)
            notes += coded.notes
            found += (_line(b, shots, kind) for b in coded.lines)
    taken = {c.strip().casefold() for _, codes, _ in asked for c in codes}
    joined = lines(shots)
    notes += joined.notes
    found += (
        _line(b, shots, LineKind.BREAKLINE) for b in joined.lines if b.code.casefold() not in taken
    )
    return tuple(found), list(dict.fromkeys(notes))


def _coded_lines(shots: Shots, codes: Sequence[str], key: str) -> Breaklines:
    try:
        return lines(shots, codes)
    except SurveyError as error:
        raise SurveyError(*(replace(fault, key=key) for fault in error.faults)) from error


def _line(line: Breakline, shots: Shots, kind: LineKind) -> Line:
    """The line for the builder, named so that its shots can be found in their file."""
    along = line.shots
    if kind is not LineKind.BREAKLINE and len(along) > 1 and along[0] == along[-1]:
        along = along[:-1]
    rows = shots.row[along]
    where = f"{line.file}:{rows.min()}-{rows.max()}"
    name = " ".join(part for part in (line.code, line.line) if part)
    return Line(name=f"{name} ({where})", shots=along, kind=kind)


def _draped_lines(job: Job, frame: LocalFrame) -> tuple[tuple[PlanLine, ...], list[str]]:
    asked = _lines_asked(job, job.existing.coordinates)
    found: list[PlanLine] = []
    notes: list[str] = []
    faults: list[Fault] = []
    for file in job.existing.lines:
        try:
            drawn = read_lines(job.path(file), file, asked)
        except SurveyError as error:
            faults += error.faults
            continue
        if any(line.elevation is not None for line in drawn):
            notes.append(
                f"{file}: its lines are laid on the ground; their elevations are not used."
            )
        for line in drawn:
            plan = np.concatenate([line.plan, line.plan[:1]]) if line.closed else line.plan
            found.append(PlanLine(name=line.name or line.place, plan=frame.to_local(plan)))
    if faults:
        raise SurveyError(*faults)
    return tuple(found), notes


def _lines_asked(job: Job, given: Coordinates | None) -> OutlineAsked:
    return OutlineAsked(
        site=Site(unit=job.unit, crs=job.site.crs),
        coordinates=coordinates_of(job, given),
    )


def input_of(fact: FileFacts) -> InputFile:
    """A survey file as an answer tells of it."""
    return InputFile(
        name=fact.name, kind=fact.kind, sha256=fact.sha256, shots=fact.shots,
        low=fact.low, high=fact.high, cloud=fact.cloud,
    )  # fmt: skip


def input_files(job: Job, survey: Survey) -> tuple[InputFile, ...]:
    """Every file a job was made from: its name, checksum and extent (NaN for no elevations)."""
    files = [input_of(fact) for fact in survey.files]
    drawn = [(name, "lines", job.existing.coordinates) for name in job.existing.lines]
    if job.foundation.outline is not None:
        drawn.append((job.foundation.outline, "outline", job.foundation.coordinates))
    if job.lot is not None and isinstance(job.lot.boundary, str):
        drawn.append((job.lot.boundary, "lot line", None))
    for name, kind, given in drawn:
        lines_read = read_lines(job.path(name), name, _lines_asked(job, given))
        plan = np.concatenate([line.plan for line in lines_read])
        low, high = plan.min(axis=0), plan.max(axis=0)
        files.append(
            InputFile(
                name=name, kind=kind, sha256=sha256_of_file(job.path(name)), shots=len(plan),
                low=(float(low[0]), float(low[1]), math.nan),
                high=(float(high[0]), float(high[1]), math.nan),
            )
        )  # fmt: skip
    return tuple(files)
