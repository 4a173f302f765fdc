"""Statements cent for cent as worked out by hand in fixtures/statements, and what refuses to be."""

import csv
import json
import os
import re
import signal
import sqlite3
import subprocess
import time
import tomllib
from decimal import Decimal
from itertools import pairwise
from pathlib import Path

import pytest

from terrain.base.errors import SpoilbankError
from terrain.billing import register as register_module
from terrain.billing.binding import FIRST
from terrain.export.statement_pdf import statement_pdf
from terrain.export.statement_xlsx import statement_xlsx
from terrain.job.asdug_tables import AsDug
from terrain.job.billing_rules import billing_rules
from terrain.job.billing_tables import Billing
from terrain.job.kept import inputs_of, issued_now, register_of
from terrain.job.load import load_job
from terrain.job.statement import StatementAsked, drafted, recomputed
from tests.billing.made_bill import ITEMS, PERIODS, bill_job
from tests.billing.sheets import read_book
from tests.cli.test_commands import COMMAND, run

BY_HAND = {
    1: (["308.15", "308.15", "59.26"], ["2927.43", "308.15", "118.52"],
        ("3354.10", "234.79", "335.41", "3253.48")),
    2: (["612.74", "616.30", "120.89"], ["2893.60", "308.15", "123.26"],
        ("3325.01", "232.75", "332.50", "3225.26")),
    3: (["616.30", "616.30", "118.52"], ["33.82", "0.00", "-4.74"],
        ("29.08", "2.04", "2.91", "28.21")),
}  # fmt: skip


def quiet(stage):
    """Say nothing."""


def draft(path, **asked):
    return drafted(load_job(path), StatementAsked(**asked), quiet)


def issue(path, **asked):
    job = load_job(path)
    return issued_now(job, drafted(job, StatementAsked(**asked), quiet))


def shown(statement):
    sums = (statement.subtotal, statement.tax, statement.retainage, statement.total)
    return (
        [str(line.quantity) for line in statement.lines],
        [str(line.amount) for line in statement.lines],
        tuple(str(value) for value in sums),
    )


def test_three_periods_and_a_correction_are_those_worked_out_by_hand(tmp_path):
    path = bill_job(tmp_path)
    for number, by_hand in BY_HAND.items():
        statement = issue(path)
        assert (statement.number, statement.period) == (number, number)
        assert shown(statement) == by_hand, number
    items = [ITEMS[0] | {"price": "9.60"}, *ITEMS[1:]]
    corrected = issue(bill_job(tmp_path, items=items), corrects=3)
    assert corrected.corrects == 3
    assert [str(line.amount) for line in corrected.lines] == ["61.63", "0.00", "0.00"]
    assert shown(corrected)[2] == ("61.63", "4.31", "6.16", "59.78")
    four = register_of(load_job(path)).statements()
    assert [one.number for one in four] == [1, 2, 3, 4]
    assert four[0].previous_hash == FIRST
    assert all(b.previous_hash == a.hash for a, b in pairwise(four))
    assert recomputed(load_job(path), quiet) == ()
    paid = sum((line.amount for one in four for line in one.lines[:1]), Decimal(0))
    assert paid == four[-1].lines[0].amount_to_date == Decimal("5916.48")


def test_a_draft_is_in_no_register_and_the_same_job_gives_the_same_draft(tmp_path):
    path = bill_job(tmp_path)
    one = draft(path)
    assert one.is_draft
    assert one == draft(path)
    assert not register_of(load_job(path)).folder.exists()


def test_neat_between_the_footings_edges_pays_no_room_no_slope_and_nothing_deeper(tmp_path):
    # Neat-line clause (an old sample contract): paid between vertical planes at the
    # footing's outside edges; deeper than plan unpaid.
    path = bill_job(tmp_path, pay_line="footing", items=[ITEMS[0]])
    text = path.read_text().replace(
        "[foundation]\n",
        "[foundation]\nfooting = {width = 1.67, depth = 0.67, projection = 0.5}\n"
        "wall_thickness = 0.67\n",
    )
    path.write_text(text)
    deep = (tmp_path / "may.csv").read_text().replace(",92.0,", ",91.0,")
    (tmp_path / "may.csv").write_text(deep)
    issue(path)
    (line,) = draft(path).lines
    assert float(line.quantity) == pytest.approx(49 * 37 * 8 / 27, abs=0.005)


def test_undercut_that_was_billed_by_a_survey_stays_when_a_share_closes_the_next_period(tmp_path):
    items = [{"item": "undercut", "of": "undercut", "price": "5", "depth": 0.3} | ORDERED]
    periods = [PERIODS[1], {"number": 3, "end": "2027-06-30", "share": 1.0}]
    path = bill_job(tmp_path, items=items, periods=periods)
    june = (tmp_path / "june.csv").read_text()
    (tmp_path / "may.csv").write_text(june.replace(",92.0,", ",91.8,"))
    (first,) = issue(path).lines
    assert float(first.quantity) == pytest.approx(52 * 40 * 0.2 / 27, abs=0.005)
    (second,) = draft(path).lines
    assert (second.quantity, second.amount) == (first.quantity, Decimal("0.00"))


@pytest.mark.parametrize(
    ("basis", "within"),
    [("neat", "topsoil, right wall"), ("as dug", "topsoil, right wall, undercut")],
)
def test_earth_that_two_items_bill_is_told_in_statement_and_bid(tmp_path, basis, within):
    items = [
        {"item": "topsoil", "of": "topsoil", "price": "3"},
        {"item": "dig", "of": "pit", "basis": basis, "price": "9"},
        {"item": "right wall", "of": "right", "price": "1"},
        {"item": "undercut", "of": "undercut", "price": "5", "depth": 1.0} | ORDERED,
        {"item": "trucks", "of": "pit", "basis": "loads", "measure": "loose", "price": "8"},
    ]
    path = bill_job(tmp_path, items=items, periods=[PERIODS[1]], tickets="t.csv")
    (tmp_path / "t.csv").write_text("ticket,time,volume\n1,2027-05-03,14\n")
    said = f"Part of dig too, so that the price is paid on top of it: {within}."
    assert said in draft(path).notes
    assert said in json.loads(run("bid", path, "--json").stdout)["notes"]
    path = bill_job(tmp_path, items=items[2:4], periods=[PERIODS[1]])
    assert "on top" not in " ".join(draft(path).notes)


ORDERED = {"ordered": "the builder's letter of 2027-05-02"}


def test_undercut_ordered_and_rock_are_lines_of_their_own(tmp_path):
    items = [
        {"item": "undercut", "of": "undercut", "basis": "as dug", "price": "5", "depth": 1.0}
        | ORDERED,
        {"item": "rock", "of": "rock", "basis": "as dug", "price": "60"},
    ]
    path = bill_job(tmp_path, items=items, rock=["rock.csv"], periods=[PERIODS[1]])
    (tmp_path / "rock.csv").write_text(
        "easting,northing,elevation\n"
        + "\n".join(f"{e},{n},94.0" for e in (50, 130, 210) for n in (150, 220, 290))
    )
    june = (tmp_path / "june.csv").read_text()
    (tmp_path / "may.csv").write_text(june.replace(",92.0,", ",91.5,"))
    undercut, rock = draft(path).lines
    assert float(undercut.quantity) == pytest.approx(52 * 40 * 0.5 / 27, abs=0.005)
    assert float(rock.quantity) == pytest.approx(52 * 40 * 2.0 / 27, abs=0.005)
    assert "letter of 2027-05-02" in " ".join(draft(path).notes)


def test_undercut_is_paid_no_deeper_than_ordered_and_not_beside_the_pay_line(tmp_path):
    items = [{"item": "undercut", "of": "undercut", "price": "5", "depth": 0.3} | ORDERED]
    path = bill_job(tmp_path, items=items, periods=[PERIODS[1]])
    june = (tmp_path / "june.csv").read_text()
    (tmp_path / "may.csv").write_text(june.replace(",92.0,", ",91.5,"))
    assert float(draft(path).lines[0].quantity) == pytest.approx(52 * 40 * 0.3 / 27, abs=0.005)
    shallow = june.replace(",92.0,", ",91.8,")
    (tmp_path / "may.csv").write_text(shallow)
    assert float(draft(path).lines[0].quantity) == pytest.approx(52 * 40 * 0.2 / 27, abs=0.005)
    path = bill_job(tmp_path, items=items, periods=[PERIODS[1]], pay_line="footing")
    (tmp_path / "may.csv").write_text(shallow)
    assert float(draft(path).lines[0].quantity) == pytest.approx(48 * 36 * 0.2 / 27, abs=0.005)


@pytest.mark.parametrize(
    ("billing", "asked", "said"),
    [
        ({"items": [ITEMS[0] | {"of": "rihgt"}]}, {}, 'there is no "rihgt" to bill'),
        ({}, {"period": 3}, "period 1 comes before period 3"),
        ({}, {"period": 9}, "there is no period 9; those there are: 1, 2, 3"),
        ({}, {"corrects": 7}, "there is no statement 7 to correct"),
        ({"periods": [PERIODS[1] | {"asdug": "2027-05-05"}]}, {}, "no [[asdug]] survey of 2027-05"),
        ({"items": [ITEMS[0] | {"basis": "loads"}], "periods": [PERIODS[1]]}, {},
         "wants a file of truck tickets"),
        ({"items": [ITEMS[0] | {"of": "rock"}]}, {}, "from a survey of its top"),
        ({"items": [ITEMS[0], ITEMS[0]]}, {}, "already the name of item 1"),
        ({"items": [ITEMS[0] | {"allowance": 0.5}]}, {}, "has no use but with basis"),
        ({"items": [ITEMS[0] | {"of": "undercut"}]}, {}, "undercut is paid if it was ordered"),
        ({"items": [ITEMS[0] | {"depth": 0.5}]}, {}, "has no use but with of"),
        ({"tax": "7"}, {}, 'write "0.07"'),
        ({"retainage": "-0.1"}, {}, "is no share of one"),
        ({"periods": [{"number": 1, "end": "2027-05-31"}]}, {}, "say what closes the period"),
        ({"periods": [PERIODS[1] | {"end": "2027-05-03"}]}, {}, "after the period's end"),
        ({"periods": [PERIODS[1], PERIODS[0]]}, {}, "1 does not come after 2"),
        ({"periods": [PERIODS[0], PERIODS[1] | {"end": "2027-04-30"}]}, {},
         "does not come after 2027-04-30"),
        ({"periods": [PERIODS[0], PERIODS[1] | {"share": 0.4}]}, {}, "0.4 is less than 0.5"),
        ({"periods": [PERIODS[2] | {"number": 1}, PERIODS[1] | {"end": "2027-07-31"}]}, {},
         "2027-05-04 comes before 2027-06-10"),
    ],
)  # fmt: skip
def test_what_cannot_be_billed_is_refused_and_nothing_written(tmp_path, billing, asked, said):
    path = bill_job(tmp_path, **billing)
    with pytest.raises(SpoilbankError) as caught:
        issue(path, **asked)
    assert said in str(caught.value)
    assert not (tmp_path / "job-register").exists()


def test_a_period_is_billed_once(tmp_path):
    path = bill_job(tmp_path)
    issue(path)
    with pytest.raises(SpoilbankError, match="period 1 is billed already, by statement 1"):
        draft(path, period=1)
    for _ in range(2):
        issue(path)
    with pytest.raises(SpoilbankError, match="every period is billed"):
        draft(path)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"item": "A pit excavation"}, 'no item "A basement excavation" any more'),
        ({"measure": "loose"}, "was billed in yd3 bank up to now, not in yd3 loose"),
    ],
)
def test_an_item_that_was_billed_is_not_billed_again_under_another_name(tmp_path, change, said):
    issue(bill_job(tmp_path))
    path = bill_job(tmp_path, items=[ITEMS[0] | change, *ITEMS[1:]])
    with pytest.raises(SpoilbankError, match=re.escape(said)):
        draft(path)


def test_recomputing_names_the_file_that_no_longer_agrees(tmp_path):
    path = bill_job(tmp_path)
    for _ in range(2):
        issue(path)
    register = register_of(load_job(path))
    (may,) = [one for one in register.statements()[1].inputs if one.name == "may.csv"]
    kept = register.kept_file(may.sha256)
    kept.write_bytes(kept.read_bytes().replace(b"92.0", b"92.5", 1))
    wrong = recomputed(load_job(path), quiet)
    assert {what for _, what in wrong} == {"may.csv is not the file it was"}
    assert [number for number, _ in wrong] == [1, 2]
    done = run("statement", path, "--recompute")
    assert done.exit_code == 1
    assert "statement 2: may.csv is not the file it was" in done.stderr


@pytest.mark.parametrize(("version", "agrees"), [("99.0", True), (None, False)])
def test_notes_worded_anew_by_another_version_of_the_software_are_no_disagreement(
    tmp_path, monkeypatch, version, agrees
):
    path = bill_job(tmp_path)
    issue(path)
    monkeypatch.setattr("terrain.job.statement.ROUNDING", "Rounded as ever, told otherwise.")
    if version is not None:
        monkeypatch.setattr("terrain.job.statement.version", lambda name: version)
    told = () if agrees else ((1, "its figures agree, but not its parties, days, inputs or notes"),)
    assert recomputed(load_job(path), quiet) == told


def test_files_changed_beside_the_job_do_not_touch_what_was_issued(tmp_path):
    path = bill_job(tmp_path)
    issue(path)
    (tmp_path / "shots.csv").write_text("easting,northing,elevation\n")
    assert recomputed(load_job(path), quiet) == ()


def test_an_issued_statement_cannot_be_changed_or_removed(tmp_path):
    path = bill_job(tmp_path)
    issue(path)
    file = register_of(load_job(path)).folder / "register.sqlite"
    for order in ("UPDATE statements SET period = 9", "DELETE FROM statements"):
        with sqlite3.connect(file) as opened, pytest.raises(sqlite3.IntegrityError):
            opened.execute(order)
        opened.close()
    with sqlite3.connect(file) as opened:  # whoever gets past that is found by the hash
        opened.execute("DROP TRIGGER never_changed")
        opened.execute("UPDATE statements SET text = replace(text, '2927.43', '2999.43')")
    opened.close()
    with pytest.raises(SpoilbankError, match="statement 1 is not as it was issued"):
        register_of(load_job(path)).statements()


@pytest.mark.parametrize("last", [1, 3])
def test_statements_taken_off_the_register_s_end_are_missed(tmp_path, last):
    path = bill_job(tmp_path)
    for _ in range(3):
        issue(path)
    file = register_of(load_job(path)).folder / "register.sqlite"
    with sqlite3.connect(file) as opened:
        opened.execute("DROP TRIGGER never_removed")
        opened.execute("DELETE FROM statements WHERE number >= ?", (last,))
    opened.close()
    with pytest.raises(SpoilbankError, match="statements up to 3 were issued"):
        register_of(load_job(path)).statements()
    done = run("statement", path, "--recompute")
    assert done.exit_code == 1
    assert f"{last - 1} of them stand here" in done.stderr


class StoppedError(Exception):
    """What the made fault raises."""


@pytest.mark.parametrize("step", range(14))
def test_a_fault_at_any_write_leaves_the_register_whole(tmp_path, monkeypatch, step):
    path = bill_job(tmp_path)
    job = load_job(path)
    first = issued_now(job, drafted(job, StatementAsked(), quiet))
    path.write_text(path.read_text() + "\n# so that a file must be kept anew\n")
    again = load_job(path)
    second = drafted(again, StatementAsked(), quiet)
    left = [step]

    def faulty(true):
        def call(*given, **more):
            if left[0] == 0:
                left[0] = -1
                raise StoppedError
            left[0] -= 1
            return true(*given, **more)

        return call

    monkeypatch.setattr(register_module.os, "fsync", faulty(os.fsync))
    monkeypatch.setattr(register_module.os, "replace", faulty(os.replace))
    true_connect = sqlite3.connect

    class Opened:
        def __init__(self, *given, **more):
            self.own = true_connect(*given, **more)
            self.execute = faulty(self.own.execute)
            self.executescript = faulty(self.own.executescript)
            self.close = self.own.close

    monkeypatch.setattr(register_module.sqlite3, "connect", faulty(Opened))
    stopped = False
    try:
        issued_now(again, second)
    except StoppedError:
        stopped = True
    monkeypatch.undo()
    numbers = [one.number for one in register_of(again).statements()]
    assert numbers in ([1], [1, 2])
    assert stopped or numbers == [1, 2]
    if numbers == [1]:
        assert issue(path).number == 2
    after = register_of(again).statements()
    assert [one.number for one in after] == [1, 2]
    assert after[0] == first
    assert recomputed(again, quiet) == ()


@pytest.mark.parametrize("after", [0.0, 0.02, 0.1])
def test_killed_for_real_the_register_is_whole_and_no_number_is_lost_or_used_twice(tmp_path, after):
    path = bill_job(tmp_path)
    folder = register_of(load_job(path)).folder
    process = subprocess.Popen(
        [*COMMAND, "statement", str(path), "--issue"],
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )  # fmt: skip
    until = time.monotonic() + 60.0
    while not folder.exists() and process.poll() is None and time.monotonic() < until:
        time.sleep(0.001)
    time.sleep(after)
    process.send_signal(signal.SIGKILL)
    process.wait()
    numbers = [one.number for one in register_of(load_job(path)).statements()]
    assert numbers in ([], [1])
    while len(register_of(load_job(path)).statements()) < 3:
        issue(path)
    found = register_of(load_job(path)).statements()
    assert [(one.number, one.period) for one in found] == [(1, 1), (2, 2), (3, 3)]
    assert recomputed(load_job(path), quiet) == ()


def test_two_at_once_do_not_get_one_number(tmp_path):
    job = load_job(bill_job(tmp_path))
    one, other = (drafted(job, StatementAsked(), quiet) for _ in range(2))
    issued_now(job, one)
    with pytest.raises(SpoilbankError, match="was issued meanwhile"):
        issued_now(job, other)
    assert len(register_of(job).statements()) == 1


FIGURES = (
    "quantity", "plus_minus_95", "previous", "this_period", "price", "amount", "amount_to_date",
)  # fmt: skip
SUMS = ("subtotal", "tax", "retainage", "total", "total_to_date")


def written(tmp_path, **billing):
    """The files of the second statement of a job with all that can stand on one, and its JSON."""
    path = bill_job(tmp_path, tickets="t.csv", **billing)
    text = path.read_text().replace("[existing]\n", "[existing]\naccuracy = 0.05\n")
    path.write_text(text)
    rows = "1,2027-04-12,1,14\n2,2027-05-01,1,12.5\n2,2027-05-01,1,12.5\n5,2027-05-02,1,14\n"
    (tmp_path / "t.csv").write_text("ticket,time,loads,volume\n" + rows)
    issue(path)
    done = run("statement", path, "--out", tmp_path / "o", "--issue")
    assert done.exit_code == 0, done.output
    stem = tmp_path / "o" / "statement_002"
    return stem, json.loads(stem.with_suffix(".json").read_text())


def test_the_workbook_read_by_its_xml_alone_equals_the_json(tmp_path):
    stem, told = written(tmp_path)
    book = read_book(stem.with_suffix(".xlsx").read_bytes())
    sheet = book["Statement"]
    for line in told["lines"]:
        (row,) = [r for r in sheet if "A" in r and r["A"].value == line["item"]]
        assert [row[c].value for c in "BCD"] == [line[k] for k in ("of", "basis", "unit")]
        assert [row[c].value for c in "EFGHIJK"] == [Decimal(line[k]) for k in FIGURES]
    sums = {r["I"].value: r["J"].value for r in sheet if set(r) == {"I", "J"}}
    assert sums == {name.replace("_", " "): Decimal(told[name]) for name in SUMS}
    rests = {r["A"].value: r["B"].value for r in book["Rests on"]}
    assert all(rests[one["name"]] == one["sha256"] for one in told["inputs"])
    assert rests["Hash of this statement"] == told["hash"]
    rows = [(r["A"].value, r["B"].value, float(r["C"].value)) for r in book["Reasons"][1:]]
    assert rows == [
        (row["name"], part, pytest.approx(change, rel=1e-14))  # a workbook keeps 15 digits or 16
        for row in (*told["reasons"]["rows"], told["reasons"]["whole"])
        for part, change in (
            ("bid", row["bid"]),
            *((one["part"], one["change"]) for one in row["parts"]),
            ("billed", row["billed"]),
        )
    ]
    tickets = [r["B"].value for r in book["Tickets"]]
    own, its = told["tickets"], told["tickets"]["haulage"]
    named = ("bank", "bank_plus_minus_95", "swell", "swell_plus_minus_95", "expected_loose")
    figures = [*(its[k] for k in ("tickets", "loads", "loose")), *(own[k] for k in named)]
    figures.append(own["difference"])
    assert [float(v) for v in tickets[:9]] == pytest.approx(figures, rel=1e-14)
    assert tickets[9:] == ["no", "2", "3, 4"]


def test_the_table_of_a_statement_equals_its_json(tmp_path):
    stem, told = written(tmp_path)
    with stem.with_suffix(".csv").open(newline="") as file:
        rows = list(csv.DictReader(file))
    lines = [row for row in rows if row["row"] == "line"]
    names = ("item", "of", "basis", "unit", *FIGURES)
    assert [[row[k] for k in names] for row in lines] == [
        [line[k] for k in names] for line in told["lines"]
    ]
    sums = {row["row"]: row["amount"] for row in rows[len(lines) :]}
    assert sums == {name.replace("_", " "): told[name] for name in SUMS}


def text_of_pdf(content: bytes, folder: Path) -> str:
    (folder / "s.pdf").write_bytes(content)
    import pypdf

    return "\n".join(page.extract_text() for page in pypdf.PdfReader(folder / "s.pdf").pages)


def test_the_text_of_the_pdf_equals_the_json_line_by_line(tmp_path):
    stem, told = written(tmp_path)
    text = re.sub(r"\s+", " ", text_of_pdf(stem.with_suffix(".pdf").read_bytes(), tmp_path))
    at = 0
    for line in told["lines"]:
        at = text.index(line["item"], at)
        now = {k: f"{Decimal(line[k]):,.2f}" for k in FIGURES}
        under = re.escape(f"{line['of']}, {line['basis']}, {line['unit']}")
        shown = " ".join(re.escape(now[k]) for k in ("previous", "this_period", "price", "amount"))
        quantity = rf"{re.escape(now['quantity'])} \u00b1 {re.escape(now['plus_minus_95'])}"
        assert re.match(rf"{re.escape(line['item'])} {under} {quantity} {shown} ", text[at:]), line
    sums = {k: f"{Decimal(told[k]):,.2f}" for k in SUMS}
    assert (
        f"Subtotal {sums['subtotal']} Tax 7% {sums['tax']} Retainage 10% -{sums['retainage']} "
        f"Due {sums['total']} USD Amounts to date, before tax {sums['total_to_date']} "
    ) in text
    reasons = told["reasons"]
    assert f"From the bid to {reasons['basis']} on 2027-05-04, yd3 {reasons['measure']}" in text
    for row in (*reasons["rows"], reasons["whole"]):
        assert re.search(rf"{row['name']} {row['bid']:,.1f} .*? {row['billed']:,.1f} ", text), row
    for words in ("tickets imply a swell", "Given twice, counted once: 2.", "the last: 3, 4."):
        assert words in text
    for words in (
        "Marl & Daughters",
        "Plover Homes",
        told["title"],
        f"spoilbank {told['version']}",
    ):
        assert words in text
    assert "Period 2, to 2027-05-31, by the survey of 2027-05-04" in text
    for one in (*(one["sha256"] for one in told["inputs"]), told["previous_hash"], told["hash"]):
        assert one in text
    for one in told["inputs"]:
        assert one["name"] in text


def test_the_same_statement_gives_the_same_bytes_in_every_format(tmp_path):
    path = bill_job(tmp_path)
    one, other = draft(path), draft(path)
    assert statement_pdf(one) == statement_pdf(other)
    first = statement_xlsx(one)
    time.sleep(1.1)  # a workbook's own time has seconds
    assert first == statement_xlsx(other)


EVIL = '=1+1#eval("x") <script>alert(1)</script>'


def test_no_name_becomes_a_formula_markup_or_script_anywhere(tmp_path):
    items = [ITEMS[0] | {"item": EVIL}]
    path = bill_job(tmp_path, items=items, to="@SUM(A1)", **{"from": '#import "x"'})
    done = run("statement", path, "--out", tmp_path / "o")
    assert done.exit_code == 0, done.output
    stem = tmp_path / "o" / "statement_001_draft"
    book = read_book(stem.with_suffix(".xlsx").read_bytes())
    cells = [cell for sheet in book.values() for row in sheet for cell in row.values()]
    assert not any(cell.is_formula for cell in cells)
    (evil,) = [cell for cell in cells if cell.value == EVIL]
    assert evil.is_quoted, "it stays text when somebody edits the cell"
    assert sum(cell.is_quoted for cell in cells) == 1
    assert "'=1+1" in stem.with_suffix(".csv").read_text()
    text = text_of_pdf(stem.with_suffix(".pdf").read_bytes(), tmp_path)
    assert "#eval" in text.replace("\n", "")
    assert json.loads(stem.with_suffix(".json").read_text())["lines"][0]["item"] == EVIL


def test_the_json_has_the_keys_that_stay_and_money_as_texts(tmp_path):
    done = run("statement", bill_job(tmp_path), "--json")
    told = json.loads(done.stdout)
    assert {"number", "period", "lines", "total", "previous_hash", "hash"} <= set(told)
    keys = {
        "item", "basis", "unit", "quantity", "plus_minus_95", "previous", "this_period", "price",
        "amount",
    }  # fmt: skip
    assert keys <= set(told["lines"][0])
    assert told["lines"][0]["amount"] == "2927.43"
    assert told["lines"][0]["previous"] == "0.00"
    assert told["total"] == "3253.48"


def test_a_register_in_a_file_that_is_none_is_told(tmp_path):
    path = bill_job(tmp_path)
    folder = register_of(load_job(path)).folder
    folder.mkdir()
    (folder / "register.sqlite").write_bytes(b"no database at all" * 100)
    with pytest.raises(SpoilbankError, match="can't be used"):
        draft(path)


def test_a_file_named_by_an_absolute_path_is_refused(tmp_path):
    path = bill_job(tmp_path)
    path.write_text(path.read_text().replace('"shots.csv"', '"/etc/hostname"'))
    with pytest.raises(SpoilbankError, match="absolute path"):
        inputs_of(load_job(path))


def test_the_billing_of_the_readme_is_a_table_the_job_knows():
    text = (Path(__file__).parent.parent.parent / "README.md").read_text(encoding="utf-8")
    (block,) = [b for b in re.findall(r"```toml\n(.*?)```", text, re.DOTALL) if "[billing]" in b]
    found = Billing.model_validate(tomllib.loads(block)["billing"])
    tables = {"billing": found, "asdug": [AsDug(date="2027-05-07", shots=["a.csv"])]}
    assert list(billing_rules(tables)) == []


def test_plan_and_section_stand_in_the_pdf_with_walls_north_scale_and_the_period_s_end(tmp_path):
    path = bill_job(tmp_path)
    done = run("statement", path, "--out", tmp_path / "o")
    assert done.exit_code == 0, done.output
    text = text_of_pdf((tmp_path / "o" / "statement_001_draft.pdf").read_bytes(), tmp_path)
    for words in ("Plan", "Section", "front", "back", "2027-04-30 \u00b7 lengths in ft", "N"):
        assert words in text, words


def test_an_issued_statement_is_written_again_from_the_files_kept_whatever_became_of_the_job(
    tmp_path,
):
    items = [ITEMS[1] | {"item": "as dug"}]
    path = bill_job(tmp_path, items=items, periods=[PERIODS[1]], bid="as_bid/job.toml")
    (tmp_path / "as_bid").mkdir()
    bill_job(tmp_path / "as_bid", items=items, periods=[PERIODS[1]])
    assert run("statement", path, "--issue", "--out", tmp_path / "one").exit_code == 0
    assert {p.name for p in (tmp_path / "one").iterdir()} == {
        f"statement_001.{kind}" for kind in ("pdf", "xlsx", "csv", "json")
    }
    kept = {one.name for one in register_of(load_job(path)).statements()[0].inputs}
    assert {"as_bid/job.toml", "as_bid/shots.csv", "as_bid/may.csv"} <= kept
    for name in ("may.csv", "shots.csv", "as_bid/job.toml"):
        (tmp_path / name).write_text("nothing of use\n")
    done = run("statement", path, "--again", "1", "--out", tmp_path / "two")
    assert done.exit_code == 0, done.output
    for one in (tmp_path / "one").iterdir():
        assert one.read_bytes() == (tmp_path / "two" / one.name).read_bytes(), one.name


def test_again_names_a_kept_file_that_is_not_as_it_was(tmp_path):
    path = bill_job(tmp_path)
    register = register_of(load_job(path))
    statement = issue(path)
    (may,) = [one for one in statement.inputs if one.name == "may.csv"]
    register.kept_file(may.sha256).write_bytes(b"another")
    done = run("statement", path, "--again", "1")
    assert done.exit_code == 1
    assert "of statement 1 is not as it was kept: may.csv" in done.stderr
    assert not (tmp_path / "out").exists()
