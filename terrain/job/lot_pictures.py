"""What the page of a finished lot is drawn from, apart from its answer."""

from dataclasses import dataclass

from terrain.job.graded import Graded
from terrain.job.lot_layers import LotLayers
from terrain.job.lot_plan import LotPlan, lot_plan_of
from terrain.job.lot_sections import LotSection, lot_sections_of
from terrain.job.made import MadeFrom, made_from
from terrain.ledger.lot_rows import LotTerms


@dataclass(frozen=True, slots=True, kw_only=True)
class LotPictures:
    """Plan and sections of a finished lot, its terms, and what it was made from.

    `settlement` is the share of its depth by which backfill is taken to settle.
    """

    plan: LotPlan
    sections: tuple[LotSection, ...]
    terms: LotTerms
    settlement: float
    made: MadeFrom


def lot_pictures_of(graded: Graded, layers: LotLayers) -> LotPictures:
    """The pictures of a lot that is graded, in its length unit; `layers` is what else is drawn."""
    lot = graded.worked.job.lot
    return LotPictures(
        plan=lot_plan_of(graded, layers),
        sections=lot_sections_of(graded, layers.faces.whole),
        terms=graded.asked.terms,
        settlement=0.0 if lot is None else lot.settlement,
        made=made_from(graded.worked),
    )
