"""The finished lot of a whole job: rows, balance, and what must not change the answer."""

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from terrain.export.grade_json import grade_dict
from terrain.job.grade import grade
from terrain.job.grade_answer import GradeAnswer
from terrain.job.load import load_job
from tests.job.made_job import changed, toml

LEVEL = [[-100.0, -100.0], [140.0, -100.0], [140.0, 130.0], [-100.0, 130.0]]
HOUSE = [[0.0, 0.0], [40.0, 0.0], [40.0, 30.0], [0.0, 30.0]]
WALLS = ["front", "right", "back", "left"]


def job(**lot: Any) -> dict[str, Any]:
    """A house in level ground at 100, dug straight down to 98; earth neither swells nor shrinks."""
    return {
        "site": {"length_unit": "ft"},
        "existing": {"shots": ["shots.csv"]},
        "soil": {"material": "plain", "swell": 0.0, "shrink": 0.0},
        "foundation": {"corners": HOUSE, "walls": WALLS},
        "dig": {"floor": 98.0, "overdig": 0.0, "side": 0.0},
        "haul": {"truck": 10.0, "price_per_load": 100.0},
        "lot": {"boundary": [[-90, -90], [130, -90], [130, 120], [-90, 120]], "wall_grade": 101.0}
        | lot,
    }


def shots(upward: Any = 100.0, move: tuple[float, float] = (0.0, 0.0), scale: float = 1.0) -> str:
    rows = ["point,northing,easting,elevation"]
    for k, (e, n) in enumerate(LEVEL):
        z = upward(e, n) if callable(upward) else upward
        rows.append(f"{k + 1},{n * scale + move[1]!r},{e * scale + move[0]!r},{z * scale!r}")
    return "\n".join(rows) + "\n"


def answer(folder: Path, data: dict[str, Any], text: str | None = None) -> GradeAnswer:
    folder.mkdir(exist_ok=True)
    (folder / "shots.csv").write_text(shots() if text is None else text)
    path = folder / "job.toml"
    path.write_text(toml(data))
    return grade(load_job(path))


def fill_at(height: float) -> float:
    """Cubic feet of fill round the house with its ground so far above level ground."""
    if height <= 0.0:
        raise ValueError("the closed form is of fill")
    if height < 0.5:  # the apron itself runs out into the ground, and cuts beyond
        out = height / 0.05
        return 140 * (height * out - 0.025 * out**2) + 8 * (height * out**2 / 2 - 0.05 * out**3 / 3)
    near = 140 * (10 * height - 2.5) + 8 * (50 * height - 0.05 * 1000 / 3)
    edge = height - 0.5
    run = 3 * edge
    return near + 220 * edge * run / 2 + 8 * edge * run**2 / 6


def cut_at(height: float) -> float:
    """Cubic feet of cut, where the apron goes below level ground before its end."""
    if height >= 0.5:
        return 0.0
    out = height / 0.05
    run, edge = 10 - out, 0.5 - height
    length = 140 + 8 * out
    near = length * 0.05 * run**2 / 2 + 8 * 0.05 * run**3 / 3
    return near + 220 * edge * 3 * edge / 2 + 8 * edge * (3 * edge) ** 2 / 6


def nought_of(function: Any, low: float, high: float) -> float:
    """Where a falling function is nought, by halving."""
    for _ in range(80):
        middle = (low + high) / 2
        low, high = (middle, high) if function(middle) > 0 else (low, middle)
    return (low + high) / 2


def test_the_rows_of_a_lot_in_closed_form(tmp_path: Path) -> None:
    told = answer(tmp_path, job())
    assert sum(row.cut for row in told.walls) == pytest.approx(40 * 30 * 2 / 27, rel=1e-12)
    fill = sum(row.grade_fill.compacted for row in told.walls)
    assert fill == pytest.approx(fill_at(1.0) / 27, rel=1e-12)
    assert told.lot.fill == pytest.approx(fill, rel=1e-13)
    assert sum(row.backfill.bank for row in told.walls) == pytest.approx(0.0, abs=1e-12)
    surplus = sum(row.surplus for row in told.walls)
    assert surplus == pytest.approx((2400 - fill_at(1.0)) / 27, rel=1e-11)
    assert told.lot.haul_bank - told.lot.import_bank == pytest.approx(surplus, rel=1e-12)
    assert told.lot.loads == int(np.ceil(abs(surplus) / 10.0))


def test_the_wall_grade_that_balances_to_a_thousandth(tmp_path: Path) -> None:
    told = answer(tmp_path, job())
    wanted = nought_of(lambda h: 2400 + cut_at(h) - fill_at(h), 0.1, 3.0)
    assert told.balance.wall_grade == pytest.approx(100.0 + wanted, abs=0.001)
    # on its own terms: a job with that wall grade has nothing to haul
    again = answer(tmp_path / "again", job(wall_grade=told.balance.wall_grade))
    assert again.lot.haul_bank + again.lot.import_bank < 0.001


def test_the_floor_that_balances_with_the_house_moved_as_a_whole(tmp_path: Path) -> None:
    told = answer(tmp_path, job())
    wanted = nought_of(lambda t: 1200 * (2 - t) + cut_at(1 + t) - fill_at(1 + t), -0.9, 1.9)
    assert told.balance.floor == pytest.approx(98.0 + wanted, abs=0.001)


def test_no_balance_is_told_with_its_reason(tmp_path: Path) -> None:
    data = changed(job(boundary=[[-1, -1], [41, -1], [41, 31], [-1, 31]]), ("dig", "floor"), 60.0)
    told = answer(tmp_path, data).balance
    assert told.wall_grade is None
    assert told.floor is None
    assert "has earth left over at every elevation within 8 ft" in str(told.wall_grade_reason)


def test_no_balance_where_the_survey_is_too_small_names_the_survey(tmp_path: Path) -> None:
    data = changed(job(wall_grade=101.0, boundary=None), ("lot", "boundary"), LEVEL)
    data = changed(data, ("dig", "floor"), 60.0)
    near = shots().replace("140.0", "56.0").replace("130.0", "46.0").replace("-100.0", "-16.0")
    told = answer(tmp_path, data, near).balance
    assert told.wall_grade is None
    assert "survey" in str(told.wall_grade_reason)


def test_the_curve_goes_by_tenths_and_says_what_one_is_worth(tmp_path: Path) -> None:
    told = answer(tmp_path, job()).balance
    elevations = [point.elevation for point in told.curve]
    assert elevations == pytest.approx([100.0 + k / 10 for k in range(21)])
    for point in told.curve[6:]:
        bank = (2400 - fill_at(point.elevation - 100.0)) / 27
        assert point.surplus_bank == pytest.approx(bank, rel=1e-10, abs=1e-10)
        assert point.loads == int(np.ceil(abs(bank) / 10))
    loads = (fill_at(1.1) - fill_at(0.9)) / 2 / 27 / 10
    assert told.loads_a_step == pytest.approx(loads, rel=1e-10)
    assert told.money_a_step == pytest.approx(100 * loads, rel=1e-10)


def test_the_curve_counts_the_loads_of_a_lot_graded_so(tmp_path: Path) -> None:
    """Earth fit for no fill leaves at every elevation, whether the rest lacks or is left over."""
    told = answer(tmp_path, job(unsuitable=0.25)).balance
    lacks = {told.curve[0].elevation: False, told.curve[-1].elevation: True}
    for point in (told.curve[0], told.curve[-1]):
        lot = answer(tmp_path / "so", job(unsuitable=0.25, wall_grade=point.elevation)).lot
        assert (lot.import_bank > 0) == lacks[point.elevation]
        assert lot.unsuitable > 10.0
        assert point.loads == lot.loads


def test_a_step_is_worth_what_it_changes_of_all_that_is_hauled(tmp_path: Path) -> None:
    low, high = (
        answer(tmp_path / name, job(unsuitable=0.25, wall_grade=grade)).lot
        for name, grade in (("low", 100.3), ("high", 100.5))
    )
    change = (low.haul_bank - low.import_bank) - (high.haul_bank - high.import_bank)
    told = answer(tmp_path, job(unsuitable=0.25, wall_grade=100.4)).balance
    assert told.loads_a_step == pytest.approx(float(change) / 2 / 10, rel=1e-9)


def test_pads_and_swales_that_change_nothing_are_told(tmp_path: Path) -> None:
    corners = {
        "lawn": [[60, 0], [70, 0], [70, 10], [60, 10]],
        "far": [[131, 0], [138, 0], [138, 10], [131, 10]],
        "hall": [[5, 5], [15, 5], [15, 15], [5, 15]],
    }
    pads = [{"name": n, "corners": c, "elevation": 100.0} for n, c in corners.items()]
    line = {"name": "road ditch", "line": [[134, 30], [134, 60]]}
    swale = line | {"inverts": [99, 98], "bottom_width": 2, "side": 0}
    said = answer(tmp_path, job(pads=pads, swales=[swale])).cautions
    told = [c.message for c in said if c.code == "off-the-lot"]
    assert [m.split(" lies")[0] for m in told] == ["Pad far", "Pad hall", "Swale road ditch"]


def test_a_pad_on_ground_that_is_kept_is_told(tmp_path: Path) -> None:
    pad = {"name": "drive", "corners": [[60, 0], [70, 0], [70, 10], [60, 10]], "elevation": 100.0}
    keep = {"name": "oak", "corners": [[68, 0], [80, 0], [80, 10], [68, 10]]}
    said = answer(tmp_path, job(pads=[pad], keep=[keep])).cautions
    told = [c.message for c in said if c.code == "pad-on-kept-area"]
    assert len(told) == 1
    assert "20 ft² of pad drive" in told[0]
    assert "area oak" in told[0]


def figures(told: GradeAnswer) -> dict[str, list[float]]:
    return {
        row.wall: [row.backfill.bank, row.grade_fill.bank, row.stone, row.cut, row.surplus]
        for row in told.walls
    }


def tilted(e: float, n: float) -> float:
    return 100.0 + e / 64 + n / 32


FULL_LOT: dict[str, Any] = {
    "walls": {"back": {"wall_grade": [103.0, 102.0]}, "right": {"wall_grade": [101.0, 103.0]},
              "left": {"wall_grade": [102.0, 101.0]}},
    "pads": [{"name": "drive", "corners": [[60, -50], [80, -50], [80, -30], [60, -30]],
              "elevation": 98.0}],
    "swales": [{"line": [[-60, -60], [-60, 90]], "inverts": [94.0, 98.0], "bottom_width": 2.0}],
    "keep": [{"name": "oak", "corners": [[-40, 0], [-30, 0], [-30, 10], [-40, 10]]}],
    "topsoil_respread": 0.25, "unsuitable": 0.125,
}  # fmt: skip


def full() -> dict[str, Any]:
    data = job(**FULL_LOT)
    for key, value in {
        "wall_thickness": 0.75, "wall_height": 8.0,
        "footing": {"width": 1.5, "depth": 0.75, "projection": 0.375},
        "stone": {"beyond": 1.0, "over": 0.5, "under_slab": 0.25},
    }.items():  # fmt: skip
        data = changed(data, ("foundation", key), value)
    return data | {"dig": {"floor": 94.0, "overdig": 2.0, "side": 1.0, "topsoil_strip": 0.5}}


@pytest.fixture(scope="module")
def base(tmp_path_factory: pytest.TempPathFactory) -> GradeAnswer:
    return answer(tmp_path_factory.mktemp("base"), full(), shots(tilted))


def assert_same(seen: GradeAnswer, wanted: GradeAnswer, factor: float = 1.0) -> None:
    first, second = figures(seen), figures(wanted)
    assert first.keys() == second.keys()
    gross = sum(row.cut for row in wanted.walls) * factor
    for wall, row in second.items():
        assert first[wall] == pytest.approx([factor * v for v in row], abs=1e-9 * gross), wall


def test_the_other_way_round_drawn_house_and_lot_change_nothing(
    tmp_path: Path, base: GradeAnswer
) -> None:
    data = full()
    data["foundation"]["corners"] = [HOUSE[0], HOUSE[3], HOUSE[2], HOUSE[1]]
    data["foundation"]["walls"] = ["left", "back", "right", "front"]
    data["lot"]["boundary"] = data["lot"]["boundary"][::-1]
    for name, wall in data["lot"]["walls"].items():
        data["lot"]["walls"][name] = {"wall_grade": wall["wall_grade"][::-1]}
    seen = answer(tmp_path, json.loads(json.dumps(data)), shots(tilted))
    assert_same(seen, base)
    assert seen.balance.wall_grade == pytest.approx(base.balance.wall_grade, abs=1e-6)


def test_another_place_on_the_grid_changes_nothing(tmp_path: Path, base: GradeAnswer) -> None:
    east, north = 2_000_000.0, 640_000.0

    def moved(value: Any) -> Any:
        if (
            isinstance(value, list)
            and len(value) == 2
            and all(isinstance(v, (int, float)) for v in value)
        ):
            return [value[0] + east, value[1] + north]
        return [moved(v) for v in value]

    data = full()
    data["foundation"]["corners"] = moved(HOUSE)
    lot = data["lot"]
    lot["boundary"] = moved(lot["boundary"])
    lot["pads"] = [lot["pads"][0] | {"corners": moved(lot["pads"][0]["corners"])}]
    lot["swales"] = [lot["swales"][0] | {"line": moved(lot["swales"][0]["line"])}]
    lot["keep"] = [lot["keep"][0] | {"corners": moved(lot["keep"][0]["corners"])}]
    assert_same(answer(tmp_path, data, shots(tilted, (east, north))), base)


def test_a_lot_line_from_a_file_is_the_same_as_its_corners(
    tmp_path: Path, base: GradeAnswer
) -> None:
    """The line cuts the apron of the front wall short, so that where it lies matters."""
    line = [[-90, -7.5], [130, -7.5], [130, 120], [-90, 120]]
    data = changed(full(), ("lot", "boundary"), line)
    drawn = answer(tmp_path, data, shots(tilted))
    assert figures(drawn)["front"] != pytest.approx(figures(base)["front"], rel=1e-3)
    corners = "".join(f"{e},{n}\n" for e, n in line)
    (tmp_path / "line.csv").write_text("easting,northing\n" + corners)
    assert_same(
        answer(tmp_path, changed(data, ("lot", "boundary"), "line.csv"), shots(tilted)), drawn
    )


def test_garage_walls_go_to_the_foundation_walls_that_face_alike_or_have_rows_of_their_own(
    tmp_path: Path,
) -> None:
    corners = [[0, 0], [65, 0], [65, 30], [0, 30]]
    data = job() | {"house": {"corners": corners, "slab_fill": 1.0}}
    told = answer(tmp_path, data)
    assert [row.wall for row in told.walls] == WALLS
    slab = sum(row.slab_fill.compacted for row in told.walls)
    assert slab == pytest.approx(25 * 30 / 27, rel=1e-12)
    named = data | {"house": data["house"] | {"walls": ["front", "garage", "back", "left"]}}
    told = answer(tmp_path / "named", named)
    assert [row.wall for row in told.walls] == [*WALLS, "garage"]
    by_name = {row.wall: row for row in told.walls}
    assert by_name["garage"].grade_fill.bank > 0.0
    assert by_name["right"].grade_fill.bank == 0.0
    assert by_name["right"].cut > 0.0


def test_what_was_taken_where_the_job_is_silent_is_told(tmp_path: Path) -> None:
    notes = " ".join(answer(tmp_path, job()).notes)
    for key in ("lot.fall ", "lot.fall_distance", "lot.cut_slope", "lot.fill_slope"):
        assert key in notes
    spoken = job(fall=0.05, fall_distance=10.0, cut_slope=3.0, fill_slope=3.0)
    assert "lot.fall" not in " ".join(answer(tmp_path / "b", spoken).notes)


def test_cautions_of_backfill_footings_and_near_work(tmp_path: Path) -> None:
    data = full()
    data["dig"]["pits"] = [
        {"name": "pier", "corners": [[42, 10], [45, 10], [45, 13], [42, 13]], "floor": 97.0}
    ]
    data["lot"]["boundary"] = [[-90, -12], [130, -12], [130, 120], [-90, 120]]
    data["lot"]["swales"] = []
    told = answer(tmp_path, data, shots(tilted))
    codes = [caution.code for caution in told.cautions]
    assert {"backfill-strength", "backfill-lifts", "untied", "work-near-lot-line"} <= set(codes)
    (pier,) = [c.message for c in told.cautions if c.code == "footing-on-backfill"]
    # the dig's side, from 2 beyond the wall at 1:1, is at 94 to 97 under the pier
    assert "pier" in pier
    assert "3.00 ft" in pier


def test_the_json_has_the_keys_that_stay(base: GradeAnswer) -> None:
    told = grade_dict(base, (), {})
    assert {"walls", "lot", "balance", "rasters", "untied", "drainage", "cautions"} <= told.keys()
    text = json.loads(json.dumps(told, allow_nan=False))
    for row in text["walls"]:
        assert {"wall", "backfill", "grade_fill", "stone", "cut", "surplus"} <= row.keys()
        assert {"bank", "loose", "compacted"} == row["backfill"].keys() == row["grade_fill"].keys()
    assert {
        "cut", "fill", "topsoil_strip", "topsoil_respread", "slab_fill", "import_bank",
        "haul_bank", "loads",
    } <= text["lot"].keys()  # fmt: skip
    assert {"wall_grade", "floor"} <= text["balance"].keys()
    assert {"failures", "ponds"} <= text["drainage"].keys()


def test_a_lot_twice_the_size_has_eight_times_the_earth(tmp_path: Path, base: GradeAnswer) -> None:
    def doubled(value: Any) -> Any:
        if isinstance(value, list):
            return [doubled(v) for v in value]
        return 2 * value if isinstance(value, (int, float)) else value

    data = full()
    data["foundation"] |= {"corners": doubled(HOUSE), "wall_thickness": 1.5, "wall_height": 16.0}
    data["foundation"]["footing"] = {"width": 3.0, "depth": 1.5, "projection": 0.75}
    data["foundation"]["stone"] = {"beyond": 2.0, "over": 1.0, "under_slab": 0.5}
    data["dig"] = {"floor": 188.0, "overdig": 4.0, "side": 1.0, "topsoil_strip": 1.0}
    lot = data["lot"]
    lot |= {"fall_distance": 20.0, "topsoil_respread": 0.5, "wall_grade": 202.0}
    lot["boundary"] = doubled(lot["boundary"])
    lot["walls"] = {n: {"wall_grade": doubled(w["wall_grade"])} for n, w in lot["walls"].items()}
    lot["pads"] = [{"corners": doubled(lot["pads"][0]["corners"]), "elevation": 196.0}]
    lot["swales"] = [
        {"line": doubled(lot["swales"][0]["line"]), "inverts": [188.0, 196.0], "bottom_width": 4.0}
    ]
    lot["keep"] = [{"name": "oak", "corners": doubled(lot["keep"][0]["corners"])}]
    assert_same(answer(tmp_path, data, shots(tilted, scale=2.0)), base, 8.0)


def test_a_job_in_metres_takes_three_metres_of_apron_and_steps_of_five_centimetres(
    tmp_path: Path,
) -> None:
    told = answer(tmp_path, changed(job(), ("site", "length_unit"), "m"))
    assert told.volume_unit == "m3"
    assert told.balance.step == 0.05
    assert any("fall_distance" in note and "3 m" in note for note in told.notes)


def test_cautions_of_walls_swales_areas_kept_and_ground_not_surveyed(tmp_path: Path) -> None:
    data = full()
    data["foundation"]["wall_height"] = 7.5  # its top is at 102.25, finished ground at 101 to 103
    data["lot"] |= {
        "swales": [{"line": [[-60, -60], [-60, 90]], "inverts": [120.0, 98.0], "bottom_width": 2}],
        "keep": [{"name": "oak", "corners": [[-8, 0], [-4, 0], [-4, 10], [-8, 10]]}],
        "boundary": [[-120, -90], [130, -90], [130, 120], [-120, 120]],
    }
    cautions = answer(tmp_path, data, shots(tilted)).cautions
    told = {c.code: c for c in cautions}
    buried = {c.wall: c.message for c in cautions if c.code == "wall-buried"}
    assert buried.keys() == {"right", "back", "left"}
    assert "leaves 0.25 ft of the wall" in buried["left"]
    assert "goes 0.75 ft over the top" in buried["right"]
    assert "invert 1 at (-60.0, -60.0)" in told["invert-above-ground"].message
    assert "area oak" in told["work-near-kept-area"].message
    assert f"{20 * 210} ft²" in told["lot-not-surveyed"].message
    low = full()
    low["lot"] = job()["lot"] | {"wall_grade": 94.5}
    codes = [c.code for c in answer(tmp_path / "low", low, shots(97.0)).cautions]
    assert "footing-bare" in codes
