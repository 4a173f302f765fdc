"""The finished lot on a terminal of 80 columns."""

from collections.abc import Iterator
from functools import partial

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.table import Table
from rich.text import Text

from terrain.job.grade_answer import GradeAnswer
from terrain.ledger.lot_rows import LotRow
from terrain.report import figures
from terrain.report.grouping import said_once
from terrain.report.lot_falls import (
    COLUMNS as FALL_COLUMNS,
)
from terrain.report.lot_falls import (
    falls_reasons,
    falls_rows,
    falls_told,
    falls_verdict,
)
from terrain.report.lot_words import money_words, pond_words, topsoil_words
from terrain.report.names import encodable, plain, shortened
from terrain.report.table import WIDEST, Say, caution_text, print_listed

COLUMNS = ("takes out", "backfill", "grade fill", "stone", "surplus")
NAME_ROOM = 18


def show_grade(answer: GradeAnswer, console: Console) -> None:
    """Print each side, the lot, where it balances, and cautions; no line over 80 columns."""
    say = partial(encodable, encoding=console.encoding)
    width = min(console.width, WIDEST)
    unit = figures.unit_sign(answer.volume_unit)
    console.print(Text(say(plain(answer.title)), style="bold"), width=width)
    for line in _leads(answer):
        console.print(Text(say(line), style="bold"), width=width)
    told = (
        f"\nAll in {unit}. Takes out and surplus: bank, as it lies in the ground. Backfill and "
        "grade fill: compacted, in place. Surplus: + is left over, − is lacking on that side."
    )
    console.print(Text(say(told), style="dim"), width=width)
    console.print(_table(answer.walls, say), width=width)
    for line in (*_lot(answer), *_balance(answer)):
        console.print(Text(say(line)), width=width)
    _show_falls(answer, console, say)
    if answer.cautions:
        console.print(Text("\nBe careful", style="bold"))
    for said in said_once(answer.cautions):
        print_listed(caution_text(said, say), console, width)
    if answer.notes:
        console.print(Text("\nNotes", style="bold"))
    for note in answer.notes:
        print_listed(Text(say(plain(note))), console, width)


def _show_falls(answer: GradeAnswer, console: Console, say: Say) -> None:
    """The fall from the house by wall, and why walls differ."""
    if not answer.drainage.walls:
        return
    width = min(console.width, WIDEST)
    console.print(Text("\nFall from the house", style="bold"), width=width)
    console.print(Text(say(falls_told(answer)), style="dim"), width=width)
    table = _empty(FALL_COLUMNS, "least")
    rows = falls_rows(answer)
    if any(state for _, state, _ in rows):
        table.add_column("")
    for name, state, cells in rows:
        table.add_row(Text(_name(name, say)), *map(say, cells), *filter(None, [state]))
    console.print(table, width=width)
    for reason in falls_reasons(answer):
        print_listed(Text(say(reason)), console, width)


def _table(rows: tuple[LotRow, ...], say: Say) -> Table:
    table = _empty(COLUMNS, "surplus")
    for row in rows:
        table.add_row(
            Text(_name(plain(row.wall), say)),
            *map(
                say,
                (
                    figures.volume(row.cut),
                    figures.volume(row.backfill.compacted),
                    figures.volume(row.grade_fill.compacted),
                    figures.volume(row.stone),
                    figures.signed(row.surplus),
                ),
            ),
        )
    return table


def _name(name: str, say: Say) -> str:
    return say(shortened(say(name), NAME_ROOM))


def _empty(columns: tuple[str, ...], main: str) -> Table:
    """A table without rows: the side, and a column of figures for each name."""
    table = Table(box=SIMPLE_HEAD, show_edge=False, pad_edge=False, padding=(0, 1, 0, 0))
    table.add_column("side", no_wrap=True, overflow="crop")
    for column in columns:
        table.add_column(column, justify="right", style="bold" if column == main else "")
    return table


def _leads(answer: GradeAnswer) -> Iterator[str]:
    """What leaves or comes, topsoil apart, and whether the ground falls away from the house."""
    lot, unit = answer.lot, figures.unit_sign(answer.volume_unit)
    moved = [
        f"{word} {figures.volume(bank)} {unit} bank"
        for word, bank in (("haul off", lot.haul_bank), ("bring in", lot.import_bank))
        if bank > 0
    ]
    loads = "" if lot.loads is None else f", {figures.counted(lot.loads, 'truck load')}"
    yield "The lot: " + (" and ".join(moved) or "nothing to haul either way") + loads
    topsoil = topsoil_words(answer)
    if topsoil is not None:
        extra = "" if topsoil["loads"] is None else f", {topsoil['loads']} {topsoil['if_moved']}"
        yield (
            f"and topsoil, not counted there: {topsoil['bank']} {unit} bank {topsoil['way']}"
            f"{extra} ({figures.volume(lot.topsoil_strip)} stripped, "
            f"{figures.volume(lot.topsoil_respread)} put back)"
        )
    verdict = falls_verdict(answer)
    yield from filter(None, (verdict, pond_words(answer)))


def _lot(answer: GradeAnswer) -> Iterator[str]:
    lot = answer.lot
    yield (
        f"\nFinished against existing ground: cut {figures.volume(lot.cut)} bank, fill "
        f"{figures.volume(lot.fill)} compacted"
    )
    structure = answer.structure
    yield (
        f"Footing {figures.volume(structure.footing)}, wall {figures.volume(structure.wall)}, "
        f"stone outside {figures.volume(structure.stone)}, base under the slab "
        f"{figures.volume(structure.slab_base)}"
    )
    if answer.doubts is not None:
        lot_doubt = answer.doubts.lot
        yield (
            f"The lot's surplus ± {figures.plus_minus(lot_doubt.surplus.together)}, backfill ± "
            f"{figures.plus_minus(lot_doubt.backfill.together)}, grade fill ± "
            f"{figures.plus_minus(lot_doubt.grade_fill.together)} (19 times in 20). Those of "
            "sides do not add"
        )


def _balance(answer: GradeAnswer) -> Iterator[str]:
    balance = answer.balance
    yield "It balances with the wall grade at " + _elevation(
        balance.wall_grade, balance.wall_grade_reason, answer.length_unit
    )
    yield "or, the house moved as a whole, with the dig floor at " + _elevation(
        balance.floor, balance.floor_reason, answer.length_unit
    )
    yield from _worth(answer)


def _elevation(found: float | None, reason: str | None, length_unit: str) -> str:
    if found is None:
        return f"no elevation: {reason}"
    return figures.coordinate(found, length_unit)


def _worth(answer: GradeAnswer) -> Iterator[str]:
    balance = answer.balance
    if balance.loads_a_step is None:
        return
    unit = figures.unit_sign(answer.length_unit)
    worth = f"{figures.volume(balance.loads_a_step)} loads"
    if balance.money_a_step is not None:
        worth += f", {money_words(answer, balance.money_a_step)}"
    yield f"Each {balance.step:g} {unit} of wall grade is worth {worth}"
