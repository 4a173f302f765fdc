"""The bid: the design priced, with low and high, loads and hours."""

import json
from pathlib import Path
from typing import Any

import pytest

from tests.billing.made_bill import bill_job
from tests.cli.test_commands import run

BANK = 52 * 40 * 8 / 27
"""Of the pit: 48 + 4 by 36 + 4 ft, 8 deep, upright sides, level ground; in yd3."""


def bid(path: Path) -> dict[str, Any]:
    done = run("bid", path, "--json")
    assert done.exit_code == 0, done.output
    return json.loads(done.stdout)


def job(folder: Path, accuracy: bool = True, **item: Any) -> Path:
    path = bill_job(folder, items=[{"item": "dig", "of": "pit", "price": "9.50"} | item])
    text = path.read_text()
    if accuracy:
        text = text.replace("[existing]\n", "[existing]\ndatum_accuracy = 0.05\n")
    text = text.replace('material = "clay"', 'material = "clay"\nswell = 0.30')
    path.write_text(text + "\n[haul]\ntruck = 7.0\n")
    return path


def test_quantity_price_tax_and_total_are_those_by_hand(tmp_path):
    told = bid(job(tmp_path))
    (line,) = told["lines"]
    # 616.2963 to 616.30, at 9.50; tax 7 %
    assert (line["quantity"], line["amount"]) == ("616.30", "5854.85")
    assert (told["subtotal"], told["tax"], told["total"]) == ("5854.85", "409.84", "6264.69")


def test_low_and_high_are_the_survey_s_doubt_in_bank_and_the_soil_s_range_too_in_loose(tmp_path):
    # all heights off by one datum: 1.96 x 0.05 ft over 52 x 40 ft
    doubt = 1.96 * 0.05 * 52 * 40 / 27
    (line,) = bid(job(tmp_path))["lines"]
    assert float(line["low"]) == pytest.approx(BANK - doubt, abs=0.006)
    assert float(line["high"]) == pytest.approx(BANK + doubt, abs=0.006)
    (line,) = bid(job(tmp_path, measure="loose"))["lines"]
    # dense clay swells by 20 to 35 % (Dagostino & Peterson, Fig. 9.1)
    assert float(line["quantity"]) == pytest.approx(BANK * 1.30, abs=0.006)
    assert float(line["low"]) == pytest.approx((BANK - doubt) * 1.20, abs=0.006)
    assert float(line["high"]) == pytest.approx((BANK + doubt) * 1.35, abs=0.006)


def test_without_an_accuracy_the_bid_says_that_low_and_high_are_the_soils_alone(tmp_path):
    told = bid(job(tmp_path, accuracy=False))
    assert told["lines"][0]["low"] == told["lines"][0]["high"] == "616.30"
    assert any("states no accuracy" in note for note in told["notes"])


def test_hours_are_at_the_published_rates_and_loads_are_rounded_up(tmp_path):
    told = bid(job(tmp_path, accuracy=False))
    # hoe 55 bcy/h plus 2 h to mobilise (Dagostino & Peterson, Estimating in Building Construction)
    (hoe,) = told["hours"]
    assert hoe["low"] == hoe["high"] == pytest.approx(BANK / 55 + 2, rel=1e-9)
    assert told["loads"] == -(-BANK * 1.30 // 7)


def test_hours_are_of_all_that_is_dug_wherever_the_pay_line_runs(tmp_path):
    # the doubt of 1.96 x 0.05 ft over 52 x 40 ft too
    path = job(tmp_path)
    path.write_text(path.read_text().replace("[billing]\n", '[billing]\npay_line = "footing"\n'))
    told = bid(path)
    assert float(told["lines"][0]["quantity"]) < BANK - 50
    doubt = 1.96 * 0.05 * 52 * 40 / 27
    (hoe,) = told["hours"]
    assert hoe["low"] == pytest.approx((BANK - doubt) / 55 + 2, rel=1e-4)
    assert hoe["high"] == pytest.approx((BANK + doubt) / 55 + 2, rel=1e-4)


def test_the_terminal_tells_hours_to_a_tenth_and_their_source_once(tmp_path):
    done = run("bid", job(tmp_path))
    assert done.exit_code == 0, done.output
    assert "Hours, excavator: 13.1 to 13.3" in done.stdout
    assert " ".join(done.stdout.split()).count("Estimating in Building Construction: hoe") == 1


def test_a_bid_writes_its_files_and_the_same_job_the_same_bytes(tmp_path):
    path = job(tmp_path)
    for name in ("one", "two"):
        assert run("bid", path, "--out", tmp_path / name).exit_code == 0
    for one in (tmp_path / "one").iterdir():
        assert one.read_bytes() == (tmp_path / "two" / one.name).read_bytes()
    assert {p.name for p in (tmp_path / "one").iterdir()} == {"bid.json", "bid.csv"}


def test_the_demo_s_dozer_hours_are_its_backfill_at_100_compacted_an_hour():
    demo = Path(__file__).parent.parent.parent / "terrain/cli/demo_job/job.toml"
    told = bid(demo)
    (fill,) = [line for line in told["lines"] if line["of"] == "backfill"]
    (dozer,) = [one for one in told["hours"] if one["work"].startswith("dozer")]
    assert fill["unit"] == "yd3 compacted"
    assert dozer["low"] == pytest.approx(float(fill["low"]) / 100 + 1.5, abs=1e-4)
    assert dozer["high"] == pytest.approx(float(fill["high"]) / 100 + 1.5, abs=1e-4)


def test_many_bids_are_asked_in_one_batch(tmp_path):
    for name in ("a", "b"):
        job(tmp_path / name)
    done = run("batch", tmp_path, "--ask", "bid", "--json", "--workers", "1")
    assert done.exit_code == 0, done.output
    assert done.stdout.count('"6264.69"') >= 2
