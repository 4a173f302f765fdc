"""Where the cut is deepest, and how far loose and loads may be off, on pits reckoned by hand."""

from dataclasses import replace

import pytest

from terrain.job.deepest import deepest_spot
from terrain.job.load import load_job
from terrain.job.loose_range import loose_range
from terrain.job.plan import dig_corners
from terrain.job.volumes import told, volumes
from terrain.ledger.entries import LooseVolume
from terrain.ledger.soil import soil_factors
from tests.job.made_pit import plane, worked
from tests.made_answer import made_ledger

DEEP_PIT = """floor = 92.0
overdig = 2.0
side = 1.0
[[dig.pits]]
name = "sump"
corners = [[20.0, 14.0], [22.0, 14.0], [22.0, 16.0], [20.0, 16.0]]
floor = 89.0
side = 0.0
overdig = 0.0
"""


def spot_of(made):
    return deepest_spot(made, dig_corners(made.layout, made.dig))


@pytest.mark.parametrize(
    ("fall", "at", "walls"),
    [
        ((0.02, 0.05), (42.0, 32.0), {"east", "north"}),
        ((-0.02, 0.05), (-2.0, 32.0), {"north", "west"}),
        ((-0.02, -0.05), (-2.0, -2.0), {"west", "south"}),
    ],
)
def test_on_a_plane_the_deepest_cut_is_at_the_highest_corner_of_the_floor(
    tmp_path, fall, at, walls
):
    spot = spot_of(worked(tmp_path, ground=plane(fall=fall)))
    assert (spot.easting, spot.northing) == pytest.approx(at, abs=1e-6)
    assert set(spot.corner) == walls
    assert spot.away == 0.0


def test_where_many_places_are_as_deep_none_is_named(tmp_path):
    assert spot_of(worked(tmp_path)) is None
    along_a_wall = worked(tmp_path, ground=plane(fall=(0.0, 0.05)))
    assert spot_of(along_a_wall) is None


def test_a_pit_far_from_the_corners_says_how_far(tmp_path):
    made = worked(tmp_path, DEEP_PIT, ground=plane(fall=(0.02, 0.05)))
    spot = spot_of(made)
    assert (spot.easting, spot.northing) == pytest.approx((22.0, 16.0), abs=1e-6)
    assert spot.away == pytest.approx((20.0**2 + 16.0**2) ** 0.5)
    assert set(spot.corner) == {"east", "north"}
    assert told(made).ledger.deepest_in == "sump"


def test_the_loose_range_is_the_doubt_of_the_bank_at_the_ends_of_the_swell():
    total = made_ledger(doubt=10.0).total
    bank, loam = total.quantity.bank, soil_factors("loam")  # 0.15 to 0.25 printed (S2)
    found = loose_range(total, loam, LooseVolume(14.0))
    assert (found.low, found.high) == pytest.approx(((bank - 10) * 1.15, (bank + 10) * 1.25))
    assert found.loads == (-(-found.low // 14), -(-found.high // 14))
    assert found.swell == (0.15, 0.25)
    unsaid = loose_range(made_ledger(doubt=None).total, loam, None)
    assert (unsaid.low, unsaid.high) == pytest.approx((bank * 1.15, bank * 1.25))
    assert unsaid.loads is None


def test_a_soil_in_no_table_has_the_surveys_doubt_alone_and_without_it_no_range():
    gumbo = soil_factors("gumbo", swell=0.3, shrink=0.1)
    total = made_ledger(doubt=10.0).total
    found = loose_range(total, gumbo, None)
    assert found.swell is None
    assert found.high - found.low == pytest.approx(20.0 * 1.3)
    assert loose_range(made_ledger(doubt=None).total, gumbo, None) is None


def test_one_shot_far_off_its_neighbours_is_a_warning_of_the_answer(tmp_path):
    ground = plane(fall=(0.02, 0.05))
    assert told(worked(tmp_path, ground=ground)).warnings == ()
    spiked = ground.copy()
    spiked[40, 2] += 45.0
    found = told(worked(tmp_path, ground=spiked))
    assert len(found.warnings) >= 1
    assert "stands 45.00 ft above" in found.warnings[0]
    assert set(found.warnings) <= set(found.notes)


def test_the_demo_says_that_its_lot_keeps_earth_back():
    demo = load_job("terrain/cli/demo_job/job.toml")
    assert volumes(demo).has_finished_lot
    assert not volumes(replace(demo, lot=None)).has_finished_lot
