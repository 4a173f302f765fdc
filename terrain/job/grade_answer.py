"""What the question `grade` answers, ready for report and export to show."""

from dataclasses import dataclass

from terrain.job.balance import Balance
from terrain.job.drainage import Drainage
from terrain.ledger.entries import Caution
from terrain.ledger.lot_doubt import LotDoubts
from terrain.ledger.lot_rows import LotRow, LotTotal

Spot = tuple[float, float]
"""Easting and northing on the site."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Untied:
    """A vertical face left where grading can't tie in.

    `height` is signed along the lot line and round areas kept: finished less existing ground.
    """

    where: str
    start: Spot
    end: Spot
    height: float


@dataclass(frozen=True, slots=True, kw_only=True)
class StructureVolumes:
    """What the foundation puts into the ground, in the job's volume unit.

    `stone` is outside the walls and all sides', `slab_base` the stone under the slab.
    """

    footing: float
    wall: float
    stone: float
    slab_base: float


@dataclass(frozen=True, slots=True, kw_only=True)
class GradeAnswer:
    """The whole answer: each side, the lot, where it balances, what is left untied, drainage.

    `assumed` are those of the `notes` that say what was taken where the job is silent. `doubts` are
    in the volume unit, sides as `walls`; None where nothing is said of how the survey errs.
    `currency` is that of the job's billing, None without.
    """

    title: str
    length_unit: str
    volume_unit: str
    walls: tuple[LotRow, ...]
    lot: LotTotal
    structure: StructureVolumes
    balance: Balance
    untied: tuple[Untied, ...]
    drainage: Drainage
    cautions: tuple[Caution, ...]
    notes: tuple[str, ...]
    assumed: tuple[str, ...]
    doubts: LotDoubts | None = None
    currency: str | None = None
