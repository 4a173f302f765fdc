"""Rounding half up, of quantities before they are priced and of amounts; sums are of these."""

from decimal import Decimal

import pytest

from terrain.billing.arithmetic import Billed, lines_of, sums_of
from terrain.billing.money import amount, quantity


@pytest.mark.parametrize(
    ("value", "rounded"),
    [(0.125, "0.13"), (0.375, "0.38"), (2.675, "2.68"), (-0.125, "-0.13"), (-0.001, "0.00")],
)
def test_a_quantity_is_rounded_half_up_as_it_is_written(value, rounded):
    assert str(quantity(value)) == rounded


def test_an_amount_is_rounded_half_up():
    assert [str(amount(Decimal(v))) for v in ("0.005", "0.015", "-0.005")] == [
        "0.01", "0.02", "-0.01",
    ]  # fmt: skip


def test_what_was_billed_too_much_is_taken_off_and_sums_are_of_rounded_lines():
    billed = [
        Billed(
            item=name, of="pit", basis="as dug", unit="yd3 bank", to_date=done, plus_minus_95=None,
            price=Decimal("3.33"),
        )
        for name, done in (("a", 10.005), ("b", 4.0))
    ]  # fmt: skip
    lines = lines_of(billed, {"b": (Decimal("5.00"), Decimal("16.65"))})
    assert [str(line.amount) for line in lines] == ["33.33", "-3.33"]
    assert [str(line.this_period) for line in lines] == ["10.01", "-1.00"]
    sums = sums_of(lines, Decimal("0.07"), Decimal("0.10"))
    assert [str(v) for v in (sums.subtotal, sums.tax, sums.retainage, sums.total)] == [
        "30.00", "2.10", "3.00", "29.10",
    ]  # fmt: skip
