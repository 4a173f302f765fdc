"""Exact decimal money and quantities, and how both are rounded.

A quantity is rounded half up to two decimals before it is priced, an amount half up to the cent;
both are said on every statement. Sums are of rounded figures, so that a reader who adds them up by
hand comes to the same cent.
"""

from decimal import ROUND_HALF_UP, Decimal

CENT = Decimal("0.01")
QUANTITY = Decimal("0.01")
ROUNDING = (
    "Quantities are rounded half up to 0.01 before they are priced, amounts half up to 0.01 of the "
    "currency; sums are of rounded figures."
)


def quantity(value: float | Decimal) -> Decimal:
    """A measured quantity as it is billed."""
    exact = value if isinstance(value, Decimal) else Decimal(repr(float(value)))
    return _positive_zero(exact.quantize(QUANTITY, rounding=ROUND_HALF_UP))


def amount(value: Decimal) -> Decimal:
    """An amount of money as it is billed."""
    return _positive_zero(value.quantize(CENT, rounding=ROUND_HALF_UP))


def _positive_zero(value: Decimal) -> Decimal:
    return value if value else abs(value)
