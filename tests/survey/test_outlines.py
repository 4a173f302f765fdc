"""Outlines and lines in plan: corners as written, closed or open, and every fault named."""

import json

import numpy as np
import pytest

from terrain.base.errors import SurveyError
from terrain.base.units import FOOT, METRE
from terrain.survey.georef import Site
from terrain.survey.outline import OutlineAsked, read_lines, read_outline

SQUARE = [[10.0, 20.0], [30.0, 20.0], [30.0, 50.0], [10.0, 50.0]]
FEET = OutlineAsked(site=Site(unit=FOOT))
GRID = OutlineAsked(site=Site(unit=FOOT), coordinates="grid")


@pytest.fixture
def outline(tmp_path):
    def call(content, name="foundation.csv", asked=FEET, reader=read_outline):
        text = content if isinstance(content, str) else json.dumps(content)
        (tmp_path / name).write_text(text, encoding="utf-8")
        return reader(tmp_path / name, name, asked)

    return call


def polygon(ring, **more):
    return {"type": "Polygon", "coordinates": [ring], **more}


@pytest.mark.parametrize("again", [False, True])
def test_text_outline_is_closed_with_or_without_its_first_corner_again(outline, again):
    corners = SQUARE + SQUARE[:1] * again
    line = outline("n,e\n" + "".join(f"{n},{e}\n" for e, n in corners))
    assert line.closed
    assert line.plan.tolist() == SQUARE
    assert line.elevation is None


def test_elevations_come_along_when_all_corners_have_them(outline):
    line = outline("e,n,z\n1,2,3\n4,2,3.5\n4,8,4\n")
    assert line.elevation is not None
    assert line.elevation.tolist() == [3, 3.5, 4]


def test_lines_are_split_by_a_line_column(outline):
    text = "line,e,n\nlot,0,0\nlot,9,0\nlot,9,9\nlot,0,0\ncurb,1,1\ncurb,2,2\n"
    lot, curb = outline(text, reader=read_lines)
    assert (lot.name, lot.closed, len(lot.plan)) == ("lot", True, 3)
    assert (curb.name, curb.closed, curb.place) == ("curb", False, "foundation.csv:6")


def test_geojson_polygon_on_the_sites_grid(outline):
    line = outline(polygon([*SQUARE, SQUARE[0]]), "f.geojson", GRID)
    assert line.closed
    assert line.plan.tolist() == SQUARE


@pytest.mark.parametrize("name", ["f.geojson", "f.json"])
def test_a_geojson_line_that_ends_where_it_begins_is_an_outline(outline, name):
    line = outline({"type": "LineString", "coordinates": [*SQUARE, SQUARE[0]]}, name, GRID)
    assert line.closed
    assert line.plan.tolist() == SQUARE


def test_an_open_line_is_no_outline_whatever_the_geojson_file_is_called(outline):
    with pytest.raises(SurveyError, match="not closed"):
        outline({"type": "LineString", "coordinates": SQUARE}, "f.json", GRID)


def test_features_keep_their_names_and_lines_stay_open(outline):
    curve = {"type": "LineString", "coordinates": [[1, 2, 3], [4, 5, 6]]}
    feature = {"type": "Feature", "properties": {"name": "curb"}, "geometry": curve}
    lot = {**feature, "geometry": polygon([*SQUARE, SQUARE[0]])}
    both = {"type": "FeatureCollection", "features": [feature, lot]}
    curb, lot = outline(both, "f.json", GRID, read_lines)
    assert (curb.name, curb.closed, lot.closed) == ("curb", False, True)
    assert curb.elevation is not None
    assert curb.elevation.tolist() == [3, 6]


def test_degrees_need_a_grid_in_the_job_and_are_then_projected(outline):
    ring = [[-93.0, 45.0], [-92.9999, 45.0], [-92.9999, 45.0001], [-93.0, 45.0]]
    with pytest.raises(SurveyError, match=r"site\.crs.*coordinates = \"grid\""):
        outline(polygon(ring), "f.geojson")
    asked = OutlineAsked(site=Site(unit=METRE, crs="EPSG:26915"))
    line = outline(polygon(ring), "f.geojson", asked)
    # 93 W is the central meridian of UTM 15 N: easting 500,000 m (definition of UTM).
    assert line.plan[0, 0] == pytest.approx(500000.0, abs=1e-6)
    assert np.ptp(line.plan[:, 1]) == pytest.approx(11.11, abs=0.01)


def test_a_crs_member_is_believed_and_must_be_the_jobs(outline):
    member = {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::26915"}}
    ring = [[500000, 4982000], [500010, 4982000], [500010, 4982010], [500000, 4982000]]
    asked = OutlineAsked(site=Site(unit=METRE, crs="EPSG:26915"))
    assert outline(polygon(ring, crs=member), "f.geojson", asked).plan[0].tolist() == ring[0]
    other = OutlineAsked(site=Site(unit=METRE, crs="EPSG:26916"))
    with pytest.raises(SurveyError, match="EPSG:26916"):
        outline(polygon(ring, crs=member), "f.geojson", other)


BAD = {
    "no JSON": ('{"type": "Polygon", }', r"f\.geojson:1:\d+: this is no JSON"),
    "a list": ("[1, 2]", "is no object"),
    "too deep": ('{"type": "Polygon", "coordinates": ' + "[" * 100000 + "]" * 100000 + "}", "deep"),
    "no type": ('{"coordinates": []}', 'no "type"'),
    "a point": ('{"type": "Point", "coordinates": [1, 2]}', '"Point" is no line'),
    "open ring": (polygon([[0, 0], [9, 0], [9, 9], [0, 9]]), r"coordinates\[0\]: this ring does"),
    "three positions": (polygon([[0, 0], [9, 0], [0, 0]]), "3 positions; 4 at least"),
    "text": (polygon([[0, 0], [9, "a"], [9, 9], [0, 0]]), r"coordinates\[0\]\[1\]: must be"),
    "NaN": ('{"type": "LineString", "coordinates": [[0, NaN], [1, 2]]}', r"\[0\]: must be"),
    "infinite": ('{"type": "LineString", "coordinates": [[0, 1e999], [1, 2]]}', r"\[0\]: must be"),
    "true": (polygon([[0, 0], [9, True], [9, 9], [0, 0]]), r"\[1\]: must be"),
    "no features": ({"type": "FeatureCollection", "features": []}, "holds no line"),
    "no geometry": ({"type": "Feature", "properties": None, "geometry": None}, "no geometry"),
    "unknown crs": (polygon([*SQUARE, SQUARE[0]], crs={"properties": {"name": "x"}}), "crs: "),
    "a hole": ({"type": "Polygon", "coordinates": [[*SQUARE, SQUARE[0]]] * 2}, "has 2 lines"),
    "a line": ({"type": "LineString", "coordinates": [[0, 0], [1, 1], [2, 0]]}, "not closed"),
    "a corner twice": (polygon([[0, 0], [0, 0], [9, 9], [0, 0]]), "corner 1 and the next"),
    "empty": ("", "empty"),
}


@pytest.mark.parametrize("case", BAD)
def test_a_bad_geojson_outline_is_one_clear_error(outline, case):
    content, pattern = BAD[case]
    with pytest.raises(SurveyError, match=pattern) as caught:
        outline(content, "f.geojson", GRID)
    assert all(fault.file == "f.geojson" for fault in caught.value.faults)


def test_numbers_that_are_no_degrees_are_told_from_degrees(outline):
    asked = OutlineAsked(site=Site(unit=METRE, crs="EPSG:26915"))
    ring = [[5000, 4000], [5010, 4000], [5010, 4010], [5000, 4000]]
    with pytest.raises(SurveyError, match=r'no degrees.*coordinates = "grid"'):
        outline(polygon(ring), "f.geojson", asked)


BAD_TEXT = {
    "two corners": ("n,e\n1,2\n3,4\n", "three corners"),
    "a corner twice": ("n,e\n1,2\n1,2\n3,4\n8,1\n", "one spot"),
    "text in a number": ("n,e\n1,2\n1,x\n3,4\n", r"foundation\.csv:3:3: easting"),
    "two lines": ("line,n,e\na,1,2\na,3,4\nb,1,2\n", "2 lines"),
    "degrees": ("lat,lon\n45,-93\n45.001,-93\n45,-93.001\n", "latitude and longitude"),
}


@pytest.mark.parametrize("case", BAD_TEXT)
def test_a_bad_text_outline_is_one_clear_error(outline, case):
    content, pattern = BAD_TEXT[case]
    with pytest.raises(SurveyError, match=pattern):
        outline(content)


def test_an_outline_of_another_kind_names_those_known(outline):
    with pytest.raises(SurveyError, match=r"\.geojson"):
        outline("x", "f.dxf")
