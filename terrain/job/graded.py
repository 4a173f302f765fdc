"""The finished lot of a job worked out: everything that its answer and its pictures need."""

from dataclasses import dataclass

from terrain.base.errors import SpoilbankError
from terrain.base.units import LengthUnit
from terrain.job.lot import LotAsked, lot_of
from terrain.job.volumes import Progress, Worked
from terrain.ledger.lot_account import LotAccount, account_of, check_closed
from terrain.ledger.lot_dug import Dug, dug_of
from terrain.lot.edge import require_lot_surveyed
from terrain.lot.finish import Finished, finished
from terrain.lot.jumps import Jump, jumps_of
from terrain.surface.screen import Screen, screen_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Graded:
    """A lot graded round a dig that is worked out, in the local frame of `worked.layout`.

    Args:
        worked: the job, its survey, its layout, existing ground and dig.
        asked: the finished lot as asked for, structure, sides and terms.
        lot: finished ground, as the existing held between two limits.
        dug: what the dig alone fixes of the account.
        account: earth by side of the house.
        untied: the vertical faces that are left.
    """

    worked: Worked
    asked: LotAsked
    lot: Finished
    dug: Dug
    account: LotAccount
    untied: tuple[Jump, ...]


def least_step(unit: LengthUnit) -> float:
    """The lowest vertical face that is told: 0.01 ft, or 3 mm."""
    return 0.003 if unit.is_metric else 0.01


def grade_out(worked: Worked, progress: Progress, screen: Screen | None = None) -> Graded:
    """Finish the lot of a job that is worked out, and account for it.

    Args:
        worked: the job worked out.
        progress: called with a few words as each stage begins.
        screen: the same ground screened before, if it has been.

    Raises:
        DesignError: the lot is incomplete or impossible.
        EdgeError: the survey ends before the finished ground ties in.
    """
    progress("finishing the lot")
    job, layout, existing = worked.job, worked.layout, worked.existing
    asked = lot_of(job, layout, worked.soil)
    ground = existing.ground.surface
    try:
        lot = finished(asked.design, existing.tin.points, layout.frame, job.unit)
        require_lot_surveyed(lot, existing.tin, layout.frame, job.unit)
        progress("accounting for each side")
        screen = screen or screen_of(ground)
        dug = dug_of(screen, worked.dig, lot, asked.structure, asked.sides)
        account = account_of(dug, lot)
        check_closed(dug, lot, account)
    except SpoilbankError as error:
        raise job.located(error) from error
    return Graded(
        worked=worked,
        asked=asked,
        lot=lot,
        dug=dug,
        account=account,
        untied=jumps_of(ground, lot, least_step(job.unit)),
    )
