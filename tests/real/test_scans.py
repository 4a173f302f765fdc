"""Ground filters held to open scans that people have classed (licences in README.md)."""

import tarfile

import laspy
import numpy as np
import pytest
from scipy.spatial import cKDTree

from terrain.base.units import FOOT
from terrain.survey.ground_filter import GroundFilter, ground_among
from tests.real.open_data import Package, fetched

LASPY = Package(
    "laspy", "2.7.0", "laspy-2.7.0.tar.gz",
    "f56feb5445e75d6ff12ee814aab6a35339290e75264ff277c6bf553f3025a3f5",
)  # fmt: skip
LOT = "laspy-2.7.0/tests/data/file_with_both_wkt_and_geotiff_vlrs.las"
FIELD = "laspy-2.7.0/tests/data/autzen_trim.laz"
GROUND, PLANTS, BUILDING = 2, (4, 5), 6


@pytest.fixture(scope="session")
def scan(cache):
    """Points (n, 3) in feet of a file of the package, and their classes."""

    def call(member):
        target = cache / member.rpartition("/")[2]
        if not target.exists():
            with tarfile.open(fetched(LASPY, cache)) as archive:
                target.write_bytes(archive.extractfile(member).read())
        cloud = laspy.read(target)
        return np.column_stack([cloud.x, cloud.y, cloud.z]), np.asarray(cloud.classification)

    return call


@pytest.mark.parametrize(("way", "house"), [("cloth", 0.01), ("opening", 0.001)])
def test_a_filter_finds_what_people_classed_as_ground_round_a_house_and_neither_roof_nor_tree(
    scan, way, house
):
    points, classes = scan(LOT)
    found = ground_among(points, GroundFilter(way=way), FOOT).ground
    assert found[classes == GROUND].mean() > 0.98
    assert not found[np.isin(classes, PLANTS)].any()
    assert found[classes == BUILDING].mean() < house


@pytest.mark.parametrize("way", ["cloth", "opening"])
def test_the_ground_found_under_a_flight_lies_at_the_height_of_what_was_classed(scan, way):
    points, classes = scan(FIELD)
    found = ground_among(points, GroundFilter(way=way, threshold=0.3), FOOT).ground
    theirs, ours = points[classes == GROUND], points[found]
    tree = cKDTree(theirs[:, :2])
    apart, near = tree.query(ours[:, :2])
    close = apart < 3.0
    over = ours[close, 2] - theirs[near[close], 2]
    assert abs(np.median(over)) < 0.1  # feet
    assert np.mean(np.abs(over) < 1.0) > 0.95
