"""A statement and a bid on a terminal of 80 columns."""

from collections.abc import Sequence
from functools import partial

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.table import Table
from rich.text import Text

from terrain.billing.record import Bid, Statement
from terrain.job.reasons import PARTED, Reason
from terrain.job.reckoning import Reckoning
from terrain.job.tickets_told import ticket_lines
from terrain.report.names import encodable, plain, shortened
from terrain.report.table import WIDEST, Say, print_listed

NAME_ROOM = 22


def show_statement(statement: Statement, console: Console) -> None:
    """Print the statement: lines, sums and what they rest on."""
    say = partial(encodable, encoding=console.encoding)
    width = min(console.width, WIDEST)
    kind = "DRAFT, not issued, of statement" if statement.is_draft else "Statement"
    more = "" if statement.corrects is None else f", correcting {statement.corrects}"
    head = f"{kind} {statement.number}, period {statement.period} to {statement.end}{more}"
    console.print(Text(say(head), style="bold"), width=width)
    parties = f"{plain(statement.from_)} to {plain(statement.to)}: {plain(statement.title)}"
    console.print(Text(say(parties)), width=width)
    if statement.survey is not None:
        console.print(Text(say(f"Closed by the survey of {statement.survey}.")), width=width)
    rows = [
        (
            line.item, f"{line.quantity:,}", f"{line.previous:,}", f"{line.this_period:,}",
            f"{line.price:,}", f"{line.amount:,}",
        )
        for line in statement.lines
    ]  # fmt: skip
    columns = ("to date", "before", "now", "price", "amount")
    console.print(_table(columns, rows, say), width=width)
    for line in statement.lines:
        doubt = "" if line.plus_minus_95 is None else f", \N{PLUS-MINUS SIGN} {line.plus_minus_95}"
        told = f"{shortened(plain(line.item), NAME_ROOM)}: {line.basis}, {line.unit}{doubt}"
        console.print(Text(say(f"  {told}"), style="dim"), width=width)
    sums = (
        ("Subtotal", statement.subtotal),
        (f"Tax {statement.tax_rate:%}", statement.tax),
        (f"Retainage {statement.retainage_rate:%}", -statement.retainage),
        ("Due", statement.total),
    )
    for name, value in sums:
        console.print(Text(say(f"{name:>60} {value:>12,} {statement.currency}")), width=width)
    for note in statement.notes:
        print_listed(Text(say(plain(note))), console, width)


def show_reckoning(beside: Reckoning, console: Console) -> None:
    """Print why the bill differs from the bid, and the tickets against what was measured."""
    say = partial(encodable, encoding=console.encoding)
    width, unit = min(console.width, WIDEST), beside.unit
    if beside.reasons is not None:
        found = beside.reasons
        told = f"\nFrom the bid to {found.basis} on {found.survey}, {unit} {found.measure}"
        console.print(Text(say(told), style="bold"), width=width)
        columns = ("bid", *(PART_HEADS[part] for part in PARTED), "billed")
        rows = [
            (
                row.name,
                f"{row.bid:.1f}",
                *(_change(part) for part in row.parts),
                f"{row.billed:.1f}",
            )
            for row in (*found.rows, found.whole)
        ]
        console.print(_table(columns, rows, say, 12), width=width)
        told = (
            "~ not significant: smaller than its own doubt. Extras are pits, ramps and trenches; "
            "with a minus they are not dug yet, or not as far as bid."
        )
        console.print(Text(told, style="dim"), width=width)
    if beside.tickets is not None:
        for line in ticket_lines(beside.tickets, unit):
            console.print(Text(say(plain(line))), width=width)


PART_HEADS = {
    "ground": "ground", "floor": "floor", "overdig": "overdig", "side": "side",
    "extras": "extras", "soil factor": "soil",
}  # fmt: skip


def _change(reason: Reason) -> str:
    mark = "~" if reason.is_significant is False else ""
    told = f"{reason.change:+.1f}"
    return "0" if told in ("+0.0", "-0.0") else mark + told


def show_bid(bid: Bid, console: Console) -> None:
    """Print the bid: lines with low and high, loads, hours and total."""
    say = partial(encodable, encoding=console.encoding)
    width = min(console.width, WIDEST)
    console.print(Text(say(f"Bid: {plain(bid.title)}"), style="bold"), width=width)
    console.print(Text(say(f"{plain(bid.from_)} to {plain(bid.to)}")), width=width)
    rows = [
        (
            line.item, f"{line.quantity:,}", f"{line.low:,}", f"{line.high:,}", f"{line.price:,}",
            f"{line.amount:,}",
        )
        for line in bid.lines
    ]  # fmt: skip
    columns = ("quantity", "low", "high", "price", "amount")
    console.print(_table(columns, rows, say), width=width)
    for line in bid.lines:
        told = f"{shortened(plain(line.item), NAME_ROOM)}: {line.basis}, {line.unit}"
        console.print(Text(say(f"  {told}"), style="dim"), width=width)
    if bid.loads is not None:
        console.print(Text(say(f"Truck loads of all that is dug: {bid.loads:,}")), width=width)
    for one in bid.hours:
        told = f"Hours, {one.work}: {one.low:.1f} to {one.high:.1f}"
        console.print(Text(say(told)), width=width)
    for source in dict.fromkeys(one.source for one in bid.hours):
        console.print(Text(say(f"  Hours by {source}."), style="dim"), width=width)
    for name, value in (("Subtotal", bid.subtotal), (f"Tax {bid.tax_rate:%}", bid.tax)):
        console.print(Text(say(f"{name:>60} {value:>12,} {bid.currency}")), width=width)
    console.print(Text(say(f"{'Total':>60} {bid.total:>12,} {bid.currency}"), style="bold"))
    span = f"between {bid.total_low:,} and {bid.total_high:,}"
    console.print(Text(say(f"{span:>73} {bid.currency}")), width=width)
    for note in bid.notes:
        print_listed(Text(say(plain(note))), console, width)


def _table(
    columns: Sequence[str], rows: Sequence[Sequence[str]], say: Say, room: int = NAME_ROOM
) -> Table:
    table = Table(box=SIMPLE_HEAD, show_edge=False, pad_edge=False, padding=(0, 1, 0, 0))
    table.add_column("", no_wrap=True, overflow="crop")
    for column in columns:
        table.add_column(column, justify="right")
    for name, *cells in rows:
        table.add_row(Text(say(shortened(say(plain(name)), room))), *cells)
    return table
