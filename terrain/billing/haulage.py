"""Truck tickets against what was measured: the swell they imply, tickets missing or given twice."""

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from terrain.survey.tickets import Ticket

MOST_MISSING = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class Haulage:
    """What tickets come to, in the job's volume unit, loose.

    Args:
        tickets, loads: how many count; of a ticket given twice the first does.
        loose: their volume.
        double: tickets that stand more than once.
        missing: numbers left out between the first ticket and the last, where they are numbers.
    """

    tickets: int
    loads: int
    loose: float
    double: tuple[str, ...]
    missing: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Reconciled:
    """Tickets against a bank volume that was measured.

    Args:
        bank, bank_plus_minus_95: what was measured to have left.
        swell: that the tickets imply, None where nothing was measured; its plus-or-minus is by the
            measured bank alone.
        expected_loose: what the job's swell makes of the bank.
        difference: of the tickets from that.
        is_within: whether the difference is within the doubt of bank and swell; None if unknown.
    """

    haulage: Haulage
    bank: float
    bank_plus_minus_95: float | None
    swell: float | None
    swell_plus_minus_95: float | None
    expected_loose: float
    difference: float
    is_within: bool | None


def haulage(tickets: Sequence[Ticket], weight_per_volume: float | None) -> Haulage:
    """What tickets come to. Raises ValueError where a weight has no density to go by."""
    counts = Counter(ticket.ticket for ticket in tickets)
    first: dict[str, Ticket] = {}
    for ticket in tickets:
        first.setdefault(ticket.ticket, ticket)
    loose = 0.0
    for ticket in first.values():
        if ticket.volume is not None:
            loose += ticket.volume
        elif ticket.weight is not None:
            if weight_per_volume is None:
                raise ValueError(
                    f"ticket {ticket.ticket} has a weight only: say what a loose volume weighs"
                )
            loose += ticket.weight / weight_per_volume
    return Haulage(
        tickets=len(first),
        loads=sum(ticket.loads for ticket in first.values()),
        loose=loose,
        double=tuple(ticket for ticket, count in counts.items() if count > 1),
        missing=_missing(list(first)),
    )


def _missing(tickets: Sequence[str]) -> tuple[str, ...]:
    """Numbers between the first and the last that no ticket has, written as the others are."""
    if not tickets or not all(re.fullmatch(r"\D*\d{1,9}", ticket) for ticket in tickets):
        return ()
    parts = [re.fullmatch(r"(\D*)(\d+)", ticket) for ticket in tickets]
    heads = {part[1] for part in parts if part}
    if len(heads) != 1:
        return ()
    head, width = heads.pop(), min(len(part[2]) for part in parts if part)
    numbers = {int(part[2]) for part in parts if part}
    left = sorted(set(range(min(numbers), max(numbers) + 1)) - numbers)
    return tuple(f"{head}{number:0{width}}" for number in left[:MOST_MISSING])


def reconciled(
    found: Haulage, bank: tuple[float, float | None], swell: float, swell_doubt: float | None
) -> Reconciled:
    """Tickets against bank measured with its doubt, at a swell with its doubt (both at 95 %)."""
    amount, doubt = bank
    expected = amount * (1.0 + swell)
    is_within = None
    if doubt is not None:
        own = doubt * (1.0 + swell)
        of_swell = abs(amount) * (swell_doubt or 0.0)
        is_within = abs(found.loose - expected) <= (own**2 + of_swell**2) ** 0.5
    ratio = found.loose / amount if amount > 0.0 else None
    return Reconciled(
        haulage=found,
        bank=amount,
        bank_plus_minus_95=doubt,
        swell=None if ratio is None else ratio - 1.0,
        swell_plus_minus_95=None if ratio is None or doubt is None else ratio * doubt / amount,
        expected_loose=expected,
        difference=found.loose - expected,
        is_within=is_within,
    )
