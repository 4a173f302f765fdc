"""The lot as graded against closed forms of a house on level ground."""

from pathlib import Path

import numpy as np
import pytest
from rasterio.io import MemoryFile

from terrain.base.errors import SpoilbankError
from terrain.base.units import FOOT
from terrain.export.geotiff import RasterPlace, geotiff
from tests.job.made_graded import AREA, HOUSE, LOT_LINE, OUTWARD, Row, design_shots, graded
from tests.job.test_grade import job


def test_a_lot_graded_as_asked_is_right_everywhere(tmp_path: Path) -> None:
    seen = graded(tmp_path, design_shots())
    assert seen.total.area == pytest.approx(AREA, rel=1e-12)
    assert seen.total.share_within == pytest.approx(1.0, abs=1e-12)
    assert [seen.total.high, seen.total.low] == pytest.approx([0.0, 0.0], abs=1e-9)
    assert seen.shots == seen.shots_within == 16
    assert {fall.wall: fall.verdict for fall in seen.falls} == dict.fromkeys(
        ("front", "right", "back", "left"), "falls away"
    )
    for fall in seen.falls:
        assert fall.fall == pytest.approx(0.5, abs=1e-9)
        assert fall.needed == pytest.approx(0.5, abs=1e-9)
    assert seen.drainage.failures == ()
    assert seen.drainage.ponds == ()


def test_a_lot_left_high_is_high_by_its_area_times_the_error_on_every_side(tmp_path: Path) -> None:
    rows = [(e, n, z + 0.15, line) for e, n, z, line in design_shots()]
    seen = graded(tmp_path, rows)
    assert seen.total.net == pytest.approx(0.15 * AREA / 27, abs=1e-9)
    assert seen.total.to_trim == pytest.approx(0.15 * AREA / 27, abs=1e-9)
    assert [seen.total.low, seen.total.to_fill] == pytest.approx([0.0, 0.0], abs=1e-12)
    assert seen.total.share_within == pytest.approx(0.0, abs=1e-12)
    for side in seen.sides:
        assert side.net == pytest.approx(0.15 * side.area / 27, abs=1e-9), side.wall
    assert sum(side.area for side in seen.sides) == pytest.approx(AREA, rel=1e-12)
    assert [seen.mean, seen.rmse] == pytest.approx([0.15, 0.15], abs=1e-12)
    assert seen.worst_high is not None
    assert seen.worst_high.error == pytest.approx(0.15, abs=1e-12)
    assert seen.worst_low is None
    wide = graded(tmp_path / "wide", rows, verify={"grade_tolerance": 0.2})
    assert wide.total.share_within == pytest.approx(1.0, abs=1e-12)
    assert wide.total.to_trim == pytest.approx(0.0, abs=1e-12)


def test_within_and_trim_are_split_where_a_slope_of_error_passes_the_tolerance(
    tmp_path: Path,
) -> None:
    """Off by 0.002 a foot eastward from the middle: within 0.1 for 50 ft either way."""
    rows = [(e, n, z + 0.002 * (e - 20.0), line) for e, n, z, line in design_shots()]
    seen = graded(tmp_path, rows)
    within = 100.0 * 210.0 - 1200.0
    assert seen.total.area - within == pytest.approx(
        seen.total.area * (1 - seen.total.share_within), rel=1e-9
    )
    beyond = 210.0 * (0.1 + 0.22) / 2 * 60.0
    assert seen.total.to_trim == pytest.approx(beyond / 27, rel=1e-9)
    assert seen.total.to_fill == pytest.approx(beyond / 27, rel=1e-9)
    assert seen.total.net == pytest.approx(0.0, abs=1e-9)


def test_a_wall_whose_ground_was_left_low_at_the_house_fails_by_what_it_lacks(
    tmp_path: Path,
) -> None:
    low = {tuple(HOUSE[2]), tuple(HOUSE[3])}
    rows = [(e, n, 100.4 if (e, n) in low else z, line) for e, n, z, line in design_shots()]
    seen = graded(tmp_path, rows)
    falls = {fall.wall: fall for fall in seen.falls}
    assert falls["back"].verdict == "fails"
    assert falls["back"].fall == pytest.approx(-0.1, abs=1e-9)
    assert falls["back"].failing == falls["back"].stations
    assert falls["front"].verdict == "falls away"
    assert {falls["left"].verdict, falls["right"].verdict} == {"fails"}
    assert {failure.wall for failure in seen.drainage.failures} == {"left", "right", "back"}


def test_a_fall_nearer_to_what_is_asked_than_its_doubt_is_not_called_either_way(
    tmp_path: Path,
) -> None:
    """Each station rests on two shots or more, so the doubt is 1.96 x 0.05 x root 2 at most."""
    existing = {"existing": {"shots": ["shots.csv"], "accuracy": 0.05}}
    rows = [(e, n, z - 0.03 if z == 101.0 else z, line) for e, n, z, line in design_shots()]
    seen = graded(tmp_path, rows, **existing)
    for fall in seen.falls:
        assert fall.verdict == "within doubt"
        assert fall.fall == pytest.approx(0.47, abs=1e-9)
        assert fall.plus_minus_95 is not None
        assert fall.plus_minus_95 <= 1.96 * 0.05 * 2**0.5 + 1e-9
    assert graded(tmp_path / "b", rows).falls[0].verdict == "fails"


def test_ground_that_was_not_shot_near_a_wall_is_not_judged(tmp_path: Path) -> None:
    far = [row for row in design_shots() if not row[3].startswith(("ring 0", "mitre"))]
    seen = graded(tmp_path, far)
    assert {fall.verdict for fall in seen.falls} == {"not enough shots"}
    assert {fall.stations for fall in seen.falls} == {0}


def test_the_house_is_no_ground_though_shots_lie_on_all_its_sides(tmp_path: Path) -> None:
    """A walk-out: 7 ft lower at the back, shots 1 ft off the wall all round."""
    rows = []
    for off in (1.0, 10.0, 40.0):
        ring = HOUSE + off * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
        for k in range(4):
            for share in np.linspace(0, 1, 9)[:-1]:
                e, n = ring[k] + share * (ring[(k + 1) % 4] - ring[k])
                z = 101.0 - 7.0 * np.clip(n, 0.0, 30.0) / 30.0 - 0.05 * off
                rows.append((float(e), float(n), float(z), ""))
    seen = graded(tmp_path, rows)
    height = seen.rasters[0].values
    grid = seen.rasters[0].grid
    centres = grid.centres()
    # the job's local frame has its origin at whole units of the foundation's middle
    east, north = centres[..., 0] + 20.0, centres[..., 1] + 15.0
    inside = (np.abs(east - 20) < 18) & (np.abs(north - 15) < 13)
    assert np.isnan(height[inside]).all()
    assert inside.any()
    by_wall = {fall.wall: fall for fall in seen.falls}
    assert by_wall["front"].fall == pytest.approx(0.45, abs=1e-6)
    assert by_wall["front"].needed == pytest.approx(0.45, abs=1e-6)
    assert not [p for p in seen.drainage.ponds if p.wall == "front"]


def test_a_hollow_left_in_the_lawn_is_a_pond(tmp_path: Path) -> None:
    ring = [(-60.0, -60.0), (-40.0, -60.0), (-40.0, -40.0), (-60.0, -40.0)]
    rows = [*design_shots(), *((e, n, 100.0, "") for e, n in ring), (-50.0, -50.0, 99.0, "")]
    seen = graded(tmp_path, rows)
    (pond,) = seen.drainage.ponds
    assert pond.depth == pytest.approx(1.0, abs=0.05)
    assert pond.volume == pytest.approx(400.0 / 3, rel=0.02)
    assert pond.before == 0.0
    assert seen.total.low == pytest.approx(400.0 / 3 / 27, rel=1e-9)


def test_the_rasters_are_the_survey_and_its_error_on_the_lots_own_cells(tmp_path: Path) -> None:
    rows = [(e, n, z + 0.002 * (e - 20.0), line) for e, n, z, line in design_shots()]
    seen = graded(tmp_path, rows)
    height, error = seen.rasters
    assert (height.name, error.name) == ("as_graded_2027-07-01", "as_graded_error_2027-07-01")
    east = height.grid.centres()[..., 0]
    known = ~np.isnan(error.values)
    origin = east[0, 0] - (-90.0 + height.grid.cell / 2)
    assert error.values[known] == pytest.approx(0.002 * (east[known] - origin - 20.0), abs=1e-9)
    assert known.sum() == int(AREA / height.grid.cell**2)


def test_shots_that_are_no_ground_of_this_lot_are_refused(tmp_path: Path) -> None:
    rows = design_shots()
    for name, bad, words in (
        ("few", rows[:2], "three at least"),
        ("elsewhere", [(e + 5000, n, z, line) for e, n, z, line in rows], "another lot"),
        ("high", [(e, n, z + 300, line) for e, n, z, line in rows], "one datum"),
        ("line", [(float(k), 0.0, 100.0, "") for k in range(5)], "straight line"),
    ):
        with pytest.raises(SpoilbankError, match=words) as caught:
            graded(tmp_path / name, bad)
        fault = caught.value.faults[0]
        assert fault.file is not None, name
        assert fault.line is not None, name


def test_a_survey_in_metres_of_a_lot_in_feet_is_named(tmp_path: Path) -> None:
    data = job()
    move = 20_000.0
    existing = tmp_path
    existing.mkdir(exist_ok=True)
    from terrain.job.asgraded import graded_surveys
    from terrain.job.graded import grade_out
    from terrain.job.load import load_job
    from terrain.job.volumes import work_out
    from tests.job.made_graded import written
    from tests.job.made_job import toml
    from tests.job.test_grade import shots

    corners = [[e + move, n + move] for e, n in data["foundation"]["corners"]]
    data["foundation"]["corners"] = corners
    data["lot"]["boundary"] = [[e + move, n + move] for e, n in data["lot"]["boundary"]]
    data["asgraded"] = [{"date": "2027-07-01", "shots": ["graded.csv"]}]
    rows = [(0.3048 * (e + move), 0.3048 * (n + move), 0.3048 * z, line)
            for e, n, z, line in design_shots()]  # fmt: skip
    (tmp_path / "shots.csv").write_text(shots(move=(move, move)))
    (tmp_path / "graded.csv").write_text(written(rows))
    (tmp_path / "job.toml").write_text(toml(data))
    worked = work_out(load_job(tmp_path / "job.toml"))
    with pytest.raises(SpoilbankError, match="look like metres"):
        graded_surveys(grade_out(worked, lambda stage: None))


def test_the_raster_file_holds_the_day_the_vertical_datum_and_the_heights(tmp_path: Path) -> None:
    site = {"site": {"length_unit": "ft", "vertical_datum": "BM1 = 100"}}
    seen = graded(tmp_path, design_shots(), **site)
    place = RasterPlace(
        title="lot", frame=seen.map.frame, unit=FOOT, crs=None,
        vertical_datum=seen.vertical_datum, survey_date=seen.date,
    )  # fmt: skip
    with MemoryFile(geotiff(seen.rasters[0], place)) as memory, memory.open() as file:
        assert file.tags()["SURVEY_DATE"] == "2027-07-01"
        assert file.tags()["VERTICAL_DATUM"] == "BM1 = 100"
        (at_lawn,) = file.sample([(-60.5, -60.5)])
        assert at_lawn[0] == pytest.approx(100.0, abs=1e-9)
        (at_apron,) = file.sample([(20.5, -4.5)])
        assert at_apron[0] == pytest.approx(101.0 - 0.05 * 4.5, abs=1e-9)
    design = RasterPlace(
        title="lot", frame=seen.map.frame, unit=FOOT, crs=None, vertical_datum=None
    )
    with MemoryFile(geotiff(seen.rasters[0], design)) as memory, memory.open() as file:
        assert "SURVEY_DATE" not in file.tags()


def test_ground_that_begins_too_far_from_a_wall_is_not_judged_and_near_it_is(
    tmp_path: Path,
) -> None:
    """Shots 1.5 ft off the wall are at it, those 5 ft off are not; 2 ft is the gap allowed."""

    def ringed(off: float) -> list[Row]:
        rows = []
        for away in (off, 10.0, 40.0):
            ring = HOUSE + away * OUTWARD
            for k in range(4):
                for share in np.linspace(0, 1, 13)[:-1]:
                    e, n = ring[k] + share * (ring[(k + 1) % 4] - ring[k])
                    rows.append((float(e), float(n), 101.0 - 0.06 * away, ""))
        return rows

    near, far = graded(tmp_path / "near", ringed(1.5)), graded(tmp_path / "far", ringed(5.0))
    for fall in near.falls:
        assert fall.verdict == "falls away"
        assert fall.stations == fall.asked
        # 0.06 along all rays but those at corners, where triangles cut across the wall
        assert fall.mean_per_run == pytest.approx(0.06, abs=0.004)
    assert {fall.verdict for fall in far.falls} == {"not enough shots"}


def test_a_ridge_before_a_wall_is_found_where_it_stands_and_as_high_as_it_is(
    tmp_path: Path,
) -> None:
    """A ridge 0.2 over the wall grade all round, 4 out; past it the ground falls as asked."""
    rings = [(0.0, 101.0), (4.0, 101.2), (10.0, 100.5), (11.5, 100.0)]
    ends = [(HOUSE + out * OUTWARD, height) for out, height in rings]
    rows = [
        (*spot, height, f"ring {k}")
        for k, (ring, height) in enumerate(ends)
        for spot in (*ring.tolist(), ring[0].tolist())
    ]
    rows += [(*ring[k].tolist(), height, f"mitre {k}") for k in range(4) for ring, height in ends]
    rows += [(*spot, 100.0, "") for spot in LOT_LINE.tolist()]
    for fall in graded(tmp_path, rows).falls:
        assert (fall.verdict, fall.why) == ("fails", "rises")
        assert fall.lacking == pytest.approx(0.2, abs=1e-9)
        assert fall.high_out == pytest.approx(4.0, abs=1e-6)
        k = ["front", "right", "back", "left"].index(fall.wall)
        along = HOUSE[(k + 1) % 4] - HOUSE[k]
        spot = HOUSE[k] + fall.along * along / np.hypot(*along)
        assert np.allclose(fall.spot, spot, rtol=0.0, atol=1e-5)
