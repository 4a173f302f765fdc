"""The swell of a job's own soil: measured, held against the tables, used where the job asks."""

import math
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from terrain.base.errors import JobError, SurveyError
from terrain.job.answer import Volumes
from terrain.job.bid import bid_of
from terrain.job.dig_plan import plan
from terrain.job.grade import grade
from terrain.job.grade_answer import GradeAnswer
from terrain.job.load import load_job
from terrain.job.piles import read_piles
from terrain.job.piles_record import PilesSurvey
from terrain.job.piles_soil import HoleBetween, soil_found
from terrain.job.piles_told import StockAsked, piles_surveys
from terrain.job.progress import hole_between
from terrain.job.soil_used import soil_used
from terrain.job.volumes import volumes
from terrain.job.worked import Worked
from tests.job.made_job import toml
from tests.job.made_piles import heap, worked_with, written
from tests.job.test_grade import HOUSE, job
from tests.job.test_progress import AREA, TOLD, days

BANK = 1.5 * AREA
CLAY = {"soil": {"material": "clay"}}
ACCURATE = {"existing": {"shots": ["shots.csv"], "accuracy": 0.01}}
ASDUG = {"asdug": [{"date": d, "shots": ["shots.csv"]} for d, _, _ in TOLD]}


def loose_of(volume: float) -> float:
    """The height of a heap of 30 by 30 that holds so much."""
    return 3.0 * volume / 900.0


def with_heap(
    folder: Path, volume: float, keys: dict[str, Any] | None = None, **changes: Any
) -> Worked:
    rows = heap((10.0, 50.0), (30.0, 30.0), loose_of(volume), "heap")
    survey = {"date": "2027-05-06"} | (keys or {})
    return worked_with(folder, rows, survey, **(CLAY | ACCURATE | ASDUG | changes))


def holes(worked: Worked) -> HoleBetween:
    return partial(hole_between, worked, days(worked, *TOLD))


def told(worked: Worked) -> PilesSurvey:
    asked = StockAsked(
        hole=holes(worked), rows=None, left=lambda on: {"back": 10.0}, given=worked.soil
    )
    (survey,) = piles_surveys(worked, asked)
    return survey


def test_the_swell_of_a_lot_is_its_piles_over_its_hole(tmp_path: Path) -> None:
    """Ex. 9-2 of Dagostino & Peterson (SOURCES 1): clay of 30 % swell, 1,000 bank make 1,300."""
    soil = told(with_heap(tmp_path, 1.3 * BANK)).soil
    assert soil is not None
    assert soil.swell == pytest.approx(0.30, abs=1e-9)
    assert (soil.since, soil.until) == (None, "2027-05-05")
    assert soil.bank == pytest.approx(BANK / 27, rel=1e-9)
    assert soil.loose == pytest.approx(1.3 * BANK / 27, rel=1e-9)
    assert soil.table_swell == 0.43
    assert soil.plus_minus_95 is not None
    assert soil.is_used is False


def test_what_was_hauled_counts_as_loose_and_since_counts_from_there(tmp_path: Path) -> None:
    hauled = told(with_heap(tmp_path / "a", 1.3 * BANK - 540.0, {"hauled": 20.0})).soil
    assert hauled is not None
    assert hauled.swell == pytest.approx(0.30, abs=1e-9)
    assert hauled.hauled == pytest.approx(20.0)
    later = told(with_heap(tmp_path / "b", 1.25 * AREA, {"since": "2027-05-03"})).soil
    assert later is not None
    assert later.swell == pytest.approx(0.25, abs=1e-9)
    assert later.bank == pytest.approx(AREA / 27, rel=1e-9)


def test_piles_that_were_shot_before_are_taken_off_what_was_dug_since(tmp_path: Path) -> None:
    """A heap of 700 on the 3rd is one of 700 + 1.25 x 1,200 on the 5th."""
    for name, high in (("first", 700.0), ("second", 700.0 + 1.25 * AREA)):
        rows = heap((10.0, 50.0), (30.0, 30.0), loose_of(high), "heap")
        lines = ["northing,easting,elevation,code", *(f"{n},{e},{z},{c}" for e, n, z, c in rows)]
        (tmp_path / f"{name}.csv").write_text("\n".join(lines) + "\n")
    surveys = [
        {"date": "2027-05-03", "shots": ["first.csv"]},
        {"date": "2027-05-05", "shots": ["second.csv"], "since": "2027-05-03"},
    ]
    worked = with_heap(tmp_path, BANK, piles=surveys)
    found = soil_found(worked, read_piles(worked, 2), holes(worked))
    assert found is not None
    assert found.swell.swell == pytest.approx(0.25, abs=1e-9)


def test_topsoil_piles_are_held_against_the_topsoil_and_the_rest_against_the_rest(
    tmp_path: Path,
) -> None:
    dig = {"floor": 98.0, "overdig": 0.0, "side": 0.0, "topsoil_strip": 0.5}
    rows = heap((10.0, 50.0), (30.0, 30.0), loose_of(1.3 * AREA), "heap")
    rows += heap((-50.0, 50.0), (30.0, 30.0), loose_of(1.5 * 0.5 * AREA), "black")
    survey = {"date": "2027-05-06", "topsoil": ["black"]}
    seen = told(worked_with(tmp_path, rows, survey, dig=dig, **(CLAY | ACCURATE | ASDUG)))
    assert seen.soil is not None
    assert seen.topsoil_soil is not None
    assert seen.soil.swell == pytest.approx(0.3, abs=1e-9)
    assert seen.topsoil_soil.swell == pytest.approx(0.5, abs=1e-9)


def test_what_is_still_to_come_is_loose_by_the_swell_the_job_goes_by(tmp_path: Path) -> None:
    seen = told(with_heap(tmp_path, 1.3 * BANK))
    back = next(side for side in seen.sides if side.wall == "back")
    assert back.to_come == pytest.approx(14.3)
    assert back.needs is None


def test_a_job_that_asks_for_it_goes_by_the_measured_swell_and_says_so(tmp_path: Path) -> None:
    worked = with_heap(tmp_path, 1.3 * BANK)
    soil = soil_used(worked, holes)
    assert soil.swell == pytest.approx(0.30, abs=1e-9)
    assert soil.swell_plus_minus_95 is not None
    assert soil.shrink == worked.soil.shrink
    assert "measured on this lot" in soil.source
    assert "2027-05-05" in soil.source


def test_a_swell_no_surer_than_the_tables_leaves_the_soil_as_it_was_and_says_why(
    tmp_path: Path,
) -> None:
    existing = {"existing": {"shots": ["shots.csv"], "accuracy": 0.01, "datum_accuracy": 0.3}}
    worked = with_heap(tmp_path, 1.3 * BANK, **existing)
    soil = soil_used(worked, holes)
    assert soil.swell == worked.soil.swell == 0.43
    assert "not used" in soil.source
    assert "no narrower" in soil.source


def test_without_piles_or_without_a_hole_there_is_nothing_to_measure(tmp_path: Path) -> None:
    worked = with_heap(tmp_path / "a", 1.3 * BANK, asdug=[])
    with pytest.raises(JobError, match="asdug") as caught:
        soil_used(worked, holes)
    assert caught.value.faults[0].key == "soil.measured"
    bare = with_heap(tmp_path / "b", 1.3 * BANK, piles=[])
    with pytest.raises(JobError, match="piles"):
        soil_used(bare, holes)


def test_piles_of_a_hole_that_did_not_grow_are_refused(tmp_path: Path) -> None:
    worked = with_heap(tmp_path, 1.3 * BANK, {"since": "2027-05-03"})
    same = (("2027-05-03", 98.5, None), ("2027-05-05", 98.5, None))
    with pytest.raises(SurveyError, match="nothing was dug"):
        soil_found(
            worked, read_piles(worked, 1), partial(hole_between, worked, days(worked, *same))
        )


def job_with_surveys(folder: Path, **changes: Any) -> dict[str, Any]:
    """A job whose hole and heap stand in files: dug to 98.5, a heap of 1.3 times the hole."""
    rows = heap((10.0, 50.0), (30.0, 30.0), loose_of(1.3 * BANK), "heap")
    with_heap(folder, 1.3 * BANK)
    toes = [(*corner, 98.5, "toe") for corner in HOUSE]
    inner = [(e, n, 98.5, "floor") for e in (8.0, 20.0, 32.0) for n in (7.0, 15.0, 23.0)]
    (folder / "asdug.csv").write_text(written([*toes, *inner]))
    (folder / "piles.csv").write_text(written(rows))
    asdug = {"date": "2027-05-05", "shots": ["asdug.csv"], "floor_codes": ["floor"],
             "toe_codes": ["toe"]}  # fmt: skip
    piles = {"date": "2027-05-06", "shots": ["piles.csv"]}
    surveys = {"asdug": [asdug], "piles": [piles]}
    return job() | CLAY | ACCURATE | surveys | changes


def answers(folder: Path, soil: dict[str, Any], **changes: Any) -> tuple[Volumes, GradeAnswer]:
    data = job_with_surveys(folder, soil=soil, **changes)
    (folder / "job.toml").write_text(toml(data))
    asked = load_job(folder / "job.toml")
    return volumes(asked), grade(asked)


def test_volumes_and_grade_go_by_the_measured_swell_only_where_the_job_says_so(
    tmp_path: Path,
) -> None:
    plain, plain_lot = answers(tmp_path / "a", {"material": "clay"})
    own, own_lot = answers(tmp_path / "b", {"material": "clay", "measured": True})
    assert plain.soil.swell == 0.43
    assert own.soil.swell == pytest.approx(0.30, abs=1e-9)
    bank = own.ledger.total.quantity.bank
    assert bank == plain.ledger.total.quantity.bank
    assert own.ledger.total.quantity.loose == pytest.approx(1.30 * bank, rel=1e-9)
    assert own.ledger.total.loads == math.ceil(1.30 * bank / 10.0)
    assert plain.ledger.total.loads == math.ceil(1.43 * bank / 10.0)
    assert own_lot.lot.imported.loose == pytest.approx(1.30 * own_lot.lot.import_bank, rel=1e-9)
    assert "Swell" not in dict(plain.assumed)
    assert "measured on this lot" in dict(own.assumed)["Swell"]
    assert "0.300" in dict(own.assumed)["Swell"]
    assert any("measured on this lot" in note for note in own_lot.notes)
    assert not any("measured" in note for note in plain_lot.notes)


def test_a_survey_whose_hole_is_not_whole_has_no_swell_and_says_what_to_shoot(
    tmp_path: Path,
) -> None:
    data = job_with_surveys(tmp_path, soil={"material": "clay", "measured": True})
    half = [(e, n, 98.5, "floor") for e in (8.0, 20.0) for n in (7.0, 15.0)]
    (tmp_path / "asdug.csv").write_text(written([*half, (0.0, 0.0, 98.5, "toe")]))
    (tmp_path / "job.toml").write_text(toml(data))
    with pytest.raises(SurveyError, match="toe all round") as caught:
        volumes(load_job(tmp_path / "job.toml"))
    assert caught.value.faults[0].line is not None


def test_a_bid_swings_loose_measures_by_the_doubt_of_the_measured_swell(tmp_path: Path) -> None:
    item = {"item": "haul", "of": "pit", "measure": "loose", "price": "1.00"}
    billing = {"from": "a", "to": "b", "currency": "USD", "items": [item]}
    lines = {}
    for name, soil in (("table", {}), ("own", {"measured": True})):
        folder = tmp_path / name
        data = job_with_surveys(folder, soil={"material": "clay"} | soil, billing=billing)
        (folder / "job.toml").write_text(toml(data))
        lines[name] = bid_of(load_job(folder / "job.toml"), lambda stage: None)
    bank = 2.0 * AREA / 27
    own, table = lines["own"].lines[0], lines["table"].lines[0]
    assert float(own.quantity) == pytest.approx(1.30 * bank, abs=0.01)
    assert float(table.quantity) == pytest.approx(1.43 * bank, abs=0.01)
    # clay's printed range ends at 20 %, so the table's low is wider than the measured one
    assert float(table.low) < 1.21 * bank
    assert 1.25 * bank < float(own.low) < 1.30 * bank
    assert 1.30 * bank < float(own.high) < 1.36 * bank
    assert any("measured on this lot" in note for note in lines["own"].notes)
    answer = volumes(load_job(tmp_path / "own" / "job.toml"))
    doubt, off = answer.ledger.total.bank_plus_minus_95, answer.soil.swell_plus_minus_95
    assert doubt is not None
    assert off is not None
    low, high = ((bank + way * doubt) * (1.3 + way * off) for way in (-1.0, 1.0))
    assert float(own.low) == pytest.approx(low, abs=0.01)
    assert float(own.high) == pytest.approx(high, abs=0.01)


def test_a_dig_plan_goes_by_the_measured_swell(tmp_path: Path) -> None:
    machine = {"weight_tonnes": 8.0}
    told = {}
    for name, soil in (("table", {}), ("own", {"measured": True})):
        folder = tmp_path / name
        data = job_with_surveys(folder, soil={"material": "clay"} | soil, machine=machine)
        (folder / "job.toml").write_text(toml(data))
        told[name] = plan(load_job(folder / "job.toml"))
    for name, swell in (("table", 0.43), ("own", 0.30)):
        bank = sum(float(one.bank) for one in told[name].passes)
        loose = sum(float(one.loose) for one in told[name].passes)
        assert bank > 0.0
        assert loose == pytest.approx((1.0 + swell) * bank, rel=1e-9)
