"""Stakes: on a level lot every figure is one that a tape and a rod would give."""

import re

import numpy as np
import pytest

from terrain.base.errors import JobError
from terrain.base.frame import LocalFrame
from terrain.base.units import FOOT
from terrain.export.stakes_csv import points_csv
from terrain.job.load import load_job
from terrain.job.stake_lines import stake_lines
from terrain.job.stakes import StakesAsked, instrument_height, stakes_of
from terrain.job.volumes import work_out
from terrain.lot.design import Apron, LotDesign
from terrain.lot.finish import finished
from terrain.report.cut_sheet import SheetFacts, cut_sheet_html, stake_counts
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


def sheet(worked, lot, stakes, title="x"):
    facts = SheetFacts(title=title, unit="ft", date="2026-11-25")
    return cut_sheet_html(facts, stakes, stake_lines(worked, lot))


def parts_of(page):
    return re.findall(r'<section class="part" id="(\w+)">(.*?)</section>', page, flags=re.S)


def first_cells(part):
    return re.findall(r'<td class="point"[^>]*>(\w+)</td>', part)


def test_the_cut_sheet_has_every_wall_and_markup_in_names_is_text(worked):
    page = sheet(worked, None, stakes_of(worked, None, asked()), title="<b>x</b>")
    assert [name for name, _ in parts_of(page)] == ["dig"]
    assert re.findall(r"<h2>Wall (\w+)</h2>", page) == NAMES
    assert "<b>x</b>" not in page
    assert "&lt;b&gt;x&lt;/b&gt;" in page


def test_finished_ground_is_on_a_sheet_of_its_own_after_all_of_the_dig(worked):
    lot = lot_of(worked)
    stakes = stakes_of(worked, lot, asked(grid=20.0))
    dig, finished = parts_of(sheet(worked, lot, stakes))
    assert (dig[0], finished[0]) == ("dig", "finished")
    assert {point[0] for point in first_cells(dig[1])} == {"D", "L"}
    assert {point[0] for point in first_cells(finished[1])} == {"A", "G"}
    told = [*first_cells(dig[1]), *first_cells(finished[1])]
    assert sorted(told) == sorted(stake.point for stake in stakes)
    assert stake_counts(stakes) == (
        len(set(first_cells(dig[1]))), len(set(first_cells(finished[1]))),
    )  # fmt: skip


def test_every_stake_is_on_the_sketch_under_its_number(worked):
    lot = lot_of(worked)
    stakes = stakes_of(worked, lot, asked())
    for (_, part), letters in zip(parts_of(sheet(worked, lot, stakes)), ("DL", "A"), strict=True):
        wide = re.search(r'<div class="for-wide">(.*?)</div>', part, flags=re.S)[1]
        drawn = re.findall(r"<text[^>]*>([A-Z]\d+)</text>", wide)
        assert sorted(drawn) == sorted({s.point for s in stakes if s.point[0] in letters})


def test_each_mark_stands_on_the_sketch_where_its_stake_stands_on_the_site(worked):
    stakes = [s for s in stakes_of(worked, None, asked()) if s.kind == "dig corner"]
    wide = sheet(worked, None, stakes).split('<div class="for-wide">')[1].split("</div>")[0]
    at = re.findall(r'd="M0 -4.5[^"]*" transform="translate\(([-\d.]+) ([-\d.]+)\)"', wide)
    places = np.array(at[:4], dtype=float)  # the last one is the key's
    corners = {s.point: (s.easting, s.northing) for s in stakes}
    site = np.array(list(corners.values()))
    scale = np.ptp(places[:, 0]) / np.ptp(site[:, 0])
    assert scale > 1.0, "pixels a foot: the sketch fills its sheet"
    assert np.ptp(places[:, 1]) / np.ptp(site[:, 1]) == pytest.approx(scale, rel=1e-3)
    east, down = (places - places[0]).T
    assert east == pytest.approx(scale * (site[:, 0] - site[0, 0]), abs=0.2)
    assert down == pytest.approx(-scale * (site[:, 1] - site[0, 1]), abs=0.2)


def test_more_stakes_than_can_be_numbered_are_counted_as_left_off(worked):
    lot = lot_of(worked)
    stakes = stakes_of(worked, lot, asked(grid=5.0))
    page = sheet(worked, lot, stakes)
    finished = stake_counts(stakes)[1]
    assert finished > 250
    assert f"numbers left off for want of room: {finished:,}" in page


def test_no_column_is_left_out_on_a_narrow_screen(worked):
    page = sheet(worked, None, stakes_of(worked, None, asked(instrument=104.0, set_back=2.0)))
    rows = re.findall(r"<tr>(<td.*?)</tr>", page)
    for name in ("Stake", "For", "Station", "Offset", "Stake out", "Ground", "Design",
                 "Cut or fill", "Rod", "Easting", "Northing"):  # fmt: skip
        assert all(f'data-name="{name}"' in row for row in rows)
    assert 'class="wide"' not in page
    assert " wide" not in re.sub(r'class="plan [^"]*"', "", "".join(rows))
