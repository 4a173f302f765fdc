"""Stakes: on a level lot every figure is one that a tape and a rod would give."""

import numpy as np
import pytest

from terrain.base.errors import JobError
from terrain.base.frame import LocalFrame
from terrain.base.units import FOOT
from terrain.export.stakes_csv import points_csv
from terrain.job.load import load_job
from terrain.job.stakes import StakesAsked, instrument_height, stakes_of
from terrain.job.volumes import work_out
from terrain.lot.design import Apron, LotDesign
from terrain.lot.finish import finished
from terrain.report.cut_sheet import cut_sheet_html
from terrain.survey.read import ReadOptions, read_shots
from tests.laws.jobs import write_job

CORNERS = np.array([[100.0, 200.0], [140.0, 200.0], [140.0, 230.0], [100.0, 230.0]])
NAMES = ["front", "right", "back", "left"]


@pytest.fixture
def worked(tmp_path):
    plan = np.stack(np.meshgrid(np.arange(50.0, 191, 20), np.arange(150.0, 281, 26)), axis=-1)
    points = np.column_stack([plan.reshape(-1, 2), np.full(plan.size // 2, 100.0)])
    dig = "floor = 92.0\noverdig = 2.0\nside = 1.0"
    return work_out(load_job(write_job(tmp_path, points, CORNERS, NAMES, dig)))


def asked(**more) -> StakesAsked:
    return StakesAsked(
        **{"spacing": 10.0, "grid": None, "set_back": 0.0, "instrument": None} | more
    )


def test_every_wall_has_its_two_dig_corners_with_the_whole_cut(worked):
    corners = [s for s in stakes_of(worked, None, asked()) if s.kind == "dig corner"]
    assert [s.wall for s in corners] == [n for n in NAMES for _ in range(2)]
    for stake in corners:
        assert (stake.offset, stake.design, stake.cut) == pytest.approx((2.0, 92.0, 8.0))
    front = [(s.station, s.easting, s.northing) for s in corners[:2]]
    assert front == [pytest.approx((-2.0, 98.0, 198.0)), pytest.approx((42.0, 142.0, 198.0))]


def test_daylight_stands_overdig_and_run_from_the_wall_at_even_stations(worked):
    front = [
        s for s in stakes_of(worked, None, asked()) if (s.kind, s.wall) == ("daylight", "front")
    ]
    assert [s.station for s in front] == pytest.approx([0.0, 10.0, 20.0, 30.0, 40.0])
    for stake in front:
        assert (stake.offset, stake.northing, stake.design) == pytest.approx((10.0, 190.0, 100.0))
        assert stake.cut == pytest.approx(0.0, abs=1e-9)


def test_a_set_back_stake_outlasts_the_dig_and_still_tells_of_its_point(worked):
    near = stakes_of(worked, None, asked())
    back = stakes_of(worked, None, asked(set_back=5.0))
    for stood, stake in zip(near, back, strict=True):
        moved = np.hypot(stake.easting - stood.easting, stake.northing - stood.northing)
        # the side runs out 8 ft from the dig line, and the stake stands 5 ft beyond
        assert moved == pytest.approx(5.0 if stake.kind == "daylight" else 13.0, abs=1e-3)
        assert stake.set_back == pytest.approx(moved, abs=1e-3)
        assert (stake.station, stake.offset, stake.design) == (
            stood.station, stood.offset, stood.design,
        )  # fmt: skip


def test_a_corner_that_two_walls_share_is_one_stake(worked):
    corners = [s for s in stakes_of(worked, None, asked()) if s.kind == "dig corner"]
    assert len(corners) == 8
    assert len({s.point for s in corners}) == 4
    text = points_csv(corners).splitlines()
    assert len(text) == 1 + 4


def test_the_rod_reads_the_instruments_height_less_the_design(worked):
    height = instrument_height({"BM1": 100.0}, "BM1", 4.22)
    for stake in stakes_of(worked, None, asked(instrument=height)):
        assert stake.rod == pytest.approx(104.22 - stake.design)


def test_an_unknown_mark_is_refused_with_those_there_are():
    with pytest.raises(JobError, match="BM1"):
        instrument_height({"BM1": 100.0}, "BM2", 4.22)


def lot_of(worked):
    """An apron of 5 % over 10 ft from 101, on the lot whose ground is at 100."""
    frame = worked.layout.frame
    apron = Apron(
        grades=np.full((4, 2), 101.0), fall=0.05, fall_distance=10.0, cut_slope=3.0, fill_slope=3.0
    )
    boundary = np.array([[60.0, 160.0], [180.0, 160.0], [180.0, 270.0], [60.0, 270.0]])
    lot = LotDesign(
        house=worked.layout.design.corners,
        walls=tuple(NAMES),
        apron=apron,
        boundary=frame.to_local(boundary),
    )
    return finished(lot, worked.existing.tin.points, LocalFrame(), FOOT)


def test_aprons_are_staked_at_the_wall_and_where_the_fall_ends(worked):
    front = [
        s
        for s in stakes_of(worked, lot_of(worked), asked())
        if (s.kind, s.wall) == ("apron", "front")
    ]
    for stake in front:
        assert stake.design == pytest.approx(101.0 if stake.offset == 0.0 else 100.5, abs=1e-6)
        assert stake.cut == pytest.approx(100.0 - stake.design), "fill is negative"


def test_the_grid_stands_on_whole_multiples_and_off_the_house(worked):
    grid = [s for s in stakes_of(worked, lot_of(worked), asked(grid=20.0)) if s.kind == "grid"]
    spots = {(s.easting, s.northing) for s in grid}
    assert (80.0, 180.0) in spots
    assert all(e % 20.0 == 0.0 and n % 20.0 == 0.0 for e, n in spots)
    assert not any(100 < e < 140 and 200 < n < 230 for e, n in spots)


def test_a_grid_of_more_stakes_than_anybody_drives_is_refused(worked):
    with pytest.raises(JobError, match="wider"):
        stakes_of(worked, lot_of(worked), asked(grid=0.1))


def test_the_points_file_reads_back_without_loss(worked, tmp_path):
    stakes = stakes_of(worked, lot_of(worked), asked(grid=20.0, set_back=3.0))
    (tmp_path / "stakes.csv").write_text(points_csv(stakes), newline="")
    distinct = {(s.easting, s.northing): s for s in stakes}
    survey = read_shots(["stakes.csv"], ReadOptions(unit=FOOT, folder=tmp_path)).shots
    read = {
        (e, n): z
        for e, n, z in zip(
            survey.easting.tolist(), survey.northing.tolist(), survey.elevation.tolist(),
            strict=True,
        )
    }  # fmt: skip
    assert set(read) == set(distinct)
    for spot, elevation in read.items():
        assert elevation in {s.design for s in stakes if (s.easting, s.northing) == spot}


def test_the_cut_sheet_has_a_page_a_wall_and_markup_in_names_is_text(worked):
    page = cut_sheet_html("<b>x</b>", stakes_of(worked, None, asked()), "ft", "2026-11-25")
    assert page.count('class="sheet"') == 4
    assert "<b>x</b>" not in page
    assert "&lt;b&gt;x&lt;/b&gt;" in page
