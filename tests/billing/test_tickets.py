"""Truck tickets: read, counted once, up to the period's end, against what was measured."""

import json
from decimal import Decimal

import pytest

from terrain.base.errors import SurveyError
from terrain.billing.haulage import haulage, reconciled
from terrain.survey.tickets import read_tickets, up_to
from tests.billing.made_bill import PERIODS, bill_job
from tests.billing.test_statements import draft
from tests.cli.test_commands import run

HEAD = "ticket,time,loads,volume\n"


def tickets(text, head=HEAD):
    return read_tickets("t.csv", (head + text).encode())


def test_186_loads_of_7_imply_the_swell_of_the_worked_example():
    # Dagostino & Peterson, Ex. 9-2: 1,000 bcy of dense clay, 30 % swell: 1,300 lcy, 186 loads
    rows = [f"{n},2027-05-03,1,{7 if n < 186 else 5}" for n in range(1, 187)]
    found = reconciled(haulage(tickets("\n".join(rows)), None), (1000.0, 10.0), 0.30, None)
    assert (found.haulage.loads, found.haulage.loose) == (186, 1300.0)
    assert found.swell == pytest.approx(0.30, abs=1e-12)
    assert found.swell_plus_minus_95 == pytest.approx(0.013, abs=1e-12)
    assert found.difference == pytest.approx(0.0, abs=1e-9)
    assert found.is_within is True


def test_weights_become_volumes_by_what_a_loose_volume_weighs():
    # densities 3,400 lb/cy bank and 2,700 loose: swell 26 % (worked problem)
    found = haulage(tickets("1,2027-05-03,1,34000\n", HEAD.replace("volume", "weight")), 2700.0)
    assert reconciled(found, (10.0, None), 0.26, None).swell == pytest.approx(0.2593, abs=5e-5)
    with pytest.raises(ValueError, match="say what a loose volume weighs"):
        haulage(tickets("1,2027-05-03,1,34000\n", HEAD.replace("volume", "weight")), None)


def test_a_ticket_given_twice_counts_once_and_gaps_are_named_as_the_others_are_written():
    found = haulage(tickets("A07,,1,10\nA08,,2,20\nA08,,2,20\nA11,,1,10\n"), None)
    assert (found.tickets, found.loads, found.loose) == (3, 4, 40.0)
    assert found.double == ("A08",)
    assert found.missing == ("A09", "A10")
    assert haulage(tickets("red,,1,10\nblue,,1,10\n"), None).missing == ()


@pytest.mark.parametrize(("off", "is_within"), [(0.0, True), (12.4, True), (12.6, False)])
def test_within_doubt_is_by_bank_and_swell_together(off, is_within):
    # 100 +- 8 bank at 1.25 is +- 10; swell +- 0.075 of 100 is +- 7.5: together 12.5
    found = haulage(tickets(f"1,,1,{125.0 + off}\n"), None)
    assert reconciled(found, (100.0, 8.0), 0.25, 0.075).is_within is is_within
    assert reconciled(found, (100.0, None), 0.25, 0.075).is_within is None


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("A2,2027-05-03,-1,14", "t.csv:2: loads -1"),
        ("A2,2027-05-03,0,14", "0 loads: a whole number from 1 on"),
        ("A2,2027-05-03,1.5,14", "1.5 loads"),
        ("A2,2027-05-03,1,-14", "volume -14"),
        ("A2,2027-05-03,1,many", 'volume "many" is not a number'),
        ("A2,2027-05-03,1,nan", "volume nan"),
        ("A2,2027-05-03,1,", "neither volume nor weight"),
        (",2027-05-03,1,14", "no ticket number"),
    ],
)
def test_a_row_that_cannot_be_is_told_by_its_line(row, said):
    with pytest.raises(SurveyError) as caught:
        tickets(row + "\n")
    assert said in str(caught.value)


def test_tickets_count_up_to_the_day_and_one_without_a_day_is_in_no_period():
    found = tickets("1,2027-05-03 08:00,1,10\n2,2027-05-04T23:59,1,10\n3,2027-05-05,1,10\n")
    assert [one.ticket for one in up_to("t.csv", found, "2027-05-04")] == ["1", "2"]
    with pytest.raises(SurveyError, match=r"t.csv:2: time begins with no day.* is nothing"):
        up_to("t.csv", tickets("1,,1,10\n"), "2027-05-04")


ITEM = {"item": "haul", "of": "pit", "basis": "loads", "measure": "loose", "price": "8.00"}
FILE = (
    HEAD + "1,2027-04-12,1,14\n2,2027-04-30 17:00,1,14\n3,2027-05-01,1,12.5\n3,2027-05-01,1,12.5\n"
)


def test_loads_are_billed_by_the_tickets_of_the_period_and_bid_from_the_design(tmp_path):
    path = bill_job(tmp_path, items=[ITEM], tickets="t.csv", periods=PERIODS[:1])
    (tmp_path / "t.csv").write_text(FILE)
    (line,) = draft(path).lines
    assert (line.quantity, line.amount) == (Decimal("28.00"), Decimal("224.00"))
    path = bill_job(tmp_path, items=[ITEM], tickets="t.csv", periods=PERIODS[1:2])
    (line,) = draft(path).lines
    assert line.quantity == Decimal("40.50")
    told = json.loads(run("bid", path, "--json").stdout)
    # 48 + 4 by 36 + 4 by 8, clay as printed swells by 43 %
    bank = 52 * 40 * 8 / 27
    assert float(told["lines"][0]["quantity"]) == pytest.approx(bank * 1.43, abs=0.005)


def test_the_statement_tells_tickets_against_the_hole(tmp_path):
    path = bill_job(tmp_path, items=[ITEM], tickets="t.csv", periods=PERIODS[1:2])
    (tmp_path / "t.csv").write_text(FILE)
    told = json.loads(run("statement", path, "--json").stdout)["tickets"]
    assert told["haulage"]["double"] == ["3"]
    assert told["bank"] == pytest.approx(52 * 40 * 8 / 27, rel=1e-9)
    assert told["swell"] == pytest.approx(40.5 / (52 * 40 * 8 / 27) - 1, rel=1e-9)
    done = run("statement", path)
    assert "Given twice, counted once: 3." in done.stdout


def test_negative_loads_are_refused_and_nothing_is_written(tmp_path):
    path = bill_job(tmp_path, items=[ITEM], tickets="t.csv", periods=PERIODS[1:2])
    (tmp_path / "t.csv").write_text(HEAD + "1,2027-05-01,-1,14\n")
    before = sorted(p.name for p in tmp_path.iterdir())
    done = run("statement", path, "--issue")
    assert done.exit_code == 1
    assert "t.csv:2: loads -1: no truck takes that" in done.stderr
    assert sorted(p.name for p in tmp_path.iterdir()) == before
