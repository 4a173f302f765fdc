"""A statement and a bid as tables for spreadsheets; text that runs as a formula is disarmed."""

import csv
import io

from terrain.billing.record import Bid, Statement
from terrain.export.text import inert

_LINE = ("item", "of", "basis", "unit")
_FIGURES = (
    "quantity", "plus_minus_95", "previous", "this_period", "price", "amount", "amount_to_date",
)  # fmt: skip
_BID = ("quantity", "low", "high", "price", "amount", "amount_low", "amount_high")
_SUMS = ("subtotal", "tax", "retainage", "total", "total_to_date")


def statement_csv(statement: Statement) -> str:
    """A row a line, then a row a sum."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(["row", *_LINE, *_FIGURES])
    for line in statement.lines:
        texts = (inert(getattr(line, name)) for name in _LINE)
        writer.writerow(["line", *texts, *(_text(getattr(line, name)) for name in _FIGURES)])
    for name in _SUMS:
        cells = [""] * (len(_LINE) + len(_FIGURES))
        cells[len(_LINE) + _FIGURES.index("amount")] = str(getattr(statement, name))
        writer.writerow([name.replace("_", " "), *cells])
    return out.getvalue()


def bid_csv(bid: Bid) -> str:
    """A row a line, then subtotal, tax and total, the total with its low and high."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(["row", *_LINE, *_BID])
    for line in bid.lines:
        texts = (inert(getattr(line, name)) for name in _LINE)
        writer.writerow(["line", *texts, *(_text(getattr(line, name)) for name in _BID)])
    blank = [""] * (len(_LINE) + 4)
    writer.writerow(["subtotal", *blank, str(bid.subtotal), "", ""])
    writer.writerow(["tax", *blank, str(bid.tax), "", ""])
    ends = (str(bid.total), str(bid.total_low), str(bid.total_high))
    writer.writerow(["total", *blank, *ends])
    return out.getvalue()


def _text(value: object) -> str:
    return "" if value is None else str(value)
