"""A survey made after the ground's: its shots in the local frame, held to be of the same lot."""

from dataclasses import dataclass, replace

import numpy as np

from terrain.base.arrays import BoolArray, FloatArray
from terrain.base.errors import Fault, SpoilbankError, SurveyError
from terrain.base.frame import LocalFrame
from terrain.base.units import LengthUnit
from terrain.job.asdug_tables import AsDug, Surveyed
from terrain.job.field import cloud_as_read
from terrain.job.ground import ExistingGround
from terrain.job.load import Job
from terrain.ledger.doubt import SurveyErrors
from terrain.surface.locate import heights_at
from terrain.surface.tin import Line
from terrain.survey.ground_filter import GroundFilter
from terrain.survey.marks import judge_marks, read_marks
from terrain.survey.merge import SameSpot
from terrain.survey.read import FileFacts, ReadOptions, read_shots, usual_mark_tolerance
from terrain.survey.shots import Absorbed, Shots, lines

EVERY_POINT = GroundFilter(way="none")
"""Of a scan that is not classed: to a ground filter the sides of a hole stand on its floor."""

ON_LOT = 0.5
"""So large a share of a later survey's shots must lie on the ground surveyed before. Our choice."""

FEET_A_METRE = 1.0 / 0.3048


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Later:
    """The shots of one later survey, marks left out.

    Args:
        key: its place in the job, such as `piles[1]`.
        date: the day, as ISO 8601.
        shots: as read, on the site's grid.
        points: (n, 3) of them in the local frame.
        above: (n,) how far each is above the existing ground, NaN off it.
        lines: breaklines by the `line` column.
        errors: what the survey errs by; what the job leaves out is as in `[existing]`.
        files: what was read.
        notes: what there is to say.
    """

    key: str
    date: str
    shots: Shots
    points: FloatArray
    above: FloatArray
    lines: tuple[Line, ...]
    errors: SurveyErrors
    files: tuple[FileFacts, ...]
    notes: tuple[str, ...]

    def fault(self, shot: int, message: str) -> Fault:
        """A fault at the row of a shot."""
        file = self.shots.files[self.shots.file[shot]]
        return Fault(file=file, line=int(self.shots.row[shot]), message=message)


def read_later(
    job: Job, key: str, asked: Surveyed, existing: ExistingGround, frame: LocalFrame
) -> Later:
    """The shots of a later survey; of a hole also those that share a spot, as toe and top do.

    Raises:
        SurveyError: files that can't be read, too few shots, marks that read wrong, shots that are
            not of this lot.
    """
    columns = None
    if asked.columns is not None:
        columns = tuple(name.strip().casefold() for name in asked.columns)
    options = ReadOptions(
        unit=job.unit,
        folder=job.folder,
        columns=columns,
        crs=job.site.crs,
        cloud=cloud_as_read(job),
        cell=job.existing.thin,
        ground_filter=EVERY_POINT,
        same_spot=SameSpot(tolerance=0.0, choice="keep") if isinstance(asked, AsDug) else None,
    )
    try:
        survey = read_shots(asked.shots, options)
        told = _marks(job, survey.shots)
    except SpoilbankError as error:
        raise job.located(under_key(error, f"{key}.shots")) from error
    is_mark = _is_mark(survey.shots, tuple(job.existing.marks))
    points = np.column_stack([frame.to_local(survey.shots.plan), survey.shots.elevation])
    above = points[:, 2] - heights_at(existing.tin, points[:, :2])
    later = Later(
        key=key,
        date=asked.date,
        shots=survey.shots,
        points=points,
        above=above,
        lines=_lines(survey.shots),
        errors=errors_of(job, asked),
        files=survey.files,
        notes=(*survey.notes, *told, *_assumed(job, key, asked)),
    )
    _check_lot(job, later, existing, ~is_mark)
    return _without(later, is_mark)


def under_key(error: SpoilbankError, key: str) -> SpoilbankError:
    """The same error, what it says of no file or of the ground's own shots said of a key."""
    return SurveyError(
        *(
            replace(fault, key=key)
            if fault.key == "existing.shots" or (fault.file is None and fault.key is None)
            else fault
            for fault in error.faults
        )
    )


def errors_of(job: Job, asked: Surveyed) -> SurveyErrors:
    """What a later survey errs by: what its table says, the rest as the existing ground's."""

    def told(key: str) -> float | None:
        own: float | None = getattr(asked, key)
        return getattr(job.existing, key) if own is None else own

    return SurveyErrors(
        accuracy=told("accuracy"),
        horizontal_accuracy=told("horizontal_accuracy"),
        datum_accuracy=told("datum_accuracy"),
        correlated_accuracy=told("correlated_accuracy"),
        correlation_range=told("correlation_range"),
    )


def _assumed(job: Job, key: str, asked: Surveyed) -> tuple[str, ...]:
    if asked.accuracy is not None or job.existing.accuracy is None:
        return ()
    return (
        f"{key}.accuracy is not given: that of existing, {job.existing.accuracy:g}, was taken.",
    )


def _marks(job: Job, shots: Shots) -> tuple[str, ...]:
    """What the job's marks read in these shots, those that were shot again."""
    names = {n for n in job.existing.marks if _is_mark(shots, (n,)).any()}
    marks = {n: e for n, e in job.existing.marks.items() if n in names}
    tolerance = job.existing.mark_tolerance
    if tolerance is None:
        tolerance = usual_mark_tolerance(job.unit)
    return judge_marks(read_marks(shots, marks), tolerance, job.unit.name)


def _is_mark(shots: Shots, names: tuple[str, ...]) -> BoolArray:
    if shots.point is None:
        return np.zeros(len(shots), dtype=np.bool_)
    return np.isin(shots.point, [name.strip().encode("utf-8") for name in names])


def _lines(shots: Shots) -> tuple[Line, ...]:
    return tuple(
        Line(name=" ".join(p for p in (line.code, line.line) if p), shots=line.shots)
        for line in lines(shots).lines
    )


def _without(later: Later, dropped: BoolArray) -> Later:
    if not dropped.any():
        return later
    kept = np.flatnonzero(~dropped)
    number = np.full(len(dropped), -1, dtype=np.int32)
    number[kept] = np.arange(len(kept), dtype=np.int32)
    own = later.shots
    shots = replace(
        own, easting=own.easting[kept], northing=own.northing[kept], elevation=own.elevation[kept],
        file=own.file[kept], row=own.row[kept], code=own.code[kept], line=own.line[kept],
        point=None if own.point is None else own.point[kept], absorbed=Absorbed.nothing(),
    )  # fmt: skip
    kept_lines = [
        replace(line, shots=number[line.shots]) for line in later.lines
        if (number[line.shots] >= 0).all()
    ]  # fmt: skip
    return replace(
        later, shots=shots, points=later.points[kept], above=later.above[kept],
        lines=tuple(kept_lines),
    )  # fmt: skip


def _check_lot(job: Job, later: Later, existing: ExistingGround, counted: BoolArray) -> None:
    """Hold the shots to lie on the lot, at about its height.

    Raises:
        SurveyError: at the first shot that does not.
    """
    off = np.isnan(later.above) & counted
    total = int(counted.sum())
    if total == 0:
        message = "has no shots but marks"
        raise job.located(SurveyError(Fault(key=f"{later.key}.shots", message=message)))
    if off.sum() > (1.0 - ON_LOT) * total:
        first = int(np.argmax(off))
        hint = _other_unit(later.shots.plan[off], existing.shots.plan)
        raise SurveyError(
            later.fault(
                first,
                f"{int(off.sum())} of the {total} shots of {later.key} lie beside the ground "
                f"surveyed for this lot, this one the first: {hint}",
            )
        )
    middle = float(np.median(np.abs(later.above[counted & ~off])))
    if middle > _far_off(job.unit):
        first = int(np.flatnonzero(counted & ~off)[0])
        raise SurveyError(
            later.fault(
                first,
                f"half of the shots of {later.key} are {middle:.1f} {job.unit.name} and more off "
                "the existing ground in height: another height of the mark, or another unit. "
                "Bring both surveys to one datum",
            )
        )


def _far_off(unit: LengthUnit) -> float:
    """More than any basement is deep or pile high: 20 m. Our choice."""
    return 20.0 / float(unit.metres)


def _other_unit(plan: FloatArray, lot: FloatArray) -> str:
    """Why shots may lie elsewhere: the other unit of length if that brings them to the lot."""
    low, high = lot.min(axis=0), lot.max(axis=0)
    margin = high - low
    for factor, unit in ((FEET_A_METRE, "metres"), (1.0 / FEET_A_METRE, "feet")):
        middle = np.median(plan, axis=0) * factor
        if (middle > low - margin).all() and (middle < high + margin).all():
            return f"they look like {unit}. Give them in the job's unit"
    return "they are of another lot or on another grid"
