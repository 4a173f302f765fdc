"""A statement as a workbook: the same figures as its JSON, numbers as numbers, text as text.

Written by openpyxl with the period's end for every date in it, and packed anew with one fixed time,
so that the same statement gives the same bytes.
"""

import datetime
import io
import re
import zipfile
from decimal import Decimal

from openpyxl import Workbook
from openpyxl.cell.cell import TYPE_NUMERIC, TYPE_STRING
from openpyxl.styles import Alignment, Font
from openpyxl.worksheet.worksheet import Worksheet

from terrain.billing.haulage import Reconciled
from terrain.billing.record import Statement
from terrain.export.text import inert, plain
from terrain.job.reasons import Reasons
from terrain.job.reckoning import Reckoning

HEAD = (
    "Item", "Of", "Basis", "Unit", "To date", "Plus or minus 95 %", "Before", "This period",
    "Price", "Amount", "Amount to date",
)  # fmt: skip
WIDTHS = (28, 16, 16, 12, 12, 12, 12, 12, 12, 14, 14)
NUMBER = "#,##0.00##"
_PACKED = (1980, 1, 1, 0, 0, 0)


def statement_xlsx(statement: Statement, beside: Reckoning | None = None) -> bytes:
    """The workbook's bytes: a sheet with lines and sums, one with what it rests on.

    With what stands beside it, a sheet of the reasons why it differs from the bid and one of the
    truck tickets, as far as there are any.
    """
    book = Workbook()
    day = datetime.datetime.fromisoformat(statement.end)
    book.properties.created = book.properties.modified = day
    book.properties.creator = "spoilbank"
    book.properties.title = plain(statement.title)
    sheet = book.active
    assert isinstance(sheet, Worksheet)
    sheet.title = "Statement"
    _lines(sheet, statement)
    if beside is not None and beside.reasons is not None:
        _reasons(book.create_sheet("Reasons"), beside.reasons, beside.unit)
    if beside is not None and beside.tickets is not None:
        _tickets(book.create_sheet("Tickets"), beside.tickets, beside.unit)
    _rests_on(book.create_sheet("Rests on"), statement)
    return _same_bytes(book)


def _lines(sheet: Worksheet, statement: Statement) -> None:
    kind = "Draft of statement" if statement.is_draft else "Statement"
    more = "" if statement.corrects is None else f", correcting {statement.corrects}"
    rows = (
        f"{kind} {statement.number}{more}",
        plain(statement.title),
        f"From {plain(statement.from_)} to {plain(statement.to)}",
        f"Period {statement.period}, to {statement.end}, in {plain(statement.currency)}",
    )
    for row, text in enumerate(rows, start=1):
        _text(sheet, row, 1, text)
        sheet.cell(row, 1).font = Font(bold=row == 1, size=14 if row == 1 else 11)
    top = len(rows) + 2
    for column, (name, width) in enumerate(zip(HEAD, WIDTHS, strict=True), start=1):
        _text(sheet, top, column, name)
        sheet.cell(top, column).font = Font(bold=True)
        sheet.cell(top, column).alignment = Alignment(wrap_text=True, vertical="top")
        sheet.column_dimensions[sheet.cell(top, column).column_letter].width = width
    for row, line in enumerate(statement.lines, start=top + 1):
        for column, text in enumerate((line.item, line.of, line.basis, line.unit), start=1):
            _text(sheet, row, column, plain(text))
        figures = (
            line.quantity, line.plus_minus_95, line.previous, line.this_period, line.price,
            line.amount, line.amount_to_date,
        )  # fmt: skip
        for column, value in enumerate(figures, start=5):
            _number(sheet, row, column, value)
    row = top + len(statement.lines) + 2
    for name in ("subtotal", "tax", "retainage", "total", "total_to_date"):
        _text(sheet, row, 9, name.replace("_", " "))
        _number(sheet, row, 10, getattr(statement, name))
        sheet.cell(row, 10).font = Font(bold=name == "total")
        row += 1


def _reasons(sheet: Worksheet, found: Reasons, unit: str) -> None:
    """A row a part of each wall's change, so that a filter or a pivot can take it."""
    head = ("Wall, pit, ramp or trench", "Part", f"{unit} {found.measure}", "Significant")
    for column, (text, width) in enumerate(zip(head, (30, 14, 14, 14), strict=True), start=1):
        _text(sheet, 1, column, text)
        sheet.cell(1, column).font = Font(bold=True)
        sheet.column_dimensions[sheet.cell(1, column).column_letter].width = width
    sure = {True: "yes", False: "no", None: "not known"}
    row = 2
    for one in (*found.rows, found.whole):
        parts = [(p.part, p.change, sure[p.is_significant]) for p in one.parts]
        for part, value, told in (("bid", one.bid, ""), *parts, ("billed", one.billed, "")):
            _text(sheet, row, 1, plain(one.name))
            _text(sheet, row, 2, part)
            _number(sheet, row, 3, value)
            _text(sheet, row, 4, told)
            row += 1


def _tickets(sheet: Worksheet, found: Reconciled, unit: str) -> None:
    own = found.haulage
    figures = (
        ("Tickets", own.tickets),
        ("Loads", own.loads),
        (f"{unit} loose by tickets", own.loose),
        (f"{unit} bank measured", found.bank),
        ("Plus or minus 95 %", found.bank_plus_minus_95),
        ("Swell the tickets imply", found.swell),
        ("Plus or minus 95 %", found.swell_plus_minus_95),
        (f"{unit} loose expected", found.expected_loose),
        ("Difference", found.difference),
    )
    for row, (text, value) in enumerate(figures, start=1):
        _text(sheet, row, 1, text)
        _number(sheet, row, 2, value)
    within = {True: "yes", False: "no", None: "not known"}[found.is_within]
    texts = (
        ("Within the doubt", within),
        ("Given twice, counted once", ", ".join(own.double)),
        ("Missing", ", ".join(own.missing)),
    )
    for row, (text, told) in enumerate(texts, start=len(figures) + 1):
        _text(sheet, row, 1, text)
        _text(sheet, row, 2, plain(told))
    sheet.column_dimensions["A"].width = 30
    sheet.column_dimensions["B"].width = 30


def _rests_on(sheet: Worksheet, statement: Statement) -> None:
    rows: list[tuple[str, str]] = [("Software", f"spoilbank {statement.version}")]
    if statement.survey is not None:
        rows.append(("Survey of", statement.survey))
    rows += [(plain(one.name), one.sha256) for one in statement.inputs]
    rows += [("Hash of the statement before", statement.previous_hash or "none: a draft")]
    rows += [("Hash of this statement", statement.hash or "none: a draft")]
    rows += [("Note", plain(note)) for note in statement.notes]
    for row, (name, value) in enumerate(rows, start=1):
        _text(sheet, row, 1, name)
        _text(sheet, row, 2, value)
    sheet.column_dimensions["A"].width = 30
    sheet.column_dimensions["B"].width = 90


def _text(sheet: Worksheet, row: int, column: int, text: str) -> None:
    """A cell of text whatever the text begins with: never a formula."""
    cell = sheet.cell(row, column)
    cell.value = text
    cell.data_type = TYPE_STRING
    cell.quotePrefix = inert(text) != text  # text it stays, too, when somebody edits the cell


def _number(sheet: Worksheet, row: int, column: int, value: Decimal | float | None) -> None:
    if value is None:
        return
    cell = sheet.cell(row, column)
    cell.value = value
    cell.data_type = TYPE_NUMERIC
    cell.number_format = NUMBER


def _same_bytes(book: Workbook) -> bytes:
    first, packed = io.BytesIO(), io.BytesIO()
    book.save(first)
    day = book.properties.created
    with zipfile.ZipFile(first) as old, zipfile.ZipFile(packed, "w") as new:
        for name in sorted(old.namelist()):
            content = old.read(name)
            if name == "docProps/core.xml":  # saving sets the time of the change itself
                content = _dated(content.decode(), day).encode()
            info = zipfile.ZipInfo(name, date_time=_PACKED)
            info.compress_type = zipfile.ZIP_DEFLATED
            new.writestr(info, content)
    return packed.getvalue()


def _dated(text: str, day: datetime.datetime | None) -> str:
    stamp = "" if day is None else day.strftime("%Y-%m-%dT00:00:00Z")
    return re.sub(r"(<dcterms:modified[^>]*>)[^<]*", rf"\g<1>{stamp}", text)
