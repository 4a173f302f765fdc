"""The table of what is billed: `[billing]`. Money and rates are texts, so that no cent is lost."""

from decimal import Decimal, InvalidOperation
from typing import Annotated, Literal, TypeAlias

from pydantic import AfterValidator, Field
from pydantic_core import PydanticCustomError

from terrain.job.asdug_tables import Date
from terrain.job.kinds import Length, LengthOverNought, Name
from terrain.job.table import Table


def _decimal(value: str) -> str:
    try:
        number = Decimal(value)
    except InvalidOperation:
        number = Decimal("NaN")
    if not number.is_finite() or abs(number) > Decimal("1e9") or "e" in value.casefold():
        raise PydanticCustomError("decimal", 'a decimal number in quotes such as "9.50" is wanted')
    return value


Money: TypeAlias = Annotated[str, Field(max_length=20), AfterValidator(_decimal)]
"""An exact decimal number as text."""


class Item(Table):
    """`[[billing.items]]`: what is paid, of which earth, in which measure, on which basis.

    `of` is pit, the name of a wall, pit, ramp or trench, topsoil, backfill, stone, haul, import,
    rock or undercut. Undercut is paid no deeper below the floor than the `depth` that was
    `ordered`, by whom and when in words.
    """

    item: Name
    of: Name
    measure: Literal["bank", "loose", "compacted"] = "bank"
    basis: Literal["neat", "as dug to line", "as dug", "loads"] = "neat"
    allowance: Length = 0.0
    ordered: Name | None = None
    depth: LengthOverNought | None = None
    price: Money


class Period(Table):
    """`[[billing.periods]]`: closed by the survey of a day, or by a share of the work."""

    number: Annotated[int, Field(ge=1, le=9999)]
    end: Date
    asdug: Date | None = None
    share: Annotated[float, Field(ge=0.0, le=1.0)] | None = None


class Billing(Table):
    """`[billing]`: parties, currency, tax and retainage as shares, items and periods.

    `pay_line` is what is neat: the design's dig line and sides, or upright planes at the footing's
    outside edges. `tickets` is a file of truck tickets, `weight_per_loose_volume` what turns their
    weights into volume. `rock` are files of shots on the top of the rock. `bid` is the job file as
    it was bid, where the job has changed since.
    """

    from_: Name = Field(alias="from")
    to: Name
    currency: Name
    tax: Money = "0.00"
    retainage: Money = "0.00"
    pay_line: Literal["design", "footing"] = "design"
    tickets: Name | None = None
    weight_per_loose_volume: LengthOverNought | None = None
    rock: list[Name] = []
    bid: Name | None = None
    items: list[Item] = Field(min_length=1)
    periods: list[Period] = []
