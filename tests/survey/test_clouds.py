"""Clouds: ground points in the job's unit, plan and heights each by its own."""

from fractions import Fraction

import numpy as np
import pytest

from terrain.base.errors import SurveyError
from terrain.base.units import FOOT, METRE, US_SURVEY_FOOT
from terrain.survey import cloud_file
from terrain.survey.georef import CloudAsRead
from terrain.survey.read import ReadOptions, read_shots

POINTS = np.array([[1000, 2000, 300], [31000, 2000, 400], [1000, 42000, 500], [9000, 8000, 350]])
# 1 ft = 0.3048 m exactly; US survey foot = 1200/3937 m (85 FR 62698).
METRES = {"m": Fraction(1), "ft": Fraction(3048, 10000), "ftUS": Fraction(1200, 3937)}
# EPSG codes of units and CRSs: the EPSG registry as pyproj carries it.
UTM_M, ARIZONA_FT, NEBRASKA_FTUS = 26915, 2223, 6880
NAVD88_M, NAVD88_FTUS, NAVD88_FT = 5703, 6360, 8228
UNIT_CODE = {"m": 9001, "ft": 9002, "ftUS": 9003}


@pytest.fixture
def read_cloud(make_cloud, tmp_path):
    def call(points=POINTS, cloud=None, unit=METRE, crs=None, bounds=None, **made):
        name = make_cloud(points, **made)
        options = ReadOptions(
            unit=unit, folder=tmp_path, cloud=cloud or CloudAsRead(), crs=crs, bounds=bounds
        )
        return read_shots([name], options)

    return call


def wkt(horizontal: int, vertical: int | None = None) -> str:
    import pyproj

    plan = pyproj.CRS.from_epsg(horizontal)
    if vertical is None:
        return plan.to_wkt("WKT1_GDAL")
    upright = pyproj.CRS.from_epsg(vertical)
    return pyproj.crs.CompoundCRS("site", [plan, upright]).to_wkt("WKT1_GDAL")


def keys(horizontal: int | None = None, **units: str) -> dict[int, int]:
    told = {1024: 1}
    if horizontal is not None:
        told[3072] = horizontal
    if "plan" in units:
        told[3076] = UNIT_CODE[units["plan"]]
    if "heights" in units:
        told[4099] = UNIT_CODE[units["heights"]]
    return told


@pytest.mark.parametrize("name", ["scan.las", "scan.laz"])
@pytest.mark.parametrize(
    ("version", "point_format"),
    [
        ("1.2", 0),
        ("1.2", 1),
        ("1.2", 3),
        ("1.3", 1),
        ("1.4", 1),
        ("1.4", 6),
        ("1.4", 7),
        ("1.4", 8),
    ],
)
def test_every_version_and_format_gives_the_same_points(read_cloud, name, version, point_format):
    survey = read_cloud(name=name, version=version, point_format=point_format, scale=0.01,
                        offset=(500.0, -20.0, 7.5))  # fmt: skip
    assert survey.shots.easting.tolist() == (POINTS[:, 0] * 0.01 + 500.0).tolist()
    assert survey.shots.northing.tolist() == (POINTS[:, 1] * 0.01 - 20.0).tolist()
    assert survey.shots.elevation.tolist() == (POINTS[:, 2] * 0.01 + 7.5).tolist()
    assert survey.shots.row.tolist() == [1, 2, 3, 4]
    assert survey.files[0].kind == name[-3:]


def test_ground_is_taken_if_any_point_is_classed_as_ground(read_cloud):
    # LAS 1.4: class 2 is ground, 7 and 18 are noise (SOURCES 8).
    classes = [2, 5, 2, 2]
    survey = read_cloud(classes=classes)
    assert survey.shots.row.tolist() == [1, 3, 4]
    assert any("3 of 4 points are classed as ground" in note for note in survey.notes)


def test_without_ground_all_but_noise_is_taken_and_it_says_so(read_cloud):
    more = np.vstack([POINTS, [[5, 5, 90000]], [[6, 6, -90000]]])
    survey = read_cloud(more, classes=[1, 1, 0, 5, 7, 18], version="1.4", point_format=6)
    assert survey.shots.row.tolist() == [1, 2, 3, 4]
    assert any("no point is classed as ground" in note for note in survey.notes)


def test_withheld_points_are_left_out_even_as_ground(read_cloud):
    survey = read_cloud(classes=2, withheld=[0, 1, 0, 0])
    assert survey.shots.row.tolist() == [1, 3, 4]
    assert any("1 point marked as withheld" in note for note in survey.notes)


def test_chunks_change_nothing_even_if_ground_begins_late(read_cloud, monkeypatch):
    rng = np.random.default_rng(5)
    points = rng.integers(0, 90000, (500, 3))
    classes = np.where(np.arange(500) < 300, 1, 2)
    whole = read_cloud(points, classes=classes)
    monkeypatch.setattr(cloud_file, "CHUNK", 37)
    parts = read_cloud(points, classes=classes)
    assert parts.shots.row.tolist() == whole.shots.row.tolist() == list(range(301, 501))
    assert parts.shots.elevation.tolist() == whole.shots.elevation.tolist()


def test_bounds_crop_in_the_jobs_unit(read_cloud):
    survey = read_cloud(bounds=(0.0, 0.0, 31.0, 8.0))
    assert survey.shots.row.tolist() == [1, 2, 4]
    assert any("1 point farther out than the job needs" in note for note in survey.notes)


def test_a_cloud_without_crs_is_taken_in_the_jobs_unit_and_it_says_so(read_cloud):
    survey = read_cloud(unit=FOOT)
    assert survey.shots.elevation.tolist() == (POINTS[:, 2] * 0.001).tolist()
    assert any("no CRS and no unit; taken in the job's (ft)" in note for note in survey.notes)


RECORDS = [
    ("wkt metres, metres", {"wkt": wkt(UTM_M, NAVD88_M)}, "m", "m"),
    ("wkt metres, feet up", {"wkt": wkt(UTM_M, NAVD88_FTUS)}, "m", "ftUS"),
    ("wkt feet, feet", {"wkt": wkt(ARIZONA_FT, NAVD88_FT)}, "ft", "ft"),
    ("wkt survey feet, metres up", {"wkt": wkt(NEBRASKA_FTUS, NAVD88_M)}, "ftUS", "m"),
    ("keys by code", {"keys": keys(UTM_M, heights="ft")}, "m", "ft"),
    ("keys by unit", {"keys": keys(plan="ftUS", heights="m")}, "ftUS", "m"),
    ("keys, vertical CRS", {"keys": {**keys(UTM_M), 4096: NAVD88_FTUS}}, "m", "ftUS"),
    ("both agree", {"wkt": wkt(UTM_M, NAVD88_M), "keys": keys(UTM_M, heights="m")}, "m", "m"),
    ("keys add heights", {"wkt": wkt(UTM_M), "keys": keys(UTM_M, heights="ft")}, "m", "ft"),
]


@pytest.mark.parametrize("unit", [FOOT, US_SURVEY_FOOT, METRE], ids=lambda u: u.name)
@pytest.mark.parametrize("case", RECORDS, ids=lambda c: c[0])
def test_plan_and_heights_are_converted_each_by_its_own_unit(read_cloud, case, unit):
    _, records, plan, heights = case
    shots = read_cloud(unit=unit, version="1.4", point_format=6, **records).shots
    own = METRES[unit.name]
    for got, column, factor in (
        (shots.easting, 0, METRES[plan] / own),
        (shots.northing, 1, METRES[plan] / own),
        (shots.elevation, 2, METRES[heights] / own),
    ):
        exact = [float(Fraction(int(v), 1000) * factor) for v in POINTS[:, column]]
        assert got == pytest.approx(exact, rel=4e-16)


REFUSED = [
    ("wkt without heights", {"wkt": wkt(UTM_M)}, r"unit of its heights.*vertical_unit"),
    ("keys without heights", {"keys": keys(UTM_M)}, r"unit of its heights.*vertical_unit"),
    ("keys without plan", {"keys": keys(heights="m")}, r"unit of its plan.*horizontal_unit"),
    ("records disagree", {"wkt": wkt(UTM_M, NAVD88_M), "keys": keys(26916, heights="m")},
     r"records disagree: WKT is .*26915.*GeoTIFF is .*26916.*crs_record"),
    ("heights disagree", {"wkt": wkt(UTM_M, NAVD88_M), "keys": keys(UTM_M, heights="ft")},
     r"records disagree: WKT gives heights in m, GeoTIFF in ft"),
    ("keys contradict", {"keys": keys(32104, plan="ftUS", heights="ftUS")},
     r"contradict each other: 3072 is EPSG:32104 in m, 3076 says ftUS"),
    ("vertical keys contradict", {"keys": {**keys(UTM_M, heights="ft"), 4096: NAVD88_M}},
     r"contradict each other: 4096 is EPSG:5703 in m, 4099 says ft"),
    ("unknown unit code", {"keys": {1024: 1, 3076: 9030, 4099: 9001}}, r"unit code 9030"),
    ("unreadable wkt", {"wkt": "PROJCS[nonsense"}, r"WKT record can't be read"),
    ("degrees, wkt", {"wkt": wkt(4326)}, r"unit of its heights"),
    ("degrees, keys", {"keys": {1024: 2, 2048: 4326, 4099: 9001}}, r"is in degrees.*site\.crs"),
    ("no such code", {"keys": keys(9999, heights="m")}, r"EPSG:9999"),
]  # fmt: skip


@pytest.mark.parametrize("case", REFUSED, ids=lambda c: c[0])
def test_units_that_are_not_plain_are_refused_with_what_to_write(read_cloud, case):
    _, records, pattern = case
    with pytest.raises(SurveyError, match=pattern) as caught:
        read_cloud(version="1.4", point_format=6, **records)
    assert all(fault.file == "scan.las" for fault in caught.value.faults)


SETTLED = [
    ({"wkt": wkt(UTM_M)}, CloudAsRead(vertical_unit="ft"), "m", "ft"),
    ({"keys": keys(heights="m")}, CloudAsRead(horizontal_unit="ft"), "ft", "m"),
    ({}, CloudAsRead(horizontal_unit="m", vertical_unit="ftUS"), "m", "ftUS"),
    ({"wkt": wkt(UTM_M, NAVD88_M), "keys": keys(UTM_M, heights="ft")},
     CloudAsRead(crs_record="geotiff"), "m", "ft"),
    ({"wkt": wkt(UTM_M, NAVD88_M), "keys": keys(UTM_M, heights="ft")},
     CloudAsRead(crs_record="wkt"), "m", "m"),
    ({"keys": keys(32104, plan="ftUS", heights="ftUS")},
     CloudAsRead(horizontal_unit="ftUS"), "ftUS", "ftUS"),
    ({"wkt": wkt(UTM_M, NAVD88_M)}, CloudAsRead(vertical_unit="ft"), "m", "ft"),
]  # fmt: skip


@pytest.mark.parametrize("case", range(len(SETTLED)))
def test_the_job_settles_what_records_leave_open(read_cloud, case):
    records, as_read, plan, heights = SETTLED[case]
    shots = read_cloud(cloud=as_read, version="1.4", point_format=6, **records).shots
    assert shots.easting[1] == pytest.approx(float(31 * METRES[plan]), rel=1e-15)
    assert shots.elevation[1] == pytest.approx(float(Fraction(4, 10) * METRES[heights]), rel=1e-15)


def test_overruling_what_a_file_states_is_noted(read_cloud):
    survey = read_cloud(cloud=CloudAsRead(vertical_unit="ft"), wkt=wkt(UTM_M, NAVD88_M))
    assert any("taken in ft, as the job says; the file says m" in note for note in survey.notes)


def test_the_jobs_grid_and_the_clouds_must_be_one(read_cloud):
    same = read_cloud(crs="EPSG:26915", wkt=wkt(UTM_M, NAVD88_M))
    assert len(same.shots) == 4
    with pytest.raises(SurveyError, match=r"EPSG:26915.*EPSG:26916"):
        read_cloud(crs="EPSG:26916", wkt=wkt(UTM_M, NAVD88_M))
    with pytest.raises(SurveyError, match=r"in m but the job's EPSG:2223 is in ft"):
        read_cloud(crs="EPSG:2223", unit=FOOT, wkt=wkt(UTM_M, NAVD88_M))


@pytest.mark.parametrize(
    ("crs", "pattern"),
    [("EPSG:4326", "not projected"), ("EPSG:2223", "is in ft but"), ("Kestrel grid", "no CRS")],
)
def test_a_job_crs_that_cannot_be_is_refused_at_its_key(read_cloud, crs, pattern):
    with pytest.raises(SurveyError, match=rf"site\.crs: .*{pattern}"):
        read_cloud(crs=crs, wkt=wkt(UTM_M, NAVD88_M))


def test_degrees_are_projected_when_the_job_names_a_grid(read_cloud):
    # On the central meridian of UTM 15 N, 93 W, the easting is 500,000 m (definition of UTM).
    points = np.array([[-930000000, 450000000, 3], [-930000000, 450005000, 4],
                       [-929995000, 450000000, 5]])  # fmt: skip
    survey = read_cloud(
        points, scale=1e-7, crs="EPSG:26915", keys={1024: 2, 2048: 4269, 4099: 9001}
    )
    assert survey.shots.easting[:2] == pytest.approx([500000, 500000], abs=1e-6)
    # 0.0005 degrees of latitude at 45 degrees: 111,131.75 m a degree (GRS 80, from memory).
    step = survey.shots.northing[1] - survey.shots.northing[0]
    assert step == pytest.approx(111131.75 * 0.0005 * 0.9996, abs=0.01)
    assert any("projected from" in note for note in survey.notes)
