"""The question `bid`: the items priced from the design, and how far survey and soil swing it."""

import hashlib
from decimal import Decimal
from importlib.metadata import version

from terrain.billing.money import ROUNDING, amount, quantity
from terrain.billing.record import Bid, BidLine, Hours, InputKept
from terrain.haul.rates import DOZER_COMPACTED, YARD3, hoe_hours
from terrain.job.billed_twice import billed_twice
from terrain.job.billing_tables import Item
from terrain.job.kept import inputs_of
from terrain.job.load import Job
from terrain.job.quantities import Amount, Quantities
from terrain.job.soil_used import swell_words
from terrain.job.statement import billing_of, unit_of
from terrain.job.volumes import Progress, work_out
from terrain.job.worked import Worked
from terrain.ledger.entries import LooseVolume
from terrain.ledger.loads import truck_loads
from terrain.ledger.soil import find_soil, swell_span

DOZER_TO_MOBILISE = 1.5
RATES = "Dagostino & Peterson, Estimating in Building Construction: hoe 55 bcy/h plus 2 h, dozer "
RATES += "backfill 100 ccy/h plus 1.5 h"


def bid_of(job: Job, progress: Progress) -> Bid:
    """The bid of a job. Raises SpoilbankError as `volumes` and for what can't be billed."""
    billing = billing_of(job)
    worked = work_out(job, progress)
    progress("pricing")
    quantities = Quantities(worked=worked)
    lines = tuple(_line(worked, item, quantities.of(item)) for item in billing.items)
    subtotal = sum((line.amount for line in lines), Decimal("0.00"))
    rate = Decimal(billing.tax)
    low, high = (
        sum((getattr(line, end) for line in lines), Decimal("0.00"))
        for end in ("amount_low", "amount_high")
    )
    loose = worked.job.unit.volume(worked.figures.total) * (1.0 + worked.soil.swell)
    truck = job.haul.truck
    return Bid(
        title=job.title,
        from_=billing.from_,
        to=billing.to,
        currency=billing.currency,
        lines=lines,
        loads=None if truck is None else truck_loads(LooseVolume(loose), LooseVolume(truck)),
        hours=_hours(worked, quantities),
        tax_rate=rate,
        subtotal=subtotal,
        tax=amount(subtotal * rate),
        total=subtotal + amount(subtotal * rate),
        total_low=low + amount(low * rate),
        total_high=high + amount(high * rate),
        notes=_notes(worked),
        inputs=tuple(
            InputKept(name=name, sha256=hashlib.sha256(content).hexdigest())
            for name, content in inputs_of(job).items()
        ),
        version=version("spoilbank"),
    )


def _line(worked: Worked, item: Item, found: Amount) -> BidLine:
    low, high = _span(worked, item, found)
    price, billed = Decimal(item.price), quantity(found.value)
    return BidLine(
        item=item.item,
        of=item.of,
        basis=item.basis,
        unit=unit_of(worked.job, item),
        quantity=billed,
        low=quantity(low),
        high=quantity(high),
        price=price,
        amount=amount(billed * price),
        amount_low=amount(quantity(low) * price),
        amount_high=amount(quantity(high) * price),
    )


def _span(worked: Worked, item: Item, found: Amount) -> tuple[float, float]:
    """Low and high: by the survey's doubt, off bank measure by the soil's range too.

    The range of a swell that was measured on the lot is its own doubt.
    """
    doubt = found.plus_minus_95 or 0.0
    low, high = max(found.value - doubt, 0.0), found.value + doubt
    soil, own = find_soil(worked.soil.material), worked.soil
    span = swell_span(own)
    if item.measure == "loose" and span is not None:
        used = 1.0 + own.swell
        return low * (1.0 + span.least) / used, high * (1.0 + span.most) / used
    if soil is None or item.measure != "compacted":
        return low, high
    ends = (1.0 - soil.shrink_range[1], 1.0 - soil.shrink_range[0])
    used = 1.0 - own.shrink
    return low * min(ends[0] / used, 1.0), high * max(ends[1] / used, 1.0)


def _hours(worked: Worked, quantities: Quantities) -> tuple[Hours, ...]:
    """Hours of an excavator and, where a lot says what is filled, a dozer, at published rates."""
    unit = worked.job.unit
    cubic = unit.cubic_units_per_volume_unit
    yards = cubic * float(unit.metres) ** 3 / YARD3
    item = quantities.billing.items[0]
    pit = item.model_copy(update={"of": "pit", "measure": "bank", "basis": "neat"})
    low, high = (hoe_hours(end * cubic, unit) for end in _span(worked, pit, _all_dug(worked)))
    found = [Hours(work="excavator", low=low, high=high, source=RATES)]
    if worked.job.lot is not None:
        fill = item.model_copy(update={"of": "backfill", "measure": "compacted", "basis": "neat"})
        low, high = (
            end * yards / DOZER_COMPACTED + DOZER_TO_MOBILISE
            for end in _span(worked, fill, quantities.of(fill))
        )
        found.append(Hours(work="dozer, backfill", low=low, high=high, source=RATES))
    return tuple(found)


def _all_dug(worked: Worked) -> Amount:
    """All that comes out, in bank: a machine digs beyond the pay line too."""
    volume, doubts = worked.job.unit.volume, worked.figures.doubts
    known = None if doubts is None else doubts.total.together
    return Amount(
        value=volume(worked.figures.total), plus_minus_95=None if known is None else volume(known)
    )


def _notes(worked: Worked) -> tuple[str, ...]:
    soil = find_soil(worked.soil.material)
    notes = [ROUNDING, *billed_twice(billing_of(worked.job).items)]
    if worked.figures.doubts is None:
        notes.append(
            "The survey states no accuracy: low and high tell what the soil does, not the survey."
        )
    notes += [f"{title} {words}." for title, words in swell_words(worked)]
    if soil is None:
        notes.append(f"No range of swell and shrink is known for {worked.soil.material}.")
    else:
        swings = "Loose and compacted swing"
        if worked.soil.swell_plus_minus_95 is not None:
            swings = "Loose swings by the doubt of the measured swell, compacted"
        notes.append(
            f"{swings} over the range printed for {soil.range_name}: swell "
            f"{soil.swell_range[0]:.0%} to {soil.swell_range[1]:.0%} ({soil.range_source.title})."
        )
    notes.append("Hours are at published rates; your machine, your ground and your crew decide.")
    return tuple(notes)
