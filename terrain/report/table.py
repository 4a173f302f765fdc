"""The answer on a terminal of 80 columns."""

from collections.abc import Callable, Iterator
from functools import partial
from typing import TypeAlias

from rich.box import SIMPLE_HEAD
from rich.cells import cell_len
from rich.console import Console, RenderableType
from rich.table import Table
from rich.text import Text

from terrain.job.answer import Volumes
from terrain.ledger.entries import Ledger, Quantity
from terrain.report import figures
from terrain.report.answer_words import (
    deepest_words,
    doubt_from,
    leaving,
    range_words,
    warning_words,
)
from terrain.report.doubt import doubt_lines
from terrain.report.grouping import Said, said_once
from terrain.report.names import encodable, plain, shortened

WIDEST = 80
FEWEST_LETTERS = 7
NARROWEST_NAME = 12
COMFORTABLE_NAME = 20
MEASURES = ("bank", "loose", "compacted")
PARTS = ("core", "overdig", "side", "footing")

Say: TypeAlias = Callable[[str], str]


def show_volumes(volumes: Volumes, console: Console) -> None:
    """Print title, ledger, answer and cautions; no line is wider than 80 columns.

    Names are printed as text whatever they hold: neither markup nor control characters work, and
    signs the terminal's encoding lacks are written plainer.
    """
    say = partial(encodable, encoding=console.encoding)
    width = min(console.width, WIDEST)
    for part in _answer(volumes, width, say):
        console.print(part, width=width)
    if volumes.ledger.cautions:
        console.print(Text("\nBe careful", style="bold"))
    for said in said_once(volumes.ledger.cautions):
        print_listed(caution_text(said, say), console, width)


def _answer(volumes: Volumes, width: int, say: Say) -> Iterator[RenderableType]:
    ledger = volumes.ledger
    yield Text(say(plain(ledger.title)), style="bold")
    unit = figures.unit_sign(ledger.volume_unit)
    yield Text(
        say(
            f"All in {unit}. Bank: as it lies in the ground. Loose: in the truck. "
            f"Compacted: packed back. Core to {_parts(ledger)[-1]}: where the bank volume lies."
        ),
        style="dim",
    )
    yield from _tables(ledger, width, say)
    yield from _facts(volumes, say)


def _tables(ledger: Ledger, width: int, say: Say) -> Iterator[Table]:
    """One table, or several with fewer columns where the figures are too wide for one."""
    rows = _rows(ledger)
    for columns in _groups(rows, _parts(ledger), width):
        own = [row for row in rows if any(column in row for column in columns)]
        yield _table(own, columns, width, say)


def _parts(ledger: Ledger) -> tuple[str, ...]:
    """The parts that have a column: footing only where its trenches are dug."""
    has_footing = any(row.parts.footing > 0 for row in ledger.walls)
    return PARTS if has_footing else PARTS[:-1]


def _groups(
    rows: list[dict[str, str]], parts: tuple[str, ...], width: int
) -> list[tuple[str, ...]]:
    if _room_for_names(rows, (*MEASURES, *parts), width, 1) >= NARROWEST_NAME:
        return [(*MEASURES, *parts)]
    return [*_halved(rows, MEASURES, width), *_halved(rows, parts, width)]


def _halved(
    rows: list[dict[str, str]], columns: tuple[str, ...], width: int
) -> list[tuple[str, ...]]:
    """The columns in as few groups as leave the names at least a few letters."""
    if len(columns) == 1 or _room_for_names(rows, columns, width, 1) >= FEWEST_LETTERS:
        return [columns]
    middle = len(columns) // 2
    left, right = columns[:middle], columns[middle:]
    return [*_halved(rows, left, width), *_halved(rows, right, width)]


def _rows(ledger: Ledger) -> list[dict[str, str]]:
    """What stands in each row, by column; the total comes last."""
    walls = [
        {"name": row.wall}
        | _measures(row.quantity)
        | {part: figures.volume(getattr(row.parts, part)) for part in PARTS}
        for row in ledger.walls
    ]
    pits = [
        {"name": row.name, "kind": f" ({row.kind})"} | _measures(row.quantity)
        for row in ledger.pits
    ]
    return [*walls, *pits, {"name": "total"} | _measures(ledger.total.quantity)]


def _measures(quantity: Quantity) -> dict[str, str]:
    return {measure: figures.volume(getattr(quantity, measure)) for measure in MEASURES}


def _column_width(rows: list[dict[str, str]], column: str) -> int:
    return max(len(column), *(len(row.get(column, "")) for row in rows))


def _room_for_names(
    rows: list[dict[str, str]], columns: tuple[str, ...], width: int, gap: int
) -> int:
    return width - sum(_column_width(rows, column) + gap for column in columns)


def _name(row: dict[str, str], room: int, say: Say) -> str:
    """The row's name, and its kind where there is room for both, in `room` columns."""
    kind = row.get("kind", "")
    if room - cell_len(kind) < NARROWEST_NAME:
        kind = ""
    return say(shortened(say(plain(row["name"])), room - cell_len(kind))) + kind


def _table(rows: list[dict[str, str]], columns: tuple[str, ...], width: int, say: Say) -> Table:
    gap = 2 if _room_for_names(rows, columns, width, 2) >= COMFORTABLE_NAME else 1
    room = max(_room_for_names(rows, columns, width, gap), FEWEST_LETTERS)
    table = Table(box=SIMPLE_HEAD, show_edge=False, pad_edge=False, padding=(0, gap - 1, 0, 0))
    table.add_column("wall", no_wrap=True, overflow="crop")
    for column in columns:
        table.add_column(
            column,
            justify="right",
            overflow="fold",
            min_width=_column_width(rows, column),
            style="bold" if column == "bank" else "",
        )
    for row in rows:
        if row is rows[-1] and "bank" in columns:
            table.add_section()
        table.add_row(
            Text(_name(row, room, say)), *(Text(row.get(column, "")) for column in columns)
        )
    return table


def _facts(volumes: Volumes, say: Say) -> Iterator[Text]:
    """The answer in words: what comes out, its doubt, the loads, the opening and the depth."""
    ledger, truck = volumes.ledger, volumes.truck
    total, unit = ledger.total, figures.unit_sign(ledger.volume_unit)
    bank = f"\nBank {figures.volume(total.quantity.bank)} {unit}"
    if total.bank_plus_minus_95 is not None:
        bank += f" ± {figures.plus_minus(total.bank_plus_minus_95)} {unit} (19 times in 20)"
    yield Text(say(bank), style="bold")
    for warning in warning_words(volumes.warnings):
        yield Text(say(f"! {warning}"), style="bold")
    if total.doubt is not None and total.doubt.together is not None:
        yield Text(say(f"The ± is {doubt_from(total.doubt)}."))
    for line in doubt_lines(total.doubt, volumes.doubt, ledger.length_unit):
        yield Text(say(line))
    if total.loads is None or truck is None:
        yield Text("No loads: the job gives no haul.truck", style="bold")
    else:
        loads = figures.counted(total.loads, "truck load")
        yield Text(say(f"{loads} of {truck:g} {unit} if all of it leaves"), style="bold")
        if total.loads:
            yield Text(say(str(leaving(volumes))))
    if beside := range_words(volumes):
        yield Text(say(beside))
    area = f"{figures.volume(ledger.daylight_area)} {figures.area_unit(ledger.length_unit)}"
    deepest = figures.length(ledger.deepest_cut, ledger.length_unit)
    length_unit = figures.unit_sign(ledger.length_unit)
    at = deepest_words(volumes)
    yield Text(
        say(f"Opening at the ground {area}, deepest cut {deepest} {length_unit}{at and ' ' + at}")
    )


def caution_text(said: Said, say: Say) -> Text:
    """A caution after its wall's name, with the walls of which it says the same.

    Conditions and the rows of those that a rule is about stand on lines of their own.
    """
    text = Text()
    if said.wall is not None:
        text.append(say(plain(said.wall)) + ": ", style="bold")
    text.append(say(plain(said.message)))
    if said.also:
        text.append(say(f" The same holds for {', '.join(map(plain, said.also))}."))
    for point in said.points:
        text.append(say(f"\n{plain(point)}"))
    for names, own in said.rows:
        text.append("\n").append(say(", ".join(map(plain, names))), style="bold")
        text.append(say(f": {plain(own)}" if own else ""))
    return text


def print_listed(text: Text, console: Console, width: int, first: str = "  - ") -> None:
    """Print the text wrapped behind a dash, its further paragraphs each behind a star.

    `first` goes before it instead of the dash. Lines have no blanks at their ends.
    """
    for part, paragraph in enumerate(text.split("\n")):
        mark = first if part == 0 else "    * "
        for place, line in enumerate(paragraph.wrap(console, width - len(mark))):
            line.rstrip()
            before = mark if place == 0 else " " * len(mark)
            console.print(Text(before).append_text(line), width=width)
