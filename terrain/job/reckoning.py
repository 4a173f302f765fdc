"""What stands beside a statement: why it differs from the bid, and the truck tickets against it."""

from dataclasses import dataclass

from terrain.billing.haulage import Reconciled, reconciled
from terrain.billing.record import Statement
from terrain.job.billing_tables import Billing, Item
from terrain.job.load import Job, load_job
from terrain.job.quantities import Quantities
from terrain.job.reasons import BilledBy, Reasons, reasons_of
from terrain.job.reasons_dug import PaidBy
from terrain.job.statement import billing_of
from terrain.job.volumes import Progress, work_out


@dataclass(frozen=True, slots=True, kw_only=True)
class Reckoning:
    """Both in the job's volume unit, each None where the job gives nothing to tell it by."""

    unit: str
    reasons: Reasons | None
    tickets: Reconciled | None


def reckoning_of(job: Job, statement: Statement, progress: Progress) -> Reckoning:
    """What stands beside a statement of this job.

    Raises:
        SpoilbankError: the job as bid can't be read or worked out, or tickets can't be used.
    """
    billing = billing_of(job)
    reasons = None
    if statement.survey is not None:
        progress("finding why it differs from the bid")
        bid = job if billing.bid is None else load_job(job.path(billing.bid))
        reasons = reasons_of(bid, job, _billed_by(billing, statement.survey), progress)
    tickets = None
    if billing.tickets is not None:
        worked = work_out(job, progress)
        quantities = Quantities(worked=worked, day=statement.survey, until=statement.end)
        basis = "neat" if statement.survey is None else "as dug"
        all_dug = Item.model_validate(
            {"item": "all that was dug", "of": "pit", "basis": basis, "price": "0"}
        )
        dug = quantities.of(all_dug)
        soil = worked.soil
        tickets = reconciled(
            quantities.tickets(), (dug.value, dug.plus_minus_95), soil.swell,
            soil.swell_plus_minus_95,
        )  # fmt: skip
    return Reckoning(unit=job.unit.volume_name, reasons=reasons, tickets=tickets)


def _billed_by(billing: Billing, day: str) -> BilledBy:
    """As the first item bills the pit that bills it as measured, else all that was dug, in bank."""
    for item in billing.items:
        if item.of == "pit" and item.basis != "loads":
            rule = PaidBy(basis=item.basis, allowance=item.allowance, pay_line=billing.pay_line)
            return BilledBy(day=day, measure=item.measure, rule=rule)
    rule = PaidBy(basis="as dug", allowance=0.0, pay_line=billing.pay_line)
    return BilledBy(day=day, measure="bank", rule=rule)
