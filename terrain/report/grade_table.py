"""The finished lot on a terminal of 80 columns."""

from collections.abc import Iterator
from functools import partial

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.table import Table
from rich.text import Text

from terrain.job.balance import Balance
from terrain.job.grade_answer import GradeAnswer
from terrain.ledger.lot_rows import LotRow
from terrain.report import figures
from terrain.report.grouping import said_once
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
    told = (
        f"All in {unit}. Takes out and surplus: bank, as it lies in the ground. Backfill and "
        "grade fill: compacted, in place. Surplus: + is left over, - is lacking on that side."
    )
    console.print(Text(say(told), style="dim"), width=width)
    console.print(_table(answer.walls, say), width=width)
    for line in (*_lot(answer), *_balance(answer)):
        console.print(Text(say(line)), width=width)
    if answer.cautions:
        console.print(Text("\nBe careful", style="bold"))
    for said in said_once(answer.cautions):
        print_listed(caution_text(said, say), console, width)
    if answer.notes:
        console.print(Text("\nNotes", style="bold"))
    for note in answer.notes:
        print_listed(Text(say(plain(note))), console, width)


def _table(rows: tuple[LotRow, ...], say: Say) -> Table:
    table = Table(box=SIMPLE_HEAD, show_edge=False, pad_edge=False, padding=(0, 1, 0, 0))
    table.add_column("side", no_wrap=True, overflow="crop")
    for column in COLUMNS:
        table.add_column(column, justify="right", style="bold" if column == "surplus" else "")
    for row in rows:
        table.add_row(
            Text(say(shortened(say(plain(row.wall)), NAME_ROOM))),
            figures.volume(row.cut),
            figures.volume(row.backfill.compacted),
            figures.volume(row.grade_fill.compacted),
            figures.volume(row.stone),
            figures.signed(row.surplus),
        )
    return table


def _lot(answer: GradeAnswer) -> Iterator[str]:
    lot, unit = answer.lot, figures.unit_sign(answer.volume_unit)
    yield (
        f"\nFinished against existing ground: cut {figures.volume(lot.cut)} bank, fill "
        f"{figures.volume(lot.fill)} compacted {unit}"
    )
    yield (
        f"Topsoil: {figures.volume(lot.topsoil_strip)} stripped, "
        f"{figures.volume(lot.topsoil_respread)} put back"
    )
    structure = answer.structure
    yield (
        f"Footing {figures.volume(structure.footing)}, wall {figures.volume(structure.wall)}, "
        f"stone outside {figures.volume(structure.stone)}, base under the slab "
        f"{figures.volume(structure.slab_base)}"
    )
    moved = [
        f"{word} {figures.volume(bank)} bank {unit}"
        for word, bank in (("haul off", lot.haul_bank), ("bring in", lot.import_bank))
        if bank > 0
    ]
    loads = "" if lot.loads is None else f", {figures.count(lot.loads)} truck loads"
    yield "The lot: " + (" and ".join(moved) or "nothing to haul either way") + loads
    if answer.doubts is not None:
        lot_doubt = answer.doubts.lot
        yield (
            f"Its surplus ± {figures.plus_minus(lot_doubt.surplus.together)}, backfill ± "
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
    yield from _worth(balance, answer.length_unit)


def _elevation(found: float | None, reason: str | None, length_unit: str) -> str:
    if found is None:
        return f"no elevation: {reason}"
    return figures.coordinate(found, length_unit)


def _worth(balance: Balance, length_unit: str) -> Iterator[str]:
    if balance.loads_a_step is None:
        return
    unit = figures.unit_sign(length_unit)
    money = "" if balance.money_a_step is None else f", {balance.money_a_step:,.0f} in money"
    loads = f"{balance.loads_a_step:.1f} loads"
    yield f"Each {balance.step:g} {unit} of wall grade is worth {loads}{money}"
