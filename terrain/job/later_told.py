"""What the later surveys of a job tell: progress, piles, the swell of its soil, the graded lot."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

from terrain.job.asdug import DayHole
from terrain.job.asgraded import graded_surveys
from terrain.job.asgraded_record import GradedSurvey
from terrain.job.graded import grade_out
from terrain.job.lot import asks_grade
from terrain.job.piles_record import PilesSurvey, SoilMeasured
from terrain.job.piles_told import StockAsked, piles_surveys
from terrain.job.progress import hole_between, left_by_wall, left_of_extras, progress_surveys
from terrain.job.progress_days import days_from
from terrain.job.progress_record import ProgressSurvey
from terrain.job.volumes import Progress, soil_of
from terrain.job.worked import Worked
from terrain.ledger.entries import Caution
from terrain.ledger.lot_rows import LotRow, lot_rows


@dataclass(frozen=True, slots=True, kw_only=True)
class LaterTold:
    """All of them, each oldest first; `soil` is the swell that the last piles show."""

    progress: tuple[ProgressSurvey, ...]
    piles: tuple[PilesSurvey, ...]
    soil: SoilMeasured | None
    asgraded: tuple[GradedSurvey, ...]
    notes: tuple[str, ...]

    @property
    def cautions(self) -> tuple[Caution, ...]:
        """What to be careful of in them."""
        return tuple(caution for survey in self.piles for caution in survey.cautions)


def later_told(worked: Worked, holes: Sequence[DayHole], progress: Progress) -> LaterTold:
    """What the surveys of a job after its ground's tell.

    Args:
        worked: the job.
        holes: of its `[[asdug]]` surveys, in order.
        progress: called with a few words as each stage begins.

    Raises:
        SpoilbankError: a survey can't be read or used, or the lot can't be graded.
    """
    job = worked.job
    progress("following the dig from day to day")
    days = days_from(worked, holes)
    dug = progress_surveys(worked, days)
    rows: tuple[LotRow, ...] | None = None
    graded = None
    if job.asgraded or (job.piles and asks_grade(job)):
        graded = grade_out(worked, progress)
        rows, _ = lot_rows(graded.account, graded.asked.sides.names, graded.asked.terms)
    progress("measuring piles")
    whole = frozenset(survey.date for survey in dug)
    asked = StockAsked(
        hole=partial(hole_between, worked, days),
        rows=rows,
        left=lambda on: left_by_wall(dug, on) if on in whole else None,
        given=soil_of(job),
        whole=whole,
        left_of_extras=lambda on: left_of_extras(dug, on) if on in whole else None,
    )
    piles = piles_surveys(worked, asked)
    soils = [survey.soil for survey in piles if survey.soil is not None]
    progress("checking the graded lot")
    return LaterTold(
        progress=dug,
        piles=piles,
        soil=soils[-1] if soils else None,
        asgraded=() if graded is None else graded_surveys(graded),
        notes=tuple(
            f"No progress on {day}: {why}. Shoot the toe round the hole, its corners too."
            for day, why in days.why_not.items()
        ),
    )
