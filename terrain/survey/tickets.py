"""Truck tickets: a table of ticket, time, loads, and loose volume or weight."""

import csv
import io
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from terrain.base.errors import Fault, SurveyError
from terrain.survey.text import as_utf8, printed

_COLUMNS = {
    "ticket": "ticket ticketno number no id",
    "time": "time date datetime when",
    "loads": "loads load trucks",
    "volume": "volume loose loosevolume cy yd3 m3",
    "weight": "weight tons tonnes mass",
}
_KNOWN = {word: column for column, words in _COLUMNS.items() for word in words.split()}
MOST_FAULTS = 50
LARGEST = 1e6


@dataclass(frozen=True, slots=True, kw_only=True)
class Ticket:
    """One ticket: how many loads, and their loose volume or weight as written (one of the two)."""

    ticket: str
    time: str
    loads: int
    volume: float | None
    weight: float | None
    row: int


def read_tickets(name: str, data: bytes) -> tuple[Ticket, ...]:
    """The tickets of a file in their order.

    Errors: `SurveyError` with a fault for each row that can't be: no ticket, no load, a figure that
    is none or is negative, neither volume nor weight.
    """
    text = as_utf8(name, data).decode("utf-8")
    delimiter = next((d for d in "\t;" if d in text.split("\n", 1)[0]), ",")
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    columns: list[str] | None = None
    found, faults = [], list[Fault]()
    try:
        for fields in reader:
            if not "".join(fields).strip() or fields[0].lstrip().startswith("#"):
                continue
            if columns is None:
                columns = _columns_of(name, reader.line_num, fields)
                continue
            texts = {c: f.strip() for c, f in zip(columns, fields, strict=False) if c}
            try:
                found.append(_ticket(texts, reader.line_num))
            except ValueError as error:
                faults.append(Fault(file=name, line=reader.line_num, message=str(error)))
                if len(faults) >= MOST_FAULTS:
                    break
    except csv.Error as error:
        faults.append(Fault(file=name, line=reader.line_num, message=f"is no table: {error}."))
    if not found and not faults:
        faults.append(Fault(file=name, message="holds no tickets."))
    if faults:
        raise SurveyError(*faults)
    return tuple(found)


def up_to(name: str, tickets: Sequence[Ticket], day: str) -> tuple[Ticket, ...]:
    """The tickets of a day and before, the day as ISO 8601.

    Errors: `SurveyError` with a fault for each ticket whose time begins with no day.
    """
    faults = []
    kept = []
    for ticket in tickets:
        try:
            own = date.fromisoformat(ticket.time[:10]).isoformat()
        except ValueError:
            said = f'"{printed(ticket.time, 20)}"' if ticket.time else "nothing"
            message = (
                f"time begins with no day such as 2027-05-03 but is {said}: which period is it?"
            )
            faults.append(Fault(file=name, line=ticket.row, message=message))
            continue
        if own <= day:
            kept.append(ticket)
    if faults:
        raise SurveyError(*faults)
    return tuple(kept)


def _columns_of(name: str, line: int, header: list[str]) -> list[str]:
    plain = [re.sub(r"[\W_]+", "", re.sub(r"[(\[].*?[)\]]", "", t).casefold()) for t in header]
    columns = [_KNOWN.get(text, "") for text in plain]
    if "ticket" not in columns or not {"volume", "weight"} & set(columns):
        text = printed(",".join(header))
        message = "write a header such as ticket,time,loads,volume (loose) or ...,weight."
        raise SurveyError(Fault(file=name, line=line, text=text, message=message))
    return columns


def _ticket(texts: dict[str, str], row: int) -> Ticket:
    """Raises ValueError, with what is wrong."""
    if not texts.get("ticket"):
        raise ValueError("the row has no ticket number.")
    loads = _number(texts, "loads")
    volume, weight = _number(texts, "volume"), _number(texts, "weight")
    if volume is None and weight is None:
        raise ValueError("the ticket has neither volume nor weight.")
    count = 1.0 if loads is None else loads
    if count != int(count) or count < 1:
        raise ValueError(f"{count:g} loads: a whole number from 1 on is wanted.")
    return Ticket(
        ticket=texts["ticket"],
        time=texts.get("time", ""),
        loads=int(count),
        volume=volume,
        weight=weight,
        row=row,
    )


def _number(texts: dict[str, str], column: str) -> float | None:
    text = texts.get(column, "")
    if not text:
        return None
    try:
        value = float(text)
    except ValueError:
        raise ValueError(f'{column} "{printed(text, 20)}" is not a number.') from None
    if not 0.0 <= value <= LARGEST:
        raise ValueError(f"{column} {printed(text, 20)}: no truck takes that.")
    return value
