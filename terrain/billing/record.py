"""A statement and a bid as they are shown, kept and bound: plain records of decimals and texts."""

from dataclasses import dataclass
from decimal import Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One item of a statement, `unit` with its measure ("yd3 bank").

    Args:
        quantity: to date, `previous` of it on earlier statements, `this_period` the rest.
        plus_minus_95: of the quantity to date, None where it isn't known.
        amount: of this period: to date less previous, each rounded.
        amount_to_date: price times the quantity to date.
    """

    item: str
    of: str
    basis: str
    unit: str
    quantity: Decimal
    plus_minus_95: Decimal | None
    previous: Decimal
    this_period: Decimal
    price: Decimal
    amount: Decimal
    amount_to_date: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class InputKept:
    """A file that a statement rests on: its name as the job gives it and its SHA-256."""

    name: str
    sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Statement:
    """A statement for one period.

    Args:
        number: in the register, or the one it would get if it is a draft.
        is_draft: whether it is not in the register.
        period, end: the period's number and last day.
        survey: the day of the survey that closes it, None where a share of the work does.
        corrects: the number of the statement it corrects, None for an ordinary one.
        subtotal: of this period's amounts; then tax on it, retainage held back of both, and the
            total that is due. `total_to_date` is of all lines to date, before tax.
        previous_hash, hash: of the statement before, and of this one; empty on a draft.
    """

    number: int
    is_draft: bool
    title: str
    from_: str
    to: str
    currency: str
    period: int
    end: str
    survey: str | None
    corrects: int | None
    lines: tuple[Line, ...]
    subtotal: Decimal
    tax_rate: Decimal
    tax: Decimal
    retainage_rate: Decimal
    retainage: Decimal
    total: Decimal
    total_to_date: Decimal
    notes: tuple[str, ...]
    inputs: tuple[InputKept, ...]
    version: str
    previous_hash: str
    hash: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BidLine:
    """One item of a bid: its quantity with low and high by survey and soil, and its price."""

    item: str
    of: str
    basis: str
    unit: str
    quantity: Decimal
    low: Decimal
    high: Decimal
    price: Decimal
    amount: Decimal
    amount_low: Decimal
    amount_high: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class Hours:
    """Machine hours for one kind of work, low and high, and the rate they come from."""

    work: str
    low: float
    high: float
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Bid:
    """A bid: items from the design, loads, hours, total with low and high before tax."""

    title: str
    from_: str
    to: str
    currency: str
    lines: tuple[BidLine, ...]
    loads: int | None
    hours: tuple[Hours, ...]
    tax_rate: Decimal
    subtotal: Decimal
    tax: Decimal
    total: Decimal
    total_low: Decimal
    total_high: Decimal
    notes: tuple[str, ...]
    inputs: tuple[InputKept, ...]
    version: str
