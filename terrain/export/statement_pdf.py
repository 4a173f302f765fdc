"""A statement as a PDF, typeset by typst: what it says is passed as data and never as markup."""

import datetime
import json
from decimal import Decimal
from importlib.resources import files
from typing import Any, TypeAlias

from terrain.base.errors import Fault, OutputError
from terrain.billing.record import Statement
from terrain.export.text import plain
from terrain.job.reasons import Reason
from terrain.job.reckoning import Reckoning
from terrain.job.tickets_told import ticket_lines

Drawings: TypeAlias = tuple[tuple[str, str], ...]


def statement_pdf(
    statement: Statement, beside: Reckoning | None = None, drawings: Drawings = ()
) -> bytes:
    """The PDF's bytes; the same statement gives the same bytes, dated with the period's end.

    Args:
        statement: what is set.
        beside: why it differs from the bid, on a page of its own.
        drawings: title and SVG of each, on pages of their own.

    Raises:
        OutputError: it can't be typeset.
    """
    import typst

    sources: Any = {  # its stub leaves out that a dictionary of files is taken
        "main.typ": files("terrain.export").joinpath("statement.typ").read_bytes(),
        "data.json": json.dumps(_data(statement, beside, drawings), ensure_ascii=True).encode(),
    }
    for number, (_, drawing) in enumerate(drawings):
        sources[f"drawing{number}.svg"] = drawing.encode("utf-8", "xmlcharrefreplace")
    day = datetime.date.fromisoformat(statement.end)
    stamp = int(datetime.datetime(day.year, day.month, day.day, tzinfo=datetime.UTC).timestamp())
    try:
        made = typst.compile(sources, format="pdf", timestamp=stamp)
    except (RuntimeError, ValueError, typst.TypstError) as error:
        message = f"the statement can't be typeset ({str(error)[:200]})"
        raise OutputError(Fault(file="statement.pdf", message=message)) from error
    assert isinstance(made, bytes)
    return made


def _data(statement: Statement, beside: Reckoning | None, drawings: Drawings) -> dict[str, object]:
    more = ", draft" if statement.is_draft else ""
    by = "" if statement.survey is None else f", by the survey of {statement.survey}"
    return {
        "heading": f"Statement of work {statement.number}{more}",
        "draft": statement.is_draft,
        "corrects": statement.corrects,
        "title": plain(statement.title),
        "from": plain(statement.from_),
        "to": plain(statement.to),
        "currency": plain(statement.currency),
        "closed": f"{statement.period}, to {statement.end}{by}",
        "lines": [
            {
                "item": plain(line.item),
                "told": f"{plain(line.of)}, {line.basis}, {plain(line.unit)}",
                "quantity": _told(line.quantity),
                "doubt": None if line.plus_minus_95 is None else _told(line.plus_minus_95),
                "previous": _told(line.previous),
                "now": _told(line.this_period),
                "price": _told(line.price),
                "amount": _told(line.amount),
            }
            for line in statement.lines
        ],
        "sums": [
            ["Subtotal", _told(statement.subtotal)],
            [f"Tax {statement.tax_rate:%}", _told(statement.tax)],
            [f"Retainage {statement.retainage_rate:%}", _told(-statement.retainage)],
        ],
        "total": _told(statement.total),
        "to_date": _told(statement.total_to_date),
        "notes": [plain(note) for note in statement.notes],
        "files": [[plain(one.name), one.sha256] for one in statement.inputs],
        "version": statement.version,
        "previous_hash": statement.previous_hash,
        "hash": statement.hash,
        "drawings": [plain(title) for title, _ in drawings],
        "reasons": _reasons(beside),
        "reasons_of": None
        if beside is None or beside.reasons is None
        else f"From the bid to {beside.reasons.basis} on {beside.reasons.survey}, "
        f"{beside.unit} {beside.reasons.measure}",
        "tickets": []
        if beside is None or beside.tickets is None
        else [plain(line) for line in ticket_lines(beside.tickets, beside.unit)],
    }


def _told(value: Decimal) -> str:
    return f"{value:,.2f}" if value == value.quantize(Decimal("0.01")) else f"{value:,}"


def _reasons(beside: Reckoning | None) -> list[list[str]] | None:
    """Rows of a table of reasons with its head, None where there are none."""
    if beside is None or beside.reasons is None:
        return None
    head = ["", "bid", *(part.part for part in beside.reasons.rows[0].parts), "billed"]
    rows = [
        [
            plain(row.name),
            f"{row.bid:,.1f}",
            *(_change(part) for part in row.parts),
            f"{row.billed:,.1f}",
        ]
        for row in (*beside.reasons.rows, beside.reasons.whole)
    ]
    return [head, *rows]


def _change(reason: Reason) -> str:
    told = f"{reason.change:+,.1f}"
    if told in ("+0.0", "-0.0"):
        return "0"
    return told + ("*" if reason.is_significant is False else "")
