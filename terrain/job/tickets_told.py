"""Truck tickets against what was measured, in sentences."""

from collections.abc import Iterator, Sequence

from terrain.billing.haulage import Reconciled

MOST_NAMED = 20


def ticket_lines(found: Reconciled, unit: str) -> Iterator[str]:
    """What truck tickets come to against what was measured, in sentences."""
    own = found.haulage
    yield (
        f"Tickets: {own.tickets:,} for {own.loads:,} loads, {own.loose:,.1f} {unit} loose. "
        f"Measured {found.bank:,.1f} {unit} bank, at its swell {found.expected_loose:,.1f} loose."
    )
    if found.swell is not None:
        within = {True: "within", False: "beyond", None: "of unknown relation to"}[found.is_within]
        sure = found.swell_plus_minus_95
        width = "" if sure is None else f" \N{PLUS-MINUS SIGN} {sure:.1%}"
        yield (
            f"If all that was dug left by truck, the tickets imply a swell of {found.swell:.1%}"
            f"{width}; the difference of {found.difference:+,.1f} is {within} the doubt."
        )
    if own.double:
        yield f"Given twice, counted once: {_some(own.double)}."
    if own.missing:
        yield f"Missing between the first and the last: {_some(own.missing)}."


def _some(tickets: Sequence[str]) -> str:
    more = len(tickets) - MOST_NAMED
    return ", ".join(tickets[:MOST_NAMED]) + (f" and {more} more" if more > 0 else "")
