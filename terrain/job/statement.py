"""The question `statement`: what is due for a period, from the design or the hole as dug."""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from importlib.metadata import version

from terrain.base.errors import Fault, JobError
from terrain.billing.arithmetic import Billed, lines_of, sums_of
from terrain.billing.money import ROUNDING
from terrain.billing.record import InputKept, Line, Statement
from terrain.billing.register import disagreements
from terrain.job.billed_twice import billed_twice
from terrain.job.billing_tables import Billing, Item, Period
from terrain.job.kept import inputs_of, kept_job, register_of
from terrain.job.load import Job
from terrain.job.quantities import OF_LOT, Amount, Quantities
from terrain.job.volumes import Progress, work_out
from terrain.job.worked import Worked


@dataclass(frozen=True, slots=True, kw_only=True)
class StatementAsked:
    """Which statement: of a period (the first that isn't billed if None), or a correction of one
    that was issued.
    """

    period: int | None = None
    corrects: int | None = None


def billing_of(job: Job) -> Billing:
    """The job's `[billing]`. Raises JobError where there is none."""
    if job.billing is None:
        message = "the job has no [billing] table: who bills whom, items with prices"
        raise JobError(Fault(file=job.file, key="billing", message=message))
    return job.billing


def drafted(job: Job, asked: StatementAsked, progress: Progress) -> Statement:
    """The draft of a statement: what it would say if it were issued now.

    Raises:
        SpoilbankError: there is nothing to bill, the period is billed already or out of order, or a
            survey can't be used.
    """
    issued = register_of(job).statements()
    period = _period_of(job, asked, issued)
    return draft_of(work_out(job, progress), period, asked.corrects, issued)


def draft_of(
    worked: Worked, period: Period, corrects: int | None, issued: Sequence[Statement]
) -> Statement:
    """The draft for a period after the statements that were issued."""
    job, billing = worked.job, billing_of(worked.job)
    _require_all_billed(job, issued)
    quantities = Quantities(worked=worked, day=period.asdug, until=period.end)
    billed = tuple(_billed(quantities, item, period) for item in billing.items)
    previous = {} if not issued else _previous(issued[-1].lines)
    lines = lines_of(billed, previous)
    tax, retainage = Decimal(billing.tax), Decimal(billing.retainage)
    sums = sums_of(lines, tax, retainage)
    return Statement(
        number=len(issued) + 1,
        is_draft=True,
        title=job.title,
        from_=billing.from_,
        to=billing.to,
        currency=billing.currency,
        period=period.number,
        end=period.end,
        survey=period.asdug,
        corrects=corrects,
        lines=lines,
        subtotal=sums.subtotal,
        tax_rate=tax,
        tax=sums.tax,
        retainage_rate=retainage,
        retainage=sums.retainage,
        total=sums.total,
        total_to_date=sums.total_to_date,
        notes=_notes(worked, period, corrects),
        inputs=tuple(InputKept(name=n, sha256=hashlib.sha256(c).hexdigest())
                     for n, c in inputs_of(job).items()),
        version=version("spoilbank"),
        previous_hash="",
        hash="",
    )  # fmt: skip


def _require_all_billed(job: Job, issued: Sequence[Statement]) -> None:
    """Hold what was billed before to be an item still: under another name it would be billed again.

    Raises:
        JobError: an item of the last statement is not in the job, or is billed in another unit.
    """
    items = {item.item: item for item in billing_of(job).items}
    faults = []
    for line in issued[-1].lines if issued else ():
        own = items.get(line.item)
        if own is None:
            message = (
                f'there is no item "{line.item}" any more, and statement {issued[-1].number} bills '
                "it: keep it; a price of 0 takes back what was paid for it"
            )
            faults.append(Fault(key="billing.items", message=message))
        elif unit_of(job, own) != line.unit:
            message = (
                f'"{line.item}" was billed in {line.unit} up to now, not in {unit_of(job, own)}: '
                "give the other measure a name of its own"
            )
            faults.append(Fault(key="billing.items", message=message))
    if faults:
        raise job.located(JobError(*faults))


def unit_of(job: Job, item: Item) -> str:
    """The unit an item is billed in, with its measure."""
    return f"{job.unit.volume_name} {'in place' if item.of == 'stone' else item.measure}"


def _period_of(job: Job, asked: StatementAsked, issued: Sequence[Statement]) -> Period:
    billing = billing_of(job)
    if asked.corrects is not None:
        return _corrected(job, asked, issued)
    done = [one.period for one in issued if one.corrects is None]
    left = [period for period in billing.periods if period.number not in done]
    if asked.period is None:
        if not left:
            message = "every period is billed; add the next one" if done else "give a period"
            raise job.located(JobError(Fault(key="billing.periods", message=message)))
        return left[0]
    found = [period for period in billing.periods if period.number == asked.period]
    if not found:
        known = ", ".join(str(period.number) for period in billing.periods) or "none"
        message = f"there is no period {asked.period}; those there are: {known}"
        raise job.located(JobError(Fault(key="billing.periods", message=message)))
    if asked.period in done:
        (number,) = [s.number for s in issued if s.period == asked.period and s.corrects is None]
        message = (
            f"period {asked.period} is billed already, by statement {number}; what was wrong in it "
            f"is put right by a new one: --corrects {number}"
        )
        raise job.located(JobError(Fault(key="billing.periods", message=message)))
    if found[0] is not left[0]:
        message = f"period {left[0].number} comes before period {asked.period} and isn't billed yet"
        raise job.located(JobError(Fault(key="billing.periods", message=message)))
    return found[0]


def _corrected(job: Job, asked: StatementAsked, issued: Sequence[Statement]) -> Period:
    """The period of the statement to correct, with to-date quantities as of the last one billed."""
    if not any(one.number == asked.corrects for one in issued):
        known = f"1 to {len(issued)}" if issued else "none"
        message = f"there is no statement {asked.corrects} to correct; those issued: {known}"
        raise JobError(Fault(file=job.file, message=message))
    last = max((one.period for one in issued), default=0)
    found = [period for period in billing_of(job).periods if period.number == last]
    if not found:
        message = f"period {last}, the last that was billed, is no longer in the job"
        raise job.located(JobError(Fault(key="billing.periods", message=message)))
    return found[0]


def _billed(quantities: Quantities, item: Item, period: Period) -> Billed:
    job = quantities.worked.job
    amount = _to_date(quantities, item, period)
    return Billed(
        item=item.item,
        of=item.of,
        basis=item.basis,
        unit=unit_of(job, item),
        to_date=amount.value,
        plus_minus_95=amount.plus_minus_95,
        price=Decimal(item.price),
    )


def _to_date(quantities: Quantities, item: Item, period: Period) -> Amount:
    if item.basis == "loads":
        return quantities.of(item)
    if period.asdug is not None and item.of not in OF_LOT:
        return quantities.of(item)
    if item.of == "undercut":  # a share of the design says nothing of it: as last surveyed
        day = _last_surveyed(quantities.billing, period)
        return replace(quantities, day=day).of(item)
    share = 1.0 if period.share is None else period.share
    if period.asdug is not None:
        share = 0.0 if period.share is None else period.share
    by_design = Quantities(worked=quantities.worked).of(item)
    doubt = by_design.plus_minus_95
    return Amount(
        value=share * by_design.value, plus_minus_95=None if doubt is None else share * doubt
    )


def _last_surveyed(billing: Billing, period: Period) -> str | None:
    days = [one.asdug for one in billing.periods if one.number < period.number and one.asdug]
    return days[-1] if days else None


def _previous(lines: Sequence[Line]) -> dict[str, tuple[Decimal, Decimal]]:
    return {line.item: (line.quantity, line.amount_to_date) for line in lines}


def _notes(worked: Worked, period: Period, corrects: int | None) -> tuple[str, ...]:
    billing, soil = billing_of(worked.job), worked.soil
    lines = {
        "design": "Neat quantities are the design's, to its dig line and sides.",
        "footing": "Neat quantities lie between upright planes at the footing's outside edges.",
    }
    notes = [
        ROUNDING,
        lines[billing.pay_line],
        *_bases(worked.job, billing.items),
        *billed_twice(billing.items),
        "What was dug before the original ground was surveyed is in no quantity.",
        f"Loose is bank x {1 + soil.swell:.2f}, compacted bank x {1 - soil.shrink:.2f} "
        f"({soil.material}).",
        "Plus-or-minus is half the width of a 95 % interval; doubts of lines do not add up.",
    ]
    if period.asdug is not None and any(item.of in OF_LOT for item in billing.items):
        given = "this period gives none" if period.share is None else f"here {period.share:g}"
        notes.append(
            "Backfill, stone, haul and import are billed by the period's share of the design's; "
            f"{given}."
        )
    notes += [
        f"{item.item}: below the floor, {item.depth:g} {worked.job.unit.name} at most as ordered "
        f"({item.ordered})."
        for item in billing.items
        if item.depth is not None
    ]
    if corrects is not None:
        notes.append(f"This statement corrects statement {corrects}, which stands as issued.")
    return tuple(notes)


def _bases(job: Job, items: Sequence[Item]) -> list[str]:
    """What each basis that is billed pays for, and how far an allowance goes."""
    told = []
    for item in items:
        if item.basis == "as dug to line":
            told.append(
                f"{item.item}, as dug to line: what the survey shows dug, no deeper than the floor "
                f"and no farther out than {item.allowance:g} {job.unit.name} beyond the pay line."
            )
        elif item.basis == "as dug":
            told.append(f"{item.item}, as dug: all that the survey shows dug.")
        elif item.basis == "loads":
            told.append(f"{item.item}, loads: by the truck tickets up to the period's end.")
    return told


def recomputed(job: Job, progress: Progress) -> tuple[tuple[int, str], ...]:
    """Every issued statement worked out again from the files kept with it.

    Returns number and what no longer agrees, for each that doesn't.
    """
    register = register_of(job)
    issued = register.statements()

    def again(statement: Statement) -> Statement:
        with kept_job(job, statement) as kept:
            period = [p for p in billing_of(kept).periods if p.number == statement.period]
            if not period:
                raise JobError(Fault(file=statement.inputs[0].name, message="has no such period"))
            before = issued[: statement.number - 1]
            return draft_of(work_out(kept, progress), period[0], statement.corrects, before)

    return disagreements(register, again)
