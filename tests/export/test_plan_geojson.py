"""GeoJSON by the letter of RFC 7946, and back on the job's grid where it came from."""

import json
from dataclasses import replace

import numpy as np
import pyproj
import pytest
import shapely

from terrain.export.plan_geojson import no_geojson_because, plan_geojson
from terrain.export.text import plain
from tests.export.drawn import bank_by_part, drawn, write_job


@pytest.fixture(scope="module", params=["ft", "ftUS", "m"])
def plan(request, tmp_path_factory):
    """The answer, the layers and the file of a job with a CRS."""
    answer, layers = drawn(write_job(tmp_path_factory.mktemp(request.param), request.param))
    assert no_geojson_because(layers) is None
    return answer, layers, json.loads(plan_geojson(layers))


def positions(value) -> list:
    if isinstance(value[0], float):
        return [value]
    return [position for inner in value for position in positions(inner)]


def rings(geometry: dict) -> list[list[list]]:
    return {
        "Polygon": lambda c: [c], "MultiPolygon": lambda c: c, "LineString": lambda c: [],
    }[geometry["type"]](geometry["coordinates"])  # fmt: skip


def signed_area(ring: list) -> float:
    e, n = np.array(ring).T
    return float(np.sum((e[:-1] - e[0]) * n[1:] - (e[1:] - e[0]) * n[:-1]) / 2)


def test_it_is_a_feature_collection_without_a_crs_member(plan):
    _, layers, told = plan
    assert told["type"] == "FeatureCollection"
    assert "crs" not in told  # RFC 7946 section 4
    assert told["title"] == plain(layers.title)
    for feature in told["features"]:
        assert set(feature) == {"type", "properties", "geometry"}
        for position in positions(feature["geometry"]["coordinates"]):
            assert len(position) == 2
            assert abs(position[0]) <= 180
            assert abs(position[1]) <= 90


def test_outer_rings_go_counter_clockwise_and_close(plan):
    seen = 0
    for feature in plan[2]["features"]:
        for outer, *holes in rings(feature["geometry"]):
            seen += 1
            assert signed_area(outer) > 0  # RFC 7946 section 3.1.6
            assert all(signed_area(hole) < 0 for hole in holes)
            assert all(ring[0] == ring[-1] and len(ring) >= 4 for ring in (outer, *holes))
    assert seen > 8


def test_walls_come_back_to_their_corners_on_the_grid(plan):
    _, layers, told = plan
    walls = [f for f in told["features"] if f["properties"]["layer"] == "walls"]
    back = pyproj.Transformer.from_crs("OGC:CRS84", layers.crs, always_xy=True)
    assert [f["properties"]["name"] for f in walls] == [line.name for line in layers.walls]
    for feature, line in zip(walls, layers.walls, strict=True):
        degrees = np.array(feature["geometry"]["coordinates"])
        site = np.column_stack(back.transform(*degrees.T))
        assert site == pytest.approx(layers.frame.to_site(line.points[:, :2]), abs=1e-3)


def test_parts_have_the_ledgers_volume_and_their_area_on_the_grid(plan):
    answer, layers, told = plan
    wanted = bank_by_part(answer)
    back = pyproj.Transformer.from_crs("OGC:CRS84", layers.crs, always_xy=True)
    parts = [f for f in told["features"] if f["properties"]["layer"] == "dig_parts"]
    for feature in parts:
        is_of = feature["properties"]
        bank = wanted.pop((is_of["name"], is_of["part"] or ""))
        assert is_of["bank"] == pytest.approx(bank, rel=1e-9)
        shape = shapely.transform(
            shapely.from_geojson(json.dumps(feature["geometry"])),
            lambda plan: np.column_stack(back.transform(*plan.T)) - layers.frame.origin,
        )
        assert shape.area == pytest.approx(is_of["area"], abs=0.1)
    assert all(bank == 0 for bank in wanted.values())
    assert told["volume_unit"] == layers.unit.volume_name


def test_a_local_grid_gets_none_and_is_told_why(demo):
    assert "the job names no crs" in no_geojson_because(demo[1])


def test_a_lot_across_the_date_line_gets_none(plan):
    _, layers, _ = plan
    # UTM zone 1 has the meridian of 180 degrees at its western border
    easting, northing = pyproj.Transformer.from_crs(
        "OGC:CRS84", "EPSG:32601", always_xy=True
    ).transform(180.0, 60.0)
    frame = replace(layers.frame, easting=float(easting), northing=float(northing))
    moved = replace(layers, crs="EPSG:32601", frame=frame)
    assert "meridian of 180 degrees" in no_geojson_because(moved)
