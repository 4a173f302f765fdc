"""The terminal table: 80 columns whatever the names, the ledger's figures, nothing run."""

import io

import pytest
from rich.cells import cell_len
from rich.console import Console

from terrain.report import figures
from terrain.report.table import show_volumes
from tests.made_answer import made_volumes, with_ledger

ODD_NAMES = (
    "a" * 300,
    "north east wall beside the old apple tree that must stay, next to the shed",
    "[red]a[/red][/]",
    "\x1b[31mred\x1b[0m\x07\x08\r\n\tend",
    "北の壁" * 20,
    "e\u0301" * 60,
    "\u202eesrever\u202c\u200b\u2066",
    "",
    "=1+1",
)


def printed(volumes, width=80, **console):
    out = io.StringIO()
    show_volumes(volumes, Console(file=out, width=width, **console))
    return out.getvalue()


@pytest.mark.parametrize("width", [80, 132])
def test_no_line_is_over_80_columns_whatever_the_names(width):
    text = printed(made_volumes(walls=ODD_NAMES, title="t" * 200), width)
    assert max(cell_len(line) for line in text.splitlines()) <= 80


def test_no_line_is_over_80_columns_whatever_the_figures():
    volumes = made_volumes()
    wall = volumes.ledger.walls[0]
    huge = type(wall.quantity)(bank=1e14, loose=1e14, compacted=1e14)
    walls = tuple(
        type(wall)(
            wall="w" * 50, quantity=huge, topsoil=0.0, bank_plus_minus_95=None,
            plan_area=1.0, deepest=1.0,
            parts=type(wall.parts)(core=1e14, overdig=1e14, side=1e14, footing=1e14),
        )
        for _ in range(3)
    )  # fmt: skip
    text = printed(with_ledger(volumes, walls=walls))
    assert max(cell_len(line) for line in text.splitlines()) <= 80
    assert text.count("100,000,000,000,000") == 3 * 7


def test_names_are_text_and_move_no_cursor():
    text = printed(made_volumes(walls=ODD_NAMES))
    assert "[red]a[/red][/]" in text
    assert not any(c in text for c in "\x1b\x07\x08\r\t\u202e\u200b")


def test_each_row_shows_the_ledgers_own_figures():
    ledger = made_volumes().ledger
    lines = printed(made_volumes()).splitlines()
    for row in ledger.walls:
        cells = next(line.split() for line in lines if line.startswith(row.wall))
        parts = (row.parts.core, row.parts.overdig, row.parts.side, row.parts.footing)
        measures = (row.quantity.bank, row.quantity.loose, row.quantity.compacted)
        assert cells[1:] == [figures.volume(v) for v in (*measures, *parts)]
    for row in ledger.pits:
        line = next(line for line in lines if line.startswith(row.name))
        assert f"({row.kind})" in line
        assert figures.volume(row.quantity.bank) in line.split()
    total = next(line.split() for line in lines if line.startswith("total"))
    assert total[1] == figures.volume(ledger.total.quantity.bank)
    answer = next(line for line in lines if line.startswith("Bank "))
    assert f"± {figures.volume(ledger.total.bank_plus_minus_95)}" in answer
    assert f"{ledger.total.loads} truck loads of 14 yd³ if all of it leaves" in lines


def test_without_accuracy_or_truck_neither_is_claimed():
    text = printed(made_volumes(doubt=None, truck=None))
    assert "±" not in text
    assert "No loads: the job gives no haul.truck" in text
    assert "truck load" not in text


def test_colour_only_on_a_terminal_and_never_against_the_users_wish(monkeypatch):
    assert "\x1b" not in printed(made_volumes())
    assert "\x1b[1m" in printed(made_volumes(), force_terminal=True, color_system="standard")
    monkeypatch.setenv("NO_COLOR", "1")
    text = printed(made_volumes(), force_terminal=True, color_system="standard")
    assert "\x1b[3" not in text


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "cp437"])
def test_an_old_terminal_gets_plainer_signs_and_no_traceback(encoding):
    raw = io.BytesIO()
    out = io.TextIOWrapper(raw, encoding=encoding)
    show_volumes(made_volumes(walls=ODD_NAMES), Console(file=out, width=80))
    out.flush()
    text = raw.getvalue().decode(encoding)
    assert "front" not in text
    assert max(len(line) for line in text.splitlines()) <= 80


def test_figures_are_never_cut_on_a_narrow_terminal():
    text = printed(made_volumes(), width=30)
    back = made_volumes().ledger.walls[3]
    assert figures.volume(back.quantity.compacted) in text
    assert figures.volume(back.parts.footing) in text
