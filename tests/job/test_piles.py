"""Piles of a job: told apart, measured, sided, and refused where they can't be piles."""

from pathlib import Path
from typing import Any

import pytest

from terrain.base.errors import SpoilbankError
from terrain.job.graded import grade_out
from terrain.job.piles import read_piles
from terrain.job.piles_record import PilesSurvey
from terrain.job.piles_told import StockAsked, piles_surveys
from terrain.job.worked import Worked
from terrain.ledger.lot_rows import lot_rows
from tests.job.made_piles import Shot, heap, worked_with

NORTH = heap((10.0, 50.0), (20.0, 30.0), 9.0, "north heap")
SOUTH = heap((0.0, -60.0), (30.0, 20.0), 6.0, "south heap")


def told(worked: Worked) -> PilesSurvey:
    def never(since: str | None, until: str) -> Any:
        raise AssertionError("no as-dug survey is asked for")

    graded = grade_out(worked, lambda stage: None)
    rows, _ = lot_rows(graded.account, graded.asked.sides.names, graded.asked.terms)
    asked = StockAsked(hole=never, rows=rows, left=never, given=worked.soil)
    (survey,) = piles_surveys(worked, asked)
    return survey


def test_each_code_is_a_pile_and_shots_without_one_are_that_of_their_file(tmp_path: Path) -> None:
    bare = heap((60.0, 0.0), (12.0, 12.0), 5.0, "")
    seen = told(worked_with(tmp_path, [*NORTH, *bare, *SOUTH], {}))
    found = {row.name: row for row in seen.piles}
    assert {name: row.loose for name, row in found.items()} == pytest.approx(
        {"north heap": 1800.0 / 27, "south heap": 1200.0 / 27, "piles": 240.0 / 27}, rel=1e-9
    )
    assert {name: row.side for name, row in found.items()} == {
        "north heap": "back", "south heap": "front", "piles": "right",
    }  # fmt: skip
    assert [row.name for row in seen.piles] == ["north heap", "south heap", "piles"]
    assert seen.total == pytest.approx(3240.0 / 27, rel=1e-9)
    assert seen.soil is None


def test_stock_stands_against_what_the_side_needs_loose(tmp_path: Path) -> None:
    """Wall grade 101 on ground at 100, soil that neither swells nor shrinks: needs are the fill."""
    seen = told(worked_with(tmp_path, [*NORTH, *SOUTH], {}))
    sides = {side.wall: side for side in seen.sides}
    assert sides["back"].stock == pytest.approx(1800.0 / 27, rel=1e-9)
    assert sides["left"].stock == 0.0
    # fill under the apron of one long side, 1 to 0.5 high over 10 ft, then 0.5 to 0 over 1.5 ft:
    # along its 40 ft, and half of each corner's mitre
    along = 40 * 7.5 + 60 * 0.5 * 1.5 / 2
    corners = 2 * (50 - 0.05 * 1000 / 3) + 2 * 0.5 * 1.5**2 / 6
    assert sides["back"].needs == pytest.approx((along + corners) / 27, rel=1e-9)
    assert sides["back"].spare == pytest.approx((1800.0 - along - corners) / 27, rel=1e-9)


def test_all_sides_together_say_what_is_lacking_in_whole_loads(tmp_path: Path) -> None:
    """The fill round a house of 40 by 30 less both heaps; a load that is begun must be brought."""
    for name, truck, heaps in (("much", 10.0, [*NORTH, *SOUTH]), ("little", 7.0, SOUTH)):
        seen = told(worked_with(tmp_path / name, heaps, {"hauled": 30.0}, haul={"truck": truck}))
        whole = seen.in_all
        held = (3000.0 if name == "much" else 1200.0) / 27
        # 1 to 0.5 high over 10 ft, then 0.5 to 0 over 1.5 ft; four corners, each two half mitres
        along = 140 * (7.5 + 0.5 * 1.5 / 2)
        corners = 8 * ((50 - 0.05 * 1000 / 3) + 0.5 * (10 * 1.5 / 2 + 1.5**2 / 6))
        assert whole.stock == pytest.approx(held, rel=1e-9)
        assert whole.needs == pytest.approx(sum(side.needs or 0.0 for side in seen.sides))
        assert whole.needs == pytest.approx((along + corners) / 27, rel=0.02)
        assert whole.spare == pytest.approx(held - (whole.needs or 0.0), rel=1e-9)
        assert whole.hauled == 30.0
        least = (whole.loads or 0) * truck
        if name == "much":
            assert least <= (whole.spare or 0.0) < least + truck
        else:
            assert least - truck < -(whole.spare or 0.0) <= least
    assert told(worked_with(tmp_path / "none", SOUTH, {}, haul={})).in_all.loads is None


def test_loose_needs_grow_with_the_swell_that_the_job_goes_by(tmp_path: Path) -> None:
    plain = told(worked_with(tmp_path / "a", NORTH, {}))
    soil = {"material": "plain", "swell": 0.4, "shrink": 0.0}
    swollen = told(worked_with(tmp_path / "b", NORTH, {}, soil=soil))
    for one, other in zip(plain.sides, swollen.sides, strict=True):
        assert other.needs == pytest.approx(1.4 * one.needs, rel=1e-12)
        assert other.stock == one.stock


def test_a_pile_that_the_job_gives_to_a_side_counts_there_and_topsoil_on_none(
    tmp_path: Path,
) -> None:
    keys = {"sides": {"North Heap": "left"}, "topsoil": ["south heap"]}
    seen = told(worked_with(tmp_path, [*NORTH, *SOUTH], keys))
    stock = {side.wall: side.stock for side in seen.sides}
    assert stock["left"] == pytest.approx(1800.0 / 27, rel=1e-9)
    assert [stock["front"], stock["back"]] == [0.0, 0.0]
    assert {row.name: row.is_topsoil for row in seen.piles} == {
        "north heap": False, "south heap": True,
    }  # fmt: skip


def test_the_doubt_of_a_pile_is_its_shots_weights_times_their_scatter(tmp_path: Path) -> None:
    """Of a pyramid each foot shot weighs a sixth of the base, the top a third: by hat integrals.

    Its base rests on the ground's triangles: that part is added below from the record itself.
    """
    existing = {"existing": {"shots": ["shots.csv"], "accuracy": 0.0}}
    seen = told(worked_with(tmp_path, NORTH, {"accuracy": 0.1}, **existing))
    (row,) = seen.piles
    base = 600.0
    weights = (4 * (base / 6) ** 2 + (base / 3) ** 2) ** 0.5
    assert row.doubt.random == pytest.approx(1.96 * 0.1 * weights / 27, rel=1e-9)


def test_a_foot_that_does_not_meet_the_ground_is_told_with_what_is_missing(tmp_path: Path) -> None:
    raised = [(e, n, z + 1.0, code) for e, n, z, code in NORTH]
    seen = told(worked_with(tmp_path, raised, {}))
    (caution,) = seen.cautions
    assert caution.code == "pile-foot"
    assert "1.00 ft" in caution.message
    (row,) = seen.piles
    assert row.foot_mean == pytest.approx(1.0, abs=1e-9)
    # 100 ft of rim, 1 ft high, at 35 degrees: half of 1 / tan 35 for each foot
    assert row.missing == pytest.approx(100 / (2 * 0.7002075382) / 27, rel=1e-8)
    assert told(worked_with(tmp_path / "b", NORTH, {})).cautions == ()


def refused(folder: Path, rows: list[Shot], piles: dict[str, Any] | None = None) -> SpoilbankError:
    with pytest.raises(SpoilbankError) as caught:
        read_piles(worked_with(folder, rows, piles or {}), 1)
    return caught.value


def test_what_can_be_no_pile_is_refused_at_its_row(tmp_path: Path) -> None:
    sunk = [(e, n, z - 20.0, code) for e, n, z, code in NORTH]
    floating = [(e, n, z + 6.0, code) for e, n, z, code in NORTH]
    two = [*NORTH, (70.0, 0.0, 103.0, "crumb"), (71.0, 0.0, 103.0, "crumb")]
    over = [*NORTH, *heap((15.0, 55.0), (20.0, 30.0), 9.0, "other")]
    beside = [*NORTH, *heap((135.0, 0.0), (20.0, 20.0), 5.0, "far")]
    for name, rows, words, line in (
        ("sunk", sunk, "below the existing ground", 2),
        ("floating", floating, "no foot", 2),
        ("two", two, "three at least", 7),
        ("over", over, "count twice", 7),
        ("beside", beside, "beside the ground", 8),
        ("flat", [(float(k), 50.0, 100.0 + k, "heap") for k in range(4)], "straight line", None),
        ("nothing", [(e, n, 100.0, c) for e, n, _, c in NORTH], "holds nothing", 2),
        ("away", [(e + 9e3, n, z, c) for e, n, z, c in NORTH], "another lot", 2),
    ):
        fault = refused(tmp_path / name, rows).faults[0]
        assert words in fault.message, (name, fault.message)
        assert fault.file is not None
        assert line is None or (Path(fault.file).name == "piles.csv" and fault.line == line), name


def test_names_of_piles_that_are_not_there_are_refused_on_their_keys(tmp_path: Path) -> None:
    error = refused(tmp_path, NORTH, {"topsoil": ["black"], "sides": {"crumbs": "left"}})
    assert [fault.key for fault in error.faults] == ["piles[1].topsoil", "piles[1].sides"]
    assert all("north heap" in fault.message for fault in error.faults)


@pytest.mark.parametrize(
    ("changes", "key", "words"),
    [
        ({"piles": {"sides": {"heap": "lfet"}}}, "piles[1].sides.heap", 'did you mean "left"'),
        ({"piles": {"asdug": "2027-05-03"}}, "piles[1].asdug", "no [[asdug]] survey"),
        ({"piles": {"since": "2027-05-09"}}, "piles[1].since", "no [[asdug]] survey"),
        ({"asdug": ["2027-05-04", "2027-05-03"]}, "asdug[2].date", "order of their days"),
        ({"asdug": ["2027-05-04", "2027-05-04"]}, "asdug[2].date", "also the day"),
        (
            {"asdug": ["2027-05-01", "2027-05-05"], "piles": {"asdug": "2027-05-05"}},
            "piles[1].asdug", "dug on after",
        ),
        (
            {"asdug": ["2027-05-01", "2027-05-04"],
             "piles": {"asdug": "2027-05-01", "since": "2027-05-04"}},
            "piles[1].since", "does not come before",
        ),
    ],
)  # fmt: skip
def test_days_and_walls_that_contradict_are_refused_on_their_keys(
    tmp_path: Path, changes: dict[str, Any], key: str, words: str
) -> None:
    days = changes.get("asdug", [])
    asdug = {"asdug": [{"date": day, "shots": ["shots.csv"]} for day in days]} if days else {}
    with pytest.raises(SpoilbankError) as caught:
        worked_with(tmp_path, NORTH, changes.get("piles", {}), **asdug)
    fault = next(f for f in caught.value.faults if f.key == key)
    assert words in fault.message
    assert fault.line is not None
