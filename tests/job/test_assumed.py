"""What a job says is told in its own figures: nothing left out that changes a volume."""

import numpy as np
import pytest
import shapely

from terrain.job.assumed import assumed, side_words
from terrain.job.load import load_job
from terrain.job.volumes import told, work_out

DEMO = "terrain/cli/demo_job/job.toml"


@pytest.fixture(scope="module")
def worked():
    return work_out(load_job(DEMO))


def test_the_demos_own_figures_are_all_there(worked):
    said = dict(assumed(worked.job, worked.layout))
    assert said["Floor"] == "96.5 ft, given"
    assert said["Footing"] == (
        "1.5 ft wide, 0.75 ft deep, 0.5 ft past the outside face, on the floor"
    )
    assert said["Topsoil strip"] == "0.5 ft"
    assert said["Soil class"] == "B"
    assert said["Marks"] == "BM1 at 105.15 ft"
    assert said["Breaklines"] == "by code: ditch, road edge"
    assert said["Truck"] == "14 yd³ loose, heaped, 110 USD a load"
    assert "0.05 ft for each shot" in said["Accuracy"]
    assert "0.03 ft for the mark they hang on" in said["Accuracy"]


def test_every_wall_has_its_overdig_and_side_once(worked):
    lines = [words for title, words in assumed(worked.job, worked.layout) if "side" in title]
    named = [name for line in lines for name in line.split(":")[0].split(", ")]
    assert sorted(named) == sorted(wall.name for wall in worked.layout.design.walls)
    assert (
        "street: 3 ft out, then 4 ft upright, a bench 3 ft wide, then 0.75 back for each 1 up"
        in lines
    )


@pytest.mark.parametrize(
    ("side", "words"),
    [
        (((0.0, 1.0),), "upright"),
        (((1.5, 1.0),), "1.5 back for each 1 up"),
        (((0.0, 4.0), (4.0, 0.0)), "4 m upright, a bench 4 m wide, and so on"),
        (((1.0, 2.0), (0.0, 1.0)), "1 m back in 2 m up, 1 m upright, and so on"),
    ],
)
def test_a_side_in_words_from_the_floor_up(side, words):
    assert side_words(side, "m") == words


def test_the_share_lines_part_the_house_into_one_piece_a_wall_nearest_to_it(worked):
    plan = told(worked).plan
    house = shapely.Polygon(plan.corners)
    lines = [shapely.LineString(line) for line in plan.shares]
    drawn = shapely.node(shapely.union_all([*lines, house.exterior]))
    parts = shapely.get_parts(shapely.polygonize([drawn]))
    assert len(parts) == len(plan.walls)
    ends = [*plan.corners[1:], plan.corners[0]]
    walls = [shapely.LineString(pair) for pair in zip(plan.corners, ends, strict=True)]
    for part in parts:  # each has one wall whole on its edge, and no spot in it is nearer another
        own = [wall for wall in walls if wall.buffer(1e-6).contains(part.intersection(wall))
               and part.buffer(1e-6).contains(wall)]  # fmt: skip
        assert len(own) == 1
        spots = shapely.points(np.random.default_rng(1).uniform(-30, 30, (2000, 2)))
        spots = spots[shapely.contains(part.buffer(-0.01), spots)]
        seen = [spot for spot in spots if part.exterior.distance(spot) > 0]
        for spot in seen:
            # a reflex corner gives both its walls the same distance: the skeleton parts there
            others = [wall.distance(spot) for wall in walls if wall is not own[0]]
            assert own[0].distance(spot) <= min(others) + 1e-9 or _beside(own[0], spot)


def _beside(wall, spot):
    """Whether a spot lies past an end of its wall, where the nearest place is a corner."""
    along = wall.project(spot)
    return along in (0.0, wall.length)


def test_the_dig_lines_corners_are_those_of_the_ring_between_their_walls(worked):
    corners = told(worked).dig_corners
    by_walls = {corner.walls: (corner.easting, corner.northing) for corner in corners}
    # the patio's wall runs along northing 322 from easting 516, both walls dug 2 ft further out
    assert by_walls[("ditch side", "patio")] == pytest.approx((514.0, 320.0), abs=1e-9)
    # the street has 3 ft
    assert by_walls[("street", "ditch side")] == pytest.approx((514.0, 353.0), abs=1e-9)
    assert len(corners) == len(worked.layout.design.walls)
