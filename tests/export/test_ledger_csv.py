"""The CSV ledger: reads back to the ledger's own figures and runs nothing."""

import csv
import io

import pytest

from terrain.export.ledger_csv import ledger_csv
from tests.made_answer import made_volumes


def read_back(volumes):
    return list(csv.DictReader(io.StringIO(ledger_csv(volumes), newline=""), strict=True))


def test_every_row_reads_back_to_the_last_bit():
    volumes = made_volumes()
    ledger, rows = volumes.ledger, read_back(volumes)
    parts = [r for r in rows if r["row"] == "part"]
    wanted = [
        (w.wall, part, getattr(w.parts, part))
        for w in ledger.walls
        for part in ("core", "overdig", "side", "footing")
    ]
    assert [(r["name"], r["part"], float(r["bank (yd3)"])) for r in parts] == wanted
    walls = [r for r in rows if r["row"] == "wall"]
    for row, wall in zip(walls, ledger.walls, strict=True):
        assert float(row["bank (yd3)"]) == wall.quantity.bank
        assert float(row["loose (yd3)"]) == wall.quantity.loose
        assert float(row["compacted (yd3)"]) == wall.quantity.compacted
        assert float(row["of which topsoil, bank (yd3)"]) == wall.topsoil
        assert float(row["bank plus or minus, 95 % (yd3)"]) == wall.bank_plus_minus_95
        assert float(row["deepest cut (ft)"]) == wall.deepest
    extras = [r for r in rows if r["row"] in ("pit", "ramp", "trench")]
    assert [(r["row"], r["name"], float(r["bank (yd3)"])) for r in extras] == [
        (p.kind, p.name, p.quantity.bank) for p in ledger.pits
    ]
    assert rows[-1]["row"] == "total"
    assert float(rows[-1]["bank (yd3)"]) == ledger.total.quantity.bank
    assert rows[-1]["truck loads"] == str(ledger.total.loads)


def test_what_the_answer_does_not_have_is_left_empty():
    total = read_back(made_volumes(doubt=None, truck=None))[-1]
    assert total["bank plus or minus, 95 % (yd3)"] == ""
    assert total["truck loads"] == ""


@pytest.mark.parametrize(
    "name", ["=cmd|' /C calc'!A0", "+1", "-1", "@SUM(A1)", "\t=1+1", "  =1+1", "＝1+1", "\r=1"]
)
def test_a_name_that_a_spreadsheet_would_run_is_text(name):
    rows = read_back(made_volumes(walls=(name, "right", "clip", "back", "left")))
    names = {r["name"] for r in rows[:5]}
    assert len(names) == 1
    assert names.pop().startswith("'")


@pytest.mark.parametrize("name", ['the "long" one, east', "süd; 1/2", "a\nb", "front"])
def test_other_names_read_back_as_they_are_on_one_line(name):
    rows = read_back(made_volumes(walls=(name, "right", "clip", "back", "left")))
    assert rows[0]["name"] == name.replace("\n", " ")
