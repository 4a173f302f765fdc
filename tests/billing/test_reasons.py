"""Why a bill differs from the bid: parts by hand on level ground, and that they sum."""

from pathlib import Path
from typing import Any

import pytest

from terrain.base.errors import JobError
from terrain.job.load import load_job
from terrain.job.reasons import PARTED, Reasons
from terrain.job.reckoning import reckoning_of
from terrain.job.statement import StatementAsked, drafted
from tests.billing.made_bill import PERIODS, bill_job
from tests.job.made_hole import MadeHole, ring

LENGTHS = {"front": 48, "right": 36, "back": 48, "left": 36}


def quiet(stage: str) -> None:
    """Say nothing."""


def told(path: Path) -> tuple[Reasons, Any]:
    job = load_job(path)
    statement = drafted(job, StatementAsked(), quiet)
    found = reckoning_of(job, statement, quiet).reasons
    assert found is not None
    return found, statement.lines[0]


def job_of(folder: Path, item: dict[str, Any], hole: MadeHole, **billing: Any) -> Path:
    items = [{"item": "dig", "of": "pit", "price": "1.00"} | item]
    path = bill_job(folder, items=items, periods=[PERIODS[1]], **billing)
    rows = ["easting,northing,elevation,code"]
    for e, n, z in hole.toe.tolist():
        rows += [f"{e!r},{n!r},{z!r},toe", f"{e!r},{n!r},100.0,top"]
    rows += [f"{e!r},{n!r},{z!r},floor" for e, n, z in hole.floor.tolist()]
    (folder / "may.csv").write_text("\n".join(rows) + "\n")
    return path


def wide_and_deep(overdig: float = 2.5, deeper: float = 0.2) -> MadeHole:
    hole = MadeHole(toe=ring(overdig))
    hole.toe[:, 2] -= deeper
    hole.floor[:, 2] -= deeper
    return hole


def parts(found: Reasons, name: str = "all") -> dict[str, float]:
    (row,) = [row for row in (*found.rows, found.whole) if row.name == name]
    return {reason.part: reason.change for reason in row.parts}


def test_a_hole_too_deep_is_the_floors_and_one_too_wide_the_overdigs(tmp_path):
    found, line = told(job_of(tmp_path, {"basis": "as dug"}, wide_and_deep()))
    by_hand = dict.fromkeys(PARTED, 0.0) | {
        "floor": 52 * 40 * 0.2 / 27,
        "overdig": (53 * 41 - 52 * 40) * 8.2 / 27,
    }
    assert parts(found) == pytest.approx(by_hand, abs=1e-9)
    # a wall's strip of the overdig runs from corner to corner
    strip = {name: (length + 4 + length + 5) / 2 * 0.5 for name, length in LENGTHS.items()}
    for name, area in strip.items():
        assert parts(found, name)["overdig"] == pytest.approx(area * 8.2 / 27, rel=1e-9)
    assert found.whole.billed == pytest.approx(float(line.quantity), abs=0.005)


def test_by_the_pay_line_only_what_is_within_its_allowance_is_a_change(tmp_path):
    item = {"basis": "as dug to line", "allowance": 0.25}
    found, line = told(job_of(tmp_path, item, wide_and_deep()))
    by_hand = dict.fromkeys(PARTED, 0.0) | {"overdig": (52.5 * 40.5 - 52 * 40) * 8 / 27}
    assert parts(found) == pytest.approx(by_hand, abs=1e-9)
    assert found.whole.billed == pytest.approx(float(line.quantity), abs=0.005)
    found, _ = told(job_of(tmp_path, {}, wide_and_deep()))
    assert parts(found) == pytest.approx(dict.fromkeys(PARTED, 0.0), abs=1e-9)


def test_a_hole_too_shallow_or_too_narrow_is_short_of_the_bid_by_the_same_names(tmp_path):
    found, line = told(job_of(tmp_path, {}, wide_and_deep(1.6, -0.3)))
    by_hand = dict.fromkeys(PARTED, 0.0) | {
        "floor": -51.2 * 39.2 * 0.3 / 27,
        "overdig": -(52 * 40 - 51.2 * 39.2) * 8 / 27,
    }
    assert parts(found) == pytest.approx(by_hand, abs=1e-9)
    assert found.whole.billed == pytest.approx(float(line.quantity), abs=0.005)


def test_parts_sum_to_the_change_wall_by_wall_and_walls_to_the_whole(tmp_path):
    found, _ = told(job_of(tmp_path, {"basis": "as dug"}, MadeHole().turned(0.7)))
    for row in (*found.rows, found.whole):
        assert row.bid + sum(part.change for part in row.parts) == row.billed
    for part in PARTED:
        summed = sum(parts(found, row.name)[part] for row in found.rows)
        assert summed == pytest.approx(parts(found)[part], abs=1e-9)
    assert sum(row.billed for row in found.rows) == pytest.approx(found.whole.billed, rel=1e-12)


CHANGED = """[dig]
floor = 93.0
overdig = 1.5
side = 0.0
[[dig.pits]]
name = "well"
corners = [[110.0, 240.0], [114.0, 240.0], [114.0, 244.0], [110.0, 244.0]]
floor = 95.0
"""


def test_a_design_changed_since_the_bid_is_put_in_place_part_by_part_in_the_order_told(tmp_path):
    path = job_of(tmp_path, {"basis": "as dug", "measure": "loose"}, MadeHole(), bid="bid.toml")
    text = path.read_text()
    well = CHANGED.partition("[[dig.pits]]")[2].replace("95.0", "97.0")
    old = CHANGED.partition("[[dig.pits]]")[0] + "[[dig.pits]]" + well
    new = old.replace("93.0", "92.0").replace("1.5", "2.0").replace("97.0", "95.0")
    dig = text[text.index("[dig]") :].split("\n[", 1)
    path.write_text(text[: text.index("[dig]")] + new + "\n[" + dig[1])
    bid = text[: text.index("[dig]")] + old + "\n[" + dig[1]
    assert 'material = "clay"' in bid
    (tmp_path / "bid.toml").write_text(
        bid.replace('material = "clay"', 'material = "clay"\nswell = 0.3')
    )
    found, _ = told(path)
    whole = parts(found)
    bank = {part: change / 1.3 for part, change in whole.items() if part != "soil factor"}
    assert bank == pytest.approx(
        {
            "ground": 0.0,
            "floor": 51 * 39 * 1.0 / 27,
            "overdig": (52 * 40 - 51 * 39) * 8 / 27,
            "side": 0.0,
            # the well was not dug deeper than the ground: all of it is short, the bid had 3 ft
            "extras": -16 * 3.0 / 27,
        },
        abs=1e-9,
    )
    assert whole["soil factor"] == pytest.approx(52 * 40 * 8 / 27 * (1.43 - 1.3), rel=1e-9)
    assert found.whole.billed == pytest.approx(52 * 40 * 8 / 27 * 1.43, rel=1e-9)


def test_a_part_smaller_than_its_own_doubt_is_not_significant(tmp_path):
    for deeper, is_sure in ((0.001, False), (0.5, True)):
        path = job_of(tmp_path, {"basis": "as dug"}, wide_and_deep(2.0, deeper))
        text = path.read_text().replace("[existing]\n", "[existing]\naccuracy = 0.05\n")
        path.write_text(text)
        found, _ = told(path)
        (floor,) = [reason for reason in found.whole.parts if reason.part == "floor"]
        assert floor.is_significant is is_sure


@pytest.mark.parametrize(("deeper", "short"), [(-0.001, 0.0), (-0.5, 52 * 40 * 0.5 / 27)])
def test_neat_what_is_short_by_less_than_its_doubt_is_billed_and_no_reason_takes_it_off(
    tmp_path, deeper, short
):
    path = job_of(tmp_path, {}, wide_and_deep(2.0, deeper))
    path.write_text(path.read_text().replace("[existing]\n", "[existing]\naccuracy = 0.05\n"))
    found, line = told(path)
    assert found.whole.billed == pytest.approx(52 * 40 * 8 / 27 - short, rel=1e-9)
    assert float(line.quantity) == pytest.approx(found.whole.billed, abs=0.005)
    assert parts(found)["floor"] == pytest.approx(-short, abs=1e-9)


@pytest.mark.parametrize(
    ("accuracy", "lower", "is_sure"), [(0.05, 0.01, False), (0.05, 1.0, True), (None, 1.0, None)]
)
def test_another_ground_than_bid_is_significant_beyond_the_doubt_of_both_surveys(
    tmp_path, accuracy, lower, is_sure
):
    path = job_of(tmp_path, {"basis": "as dug"}, MadeHole(), bid="bid.toml")
    if accuracy is not None:
        errors = f"[existing]\naccuracy = {accuracy}\ndatum_accuracy = {accuracy}\n"
        path.write_text(path.read_text().replace("[existing]\n", errors))
    (tmp_path / "bid.toml").write_text(path.read_text().replace("shots.csv", "early.csv"))
    early = (tmp_path / "shots.csv").read_text().replace(",100.0", f",{100 - lower}")
    (tmp_path / "early.csv").write_text(early)
    found, _ = told(path)
    (ground,) = [reason for reason in found.whole.parts if reason.part == "ground"]
    assert ground.change == pytest.approx(52 * 40 * lower / 27, rel=1e-9)
    assert ground.is_significant is is_sure


def test_what_a_changed_design_makes_is_judged_by_the_ground_it_is_dug_from(tmp_path):
    path = job_of(tmp_path, {"basis": "as dug"}, MadeHole(), bid="bid.toml")
    text = path.read_text().replace("[existing]\n", "[existing]\naccuracy = 0.05\n")
    path.write_text(text)
    (tmp_path / "bid.toml").write_text(text.replace("overdig = 2.0", "overdig = 1.5"))
    found, _ = told(path)
    sure = {reason.part: reason.is_significant for reason in found.whole.parts}
    # a strip half a foot wide and 8 ft deep, sure to a hundredth or so of it; nothing else changed
    assert sure == dict.fromkeys(PARTED) | {"overdig": True, "floor": False}


def test_walls_called_otherwise_than_in_the_bid_are_told(tmp_path):
    path = job_of(tmp_path, {}, MadeHole(), bid="bid.toml")
    (tmp_path / "bid.toml").write_text(path.read_text().replace('"front"', '"street"'))
    with pytest.raises(JobError, match="must be called as in the bid"):
        told(path)
