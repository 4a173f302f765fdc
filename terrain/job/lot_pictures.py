"""What page and files of a finished lot are drawn from, apart from its answer."""

from dataclasses import dataclass

from terrain.base.frame import LocalFrame
from terrain.base.units import LengthUnit
from terrain.job.graded import Graded
from terrain.job.lot_plan import LotPlan, lot_plan_of
from terrain.job.lot_sections import LotSection, lot_sections_of
from terrain.job.made import MadeFrom, made_from
from terrain.ledger.lot_rows import LotTerms
from terrain.lot.ground import finished_ground
from terrain.surface.facets import Facets, facets


@dataclass(frozen=True, slots=True, kw_only=True)
class LotPictures:
    """Plan, sections and triangles of a finished lot, its terms, and what it was made from.

    `finished` is the ground of the lot outside the house, in the local frame; `settlement` the
    share of its depth by which backfill is taken to settle.
    """

    title: str
    unit: LengthUnit
    plan: LotPlan
    sections: tuple[LotSection, ...]
    finished: Facets
    terms: LotTerms
    settlement: float
    made: MadeFrom

    @property
    def frame(self) -> LocalFrame:
        """The local frame that all of it is drawn in."""
        return self.plan.frame

    @property
    def crs(self) -> str | None:
        """As the job gives it, None for a local grid."""
        return self.made.crs

    @property
    def date(self) -> str:
        """Of the answer, year-month-day."""
        return self.made.date


def lot_pictures_of(graded: Graded) -> LotPictures:
    """The pictures of a lot that is graded, in its length unit."""
    worked = graded.worked
    finished = finished_ground(worked.existing.ground.surface, graded.lot)
    surface = finished.whole
    triangles = facets(surface)
    lot = worked.job.lot
    return LotPictures(
        title=worked.job.title,
        unit=worked.job.unit,
        plan=lot_plan_of(graded, finished, triangles),
        sections=lot_sections_of(graded, surface),
        finished=triangles,
        terms=graded.asked.terms,
        settlement=0.0 if lot is None else lot.settlement,
        made=made_from(worked),
    )
