"""Phone positions from three kinds of file: projected or fitted, heights settled or refused."""

import json
import math

import numpy as np
import pyproj
import pytest
import rasterio
from affine import Affine

from terrain.base.errors import SurveyError
from terrain.base.units import LENGTH_UNITS
from terrain.survey.georef import Site
from terrain.survey.position_files import read_positions
from terrain.survey.positions import Common, PhoneAsked, shots_of_positions

FT, METRE = LENGTH_UNITS["ft"], LENGTH_UNITS["m"]
UTM = Site(unit=METRE, crs="EPSG:32615")
LOCAL = Site(unit=FT, crs=None)
SEA = PhoneAsked(heights="sea level")
PLACES = np.array(
    [[-93.001, 45.0002], [-93.0005, 45.0002], [-93.0005, 45.0006], [-93.001, 45.0006]]
)
HEIGHTS = [270.0, 271.5, 272.25, 270.75]
NAMES = ["A", "B", "C", "D"]


def csv_of(places=PLACES, heights=HEIGHTS, accuracy=(3.0, 5.0)):
    rows = ["name,latitude,longitude,altitude (m),horizontal_accuracy,vertical_accuracy,code"]
    for name, (lon, lat), high in zip(NAMES, places, heights, strict=True):
        rows.append(f"{name},{lat:.9f},{lon:.9f},{high},{accuracy[0]},{accuracy[1]},ground")
    return read_positions("phone.csv", "\n".join(rows).encode())


def gpx_of():
    points = "".join(
        f'<wpt lat="{lat:.9f}" lon="{lon:.9f}"><ele>{high}</ele><name>{name}</name>'
        "<sym>ground</sym></wpt>"
        for name, (lon, lat), high in zip(NAMES, PLACES, HEIGHTS, strict=True)
    )
    text = (
        f'<gpx version="1.1" creator="t" xmlns="http://www.topografix.com/GPX/1/1">{points}</gpx>'
    )
    return read_positions("phone.gpx", text.encode())


def geojson_of():
    features = [
        {
            "type": "Feature",
            "properties": {"name": name, "code": "ground", "vertical_accuracy": 5.0},
            "geometry": {"type": "Point", "coordinates": [round(lon, 9), round(lat, 9), high]},
        }
        for name, (lon, lat), high in zip(NAMES, PLACES, HEIGHTS, strict=True)
    ]
    text = json.dumps({"type": "FeatureCollection", "features": features})
    return read_positions("phone.geojson", text.encode())


@pytest.mark.parametrize("made", [csv_of, gpx_of, geojson_of])
def test_every_kind_of_file_gives_the_same_shots(made):
    shots = shots_of_positions(made(), SEA, UTM)
    east, north = pyproj.Proj("EPSG:32615")(PLACES[:, 0], PLACES[:, 1])
    assert np.allclose(shots.easting, east, atol=1e-3)
    assert np.allclose(shots.northing, north, atol=1e-3)
    assert shots.elevation.tolist() == HEIGHTS
    assert [shots.point_name(k) for k in range(4)] == NAMES
    assert shots.code_name(2) == "ground"


def test_the_central_meridian_and_the_quadrant_are_where_utm_says():
    # EPSG:26915 (UTM 15 N): central meridian 93 W at easting 500,000 m (definition of UTM).
    text = "lat,lon,z\n45.0,-93.0,300\n45.001,-93.0,301\n45.0,-92.999,302\n"
    site = Site(unit=METRE, crs="EPSG:26915")
    shots = shots_of_positions(read_positions("a.csv", text.encode()), SEA, site)
    assert shots.easting[:2] == pytest.approx([500000, 500000], abs=1e-6)
    # Equator to 45 degrees on GRS 80 is 4,984,944.378 m (meridian quadrant tables, from memory),
    # times the scale 0.9996 of UTM.
    assert shots.northing[0] == pytest.approx(4984944.378 * 0.9996, abs=0.01)
    assert any("WGS 84" in note for note in shots.notes)


def test_heights_and_accuracies_in_metres_become_the_jobs_feet():
    site = Site(unit=FT, crs="EPSG:2223")
    shots = shots_of_positions(csv_of(PLACES + np.array([-19.0, -12.0])), SEA, site)
    assert np.allclose(shots.elevation * 0.3048, HEIGHTS, atol=1e-12)
    assert np.allclose(shots.accuracy * 0.3048, 5.0)


def test_the_geoids_height_over_the_ellipsoid_is_taken_off():
    asked = PhoneAsked(heights="ellipsoid", geoid=-31.25)
    assert shots_of_positions(csv_of(), asked, UTM).elevation.tolist() == [
        h + 31.25 for h in HEIGHTS
    ]


def test_a_geoid_grid_is_read_at_each_place(tmp_path):
    # a plane over degrees: bilinear reading between grid points gives it exactly
    lon, lat = np.meshgrid(-94 + 0.1 * np.arange(21), 46 - 0.1 * np.arange(21))
    plane = (-30.0 + 2.0 * (lon + 93.0) - 3.0 * (lat - 45.0)).astype(np.float32)
    path = tmp_path / "geoid.tif"
    with rasterio.open(
        path, "w", driver="GTiff", width=21, height=21, count=1, dtype="float32",
        crs="EPSG:4326", transform=Affine(0.1, 0.0, -94.05, 0.0, -0.1, 46.05),
    ) as grid:  # fmt: skip
        grid.write(plane, 1)
    shots = shots_of_positions(csv_of(), PhoneAsked(heights="ellipsoid", geoid=path), UTM)
    expected = -30.0 + 2.0 * (PLACES[:, 0] + 93.0) - 3.0 * (PLACES[:, 1] - 45.0)
    assert np.allclose(np.array(HEIGHTS) - shots.elevation, expected, atol=1e-5)


def local_ring(turn=30.0):
    """Where the four places are on a local grid, from another library's distances on the earth."""
    geod = pyproj.Geod(ellps="WGS84")
    lon, lat = PLACES.mean(axis=0)
    azimuth, _, metres = geod.inv(np.full(4, lon), np.full(4, lat), PLACES[:, 0], PLACES[:, 1])
    bearing = np.radians(azimuth + turn)
    feet = np.asarray(metres) / 0.3048
    return np.column_stack([500 + feet * np.sin(bearing), 300 + feet * np.cos(bearing)])


def test_positions_are_fitted_to_a_local_grid_on_common_points():
    ring = local_ring()
    common = tuple(
        Common(point=n, site=(float(e), float(m), h / 0.3048 - 800.0))
        for n, (e, m), h in zip(NAMES[:3], ring, HEIGHTS, strict=False)
    )
    shots = shots_of_positions(csv_of(), PhoneAsked(common=common), LOCAL)
    assert np.allclose(shots.plan, ring, atol=2e-3)
    assert np.allclose(shots.elevation, np.array(HEIGHTS) / 0.3048 - 800.0, atol=1e-9)
    assert any("turned -30.0" in note for note in shots.notes)


def test_the_common_point_that_disagrees_is_named():
    ring = local_ring()
    ring[1] += [0.0, 9.0]
    common = tuple(
        Common(point=n, site=(float(e), float(m))) for n, (e, m) in zip(NAMES, ring, strict=True)
    )
    with pytest.raises(SurveyError, match="B disagrees with the rest"):
        shots_of_positions(csv_of(), PhoneAsked(heights="sea level", common=common), LOCAL)


def test_common_points_with_swapped_axes_are_told_to_be_mirrored():
    swapped = local_ring()[:, ::-1]
    common = tuple(
        Common(point=n, site=(float(e), float(m))) for n, (e, m) in zip(NAMES, swapped, strict=True)
    )
    with pytest.raises(SurveyError, match="fit only mirrored"):
        shots_of_positions(csv_of(), PhoneAsked(heights="sea level", common=common), LOCAL)


def test_a_height_that_disagrees_is_named():
    ring = local_ring()
    common = tuple(
        Common(point=n, site=(float(e), float(m), h / 0.3048 + (9.0 if n == "C" else 0.0)))
        for n, (e, m), h in zip(NAMES, ring, HEIGHTS, strict=True)
    )
    with pytest.raises(SurveyError, match="heights of the common points disagree: C"):
        shots_of_positions(csv_of(), PhoneAsked(common=common), LOCAL)


def test_an_accuracy_that_makes_volumes_meaningless_is_told():
    notes = shots_of_positions(csv_of(), SEA, UTM).notes
    assert any("no volume of a basement can be had" in note for note in notes)
    good = shots_of_positions(csv_of(accuracy=(0.02, 0.03)), SEA, UTM).notes
    assert not any("no volume" in note for note in good)
    silent = shots_of_positions(gpx_of(), SEA, UTM).notes
    assert any("says nothing of the accuracy" in note for note in silent)


@pytest.mark.parametrize(
    ("asked", "site", "said"),
    [
        (PhoneAsked(), UTM, "say what the heights are above"),
        (PhoneAsked(heights="ellipsoid"), UTM, "give the geoid's height"),
        (PhoneAsked(heights="sea level", geoid=3.0), UTM, "has no use"),
        (SEA, LOCAL, "the site is on a local grid"),
        (
            PhoneAsked(heights="sea level", common=(Common(point="A", site=(0.0, 0.0)),)),
            LOCAL,
            "at least two common points",
        ),
        (
            PhoneAsked(
                heights="sea level",
                common=(Common(point="A", site=(0.0, 0.0)), Common(point="Q", site=(9.0, 0.0))),
            ),
            LOCAL,
            'no position is named "Q"',
        ),
        (
            PhoneAsked(
                heights="sea level",
                common=(Common(point="A", site=(1.0, 1.0)), Common(point="B", site=(1.0, 1.0))),
            ),
            LOCAL,
            "all at one spot",
        ),
    ],
)
def test_what_is_not_said_is_refused_and_not_guessed(asked, site, said):
    with pytest.raises(SurveyError) as caught:
        shots_of_positions(csv_of(), asked, site)
    assert said in str(caught.value)
    assert "existing.phone" in str(caught.value)


@pytest.mark.parametrize("content", [None, b"", b"nonsense", b"II*\x00broken"])
def test_a_geoid_file_that_is_none_is_refused(tmp_path, content):
    path = tmp_path / "geoid.tif"
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(SurveyError, match=r"existing\.phone\.geoid") as caught:
        shots_of_positions(csv_of(), PhoneAsked(heights="ellipsoid", geoid=path), UTM)
    assert "geoid.tif" in str(caught.value)
    assert "+proj" not in str(caught.value)


HEAD = "latitude,longitude,height\n"


@pytest.mark.parametrize(
    ("name", "text", "said"),
    [
        ("p.csv", "", "no positions"),
        ("p.csv", HEAD, "no positions"),
        ("p.csv", "lat,height\n1,2\n", "no column is the longitude"),
        ("p.csv", HEAD + "45,x,1\n", 'longitude "x" is not a number'),
        ("p.csv", HEAD + "45,,1\n", "no latitude and longitude"),
        ("p.csv", HEAD + "500000,4000000,1\n", "no place on earth"),
        ("p.csv", HEAD + "45,-93,1e9\n", "no height of ground"),
        ("p.csv", "latitude,longitude,height,accuracy\n45,-93,1,-2\n", "no horizontal accuracy"),
        ("p.gpx", "<gpx", "is no GPX file"),
        ("p.gpx", '<!DOCTYPE x [<!ENTITY a "b">]><gpx/>', "document type"),
        ("p.geojson", "{", "no JSON"),
        ("p.geojson", "{}", "FeatureCollection"),
        ("p.geojson", '{"features":[{"geometry":{"type":"Point","coordinates":1}}]}', "feature 1"),
        ("p.geojson", '{"features":[{"geometry":{"type":"Point","coordinates":"ab"}}]}',
         "feature 1: its coordinates are no longitude"),
        ("p.geojson", '{"features":[{"geometry":{"type":"Point","coordinates":[1,"x"]}}]}',
         "feature 1: its coordinates are no longitude"),
        ("p.kml", "", "positions are read from"),
    ],
)  # fmt: skip
def test_a_file_that_is_no_positions_says_why(name, text, said):
    with pytest.raises(SurveyError) as caught:
        read_positions(name, text.encode())
    assert said in str(caught.value)
    assert name in str(caught.value)


def test_positions_without_a_height_are_refused_by_row():
    positions = read_positions("p.csv", (HEAD + "45,-93,1\n45.1,-93,\n").encode())
    with pytest.raises(SurveyError, match="1 position without a height, the first at 3"):
        shots_of_positions(positions, SEA, UTM)
    assert math.isnan(positions.height[1])
