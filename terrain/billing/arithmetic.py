"""From measured quantities and prices to the lines and sums of a statement."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from terrain.billing.money import amount, quantity
from terrain.billing.record import Line

NOTHING = Decimal("0.00")


@dataclass(frozen=True, slots=True, kw_only=True)
class Billed:
    """What one item has come to: to date, in its measure, with its doubt."""

    item: str
    of: str
    basis: str
    unit: str
    to_date: float
    plus_minus_95: float | None
    price: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class Sums:
    """The sums under the lines of a statement."""

    subtotal: Decimal
    tax: Decimal
    retainage: Decimal
    total: Decimal
    total_to_date: Decimal


def lines_of(
    billed: Sequence[Billed], previous: Mapping[str, tuple[Decimal, Decimal]]
) -> tuple[Line, ...]:
    """The lines of a statement, in the order of the items.

    Args:
        billed: each item to date.
        previous: by item, the quantity and the amount of all statements before.

    An item whose quantity to date is less than was billed gives a negative line: what was paid too
    much is taken off.
    """
    return tuple(_line(one, *previous.get(one.item, (NOTHING, NOTHING))) for one in billed)


def _line(one: Billed, before: Decimal, paid: Decimal) -> Line:
    to_date = quantity(one.to_date)
    whole = amount(to_date * one.price)
    return Line(
        item=one.item,
        of=one.of,
        basis=one.basis,
        unit=one.unit,
        quantity=to_date,
        plus_minus_95=None if one.plus_minus_95 is None else quantity(one.plus_minus_95),
        previous=before,
        this_period=to_date - before,
        price=one.price,
        amount=whole - paid,
        amount_to_date=whole,
    )


def sums_of(lines: Sequence[Line], tax_rate: Decimal, retainage_rate: Decimal) -> Sums:
    """Tax on the subtotal, retainage held back of the subtotal before tax, and what is due."""
    subtotal = sum((line.amount for line in lines), Decimal("0.00"))
    tax = amount(subtotal * tax_rate)
    retainage = amount(subtotal * retainage_rate)
    return Sums(
        subtotal=subtotal,
        tax=tax,
        retainage=retainage,
        total=subtotal + tax - retainage,
        total_to_date=sum((line.amount_to_date for line in lines), Decimal("0.00")),
    )
