"""How far the loose total and its loads may be off: by the survey's doubt, and by the soil."""

from terrain.job.answer import LooseRange
from terrain.ledger.entries import LooseVolume, Total
from terrain.ledger.loads import truck_loads
from terrain.ledger.soil import SoilFactors, swell_span


def loose_range(total: Total, soil: SoilFactors, truck: LooseVolume | None) -> LooseRange | None:
    """Low and high of the loose total, in its unit; None where neither survey nor soil tells.

    The bank's plus-or-minus at 95 % and the ends of the soil's swell are taken together, as a bid
    takes them: the range is wide rather than likely.
    """
    span = swell_span(soil)
    doubt = total.bank_plus_minus_95
    if span is None and doubt is None:
        return None
    bank = total.quantity.bank
    least, most = (soil.swell, soil.swell) if span is None else (span.least, span.most)
    low = LooseVolume(max(bank - (doubt or 0.0), 0.0) * (1.0 + least))
    high = LooseVolume((bank + (doubt or 0.0)) * (1.0 + most))
    return LooseRange(
        low=low,
        high=high,
        loads=None if truck is None else (truck_loads(low, truck), truck_loads(high, truck)),
        swell=None if span is None else (least, most),
        swell_of=None if span is None else span.of,
    )
