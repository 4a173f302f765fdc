"""The GeoPackage, opened by pyogrio and by SQLite: layers, CRS, units, figures by part."""

import resource
import sqlite3
from collections import defaultdict

import numpy as np
import pyogrio
import pytest
import shapely

from terrain.base.errors import OutputError
from terrain.export.layers_gpkg import write_layers_gpkg
from terrain.export.text import plain
from tests.export.drawn import bank_by_part
from tests.oracles.faces import Face, plane_through, volume_by_label
from tests.oracles.ground import tin_faces

# name: geometry type, and whether heights are within (1) or not (0), as gpkg_geometry_columns says
TABLES = {
    "shots": ("POINT", 1),
    "breaklines": ("LINESTRING", 1),
    "dig_line": ("LINESTRING", 1),
    "daylight": ("LINESTRING", 1),
    "existing_contours": ("LINESTRING", 1),
    "walls": ("LINESTRING", 1),
    "dig_parts": ("MULTIPOLYGON", 0),
    "dig_faces": ("MULTIPOLYGON", 1),
}


@pytest.fixture(scope="module")
def file(job, tmp_path_factory):
    path = tmp_path_factory.mktemp("gpkg") / "layers.gpkg"
    write_layers_gpkg(job[1], path)
    return path


@pytest.fixture
def database(file):
    connection = sqlite3.connect(f"file:{file}?mode=ro", uri=True)
    yield connection
    connection.close()


def read(path, layer: str) -> tuple[dict, np.ndarray, dict[str, np.ndarray]]:
    """What pyogrio says of a layer, its shapes, and its columns by name."""
    meta, _, shapes, columns = pyogrio.raw.read(path, layer=layer)
    return meta, shapely.from_wkb(shapes), dict(zip(meta["fields"], columns, strict=True))


def test_sqlite_finds_a_geopackage_with_every_layer(database):
    assert database.execute("PRAGMA application_id").fetchone() == (0x47504B47,)
    assert database.execute("PRAGMA user_version").fetchone() == (10400,)
    assert database.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    assert database.execute("PRAGMA foreign_key_check").fetchall() == []
    columns = "table_name, geometry_type_name, z, m FROM gpkg_geometry_columns"
    found = {n: (kind, z) for n, kind, z, _ in database.execute(f"SELECT {columns}")}
    assert found == TABLES
    kinds = database.execute("SELECT DISTINCT data_type FROM gpkg_contents").fetchall()
    assert kinds == [("features",)]


def test_every_layer_is_in_the_jobs_crs_or_declared_local(database, job):
    _, layers = job
    used = database.execute(
        "SELECT DISTINCT c.srs_id, s.organization, s.organization_coordsys_id, s.srs_name "
        "FROM gpkg_contents c JOIN gpkg_spatial_ref_sys s USING (srs_id)"
    ).fetchall()
    told = [t for (t,) in database.execute("SELECT description FROM gpkg_contents")]
    if layers.crs is None:
        assert used == [(-1, "NONE", -1, "Undefined Cartesian SRS")]
        assert all("Local grid without a CRS." in text for text in told)
    else:
        code = int(layers.crs.removeprefix("EPSG:"))
        assert [row[:3] for row in used] == [(code, "EPSG", code)]
        assert not any("Local grid" in text for text in told)


def test_units_and_contour_interval_are_told(database, file, job):
    _, layers = job
    unit = layers.unit
    texts = dict(database.execute("SELECT table_name, description FROM gpkg_contents"))
    assert f"elevations in {unit.name}." in texts["shots"]
    assert f"Volumes in {unit.volume_name}, bank" in texts["dig_parts"]
    assert f"areas in {unit.area_name}." in texts["dig_parts"]
    assert f"every {layers.contours.interval:g} {unit.name};" in texts["existing_contours"]
    told = pyogrio.read_info(file, layer="shots")["dataset_metadata"]
    assert told["LENGTH_UNIT"] == f"{unit.name}: {unit.long_name}, {unit.metres} m"
    assert told["VOLUME_UNIT"] == unit.volume_name


def test_shots_are_those_of_the_survey_with_file_and_row(file, job):
    _, layers = job
    shots = layers.shots
    _, shapes, columns = read(file, "shots")
    places = shapely.get_coordinates(shapes, include_z=True)
    assert np.array_equal(places, np.column_stack([shots.plan, shots.elevation]))
    assert np.array_equal(columns["row"], shots.row)
    assert columns["file"].tolist() == [plain(shots.files[k]) for k in shots.file]
    assert columns["point"].tolist() == [shots.point_name(k) for k in range(len(shots))]
    codes = [plain(shots.code_name(k)) or None for k in range(len(shots))]
    assert columns["code"].tolist() == codes


def test_walls_run_along_the_foundation_and_have_the_ledgers_figures(file, job):
    answer, layers = job
    _, shapes, columns = read(file, "walls")
    assert columns["name"].tolist() == [wall.wall for wall in answer.ledger.walls]
    for k, wall in enumerate(answer.ledger.walls):
        assert columns["bank"][k] == wall.quantity.bank
        assert columns["loose"][k] == wall.quantity.loose
        assert columns["compacted"][k] == wall.quantity.compacted
        assert columns["topsoil"][k] == wall.topsoil
        line = shapely.get_coordinates(shapes[k], include_z=True)
        assert (line[:, 2] == layers.floor).all()
        following = shapely.get_coordinates(shapes[(k + 1) % len(shapes)])
        assert np.array_equal(line[1, :2], following[0])
    doubt = [wall.bank_plus_minus_95 for wall in answer.ledger.walls]
    wanted = np.array([np.nan if d is None else d for d in doubt])
    assert np.array_equal(columns["bank_plus_minus_95"], wanted, equal_nan=True)


def test_parts_and_faces_sum_to_the_ledger_part_by_part(file, job):
    answer, _ = job
    wanted = bank_by_part(answer)
    gross = answer.ledger.total.quantity.bank
    for layer in ("dig_parts", "dig_faces"):
        _, _, columns = read(file, layer)
        sums: dict[tuple[str, str], float] = defaultdict(float)
        for name, part, bank in zip(columns["name"], columns["part"], columns["bank"], strict=True):
            sums[name, part or ""] += bank
        assert set(sums) <= set(wanted)
        for key, bank in wanted.items():
            assert sums.get(key, 0.0) == pytest.approx(bank, abs=1e-11 * gross), key


def test_areas_told_are_those_of_the_shapes(file, job):
    _, layers = job
    for layer in ("dig_parts", "dig_faces"):
        _, shapes, columns = read(file, layer)
        # outlines are joined to a ten-millionth of a unit; site coordinates have their own rounding
        room = 1e-6 + 1e-9 * abs(layers.frame.northing)
        assert np.abs(shapely.area(shapes) - columns["area"]).max() < room
        assert shapely.is_valid(shapes).all()


def test_faces_of_the_main_dig_lie_under_the_volume_they_tell(file, job):
    _, layers = job
    _, shapes, columns = read(file, "dig_faces")
    origin = np.array([layers.frame.easting, layers.frame.northing, 0.0])
    dig = []
    for shape, name, kind, part in zip(
        shapes, columns["name"], columns["kind"], columns["part"], strict=True
    ):
        if kind == "wall" and part != "footing":
            local = shapely.transform(shape, lambda c: c - origin, include_z=True)
            plane = plane_through(shapely.get_coordinates(local, include_z=True))
            dig += [Face(p, plane, (name, part)) for p in shapely.force_2d(local).geoms]
    ground = tin_faces(layers.existing.points, layers.existing.triangles)
    seen = volume_by_label(ground, dig)
    per_unit = layers.unit.cubic_units_per_volume_unit
    told: dict[tuple[str, str], float] = defaultdict(float)
    for name, part, bank in zip(columns["name"], columns["part"], columns["bank"], strict=True):
        told[name, part] += bank * per_unit
    assert len(seen) >= 8
    for key, volume in seen.items():
        assert volume == pytest.approx(told[key], rel=1e-6, abs=1e-5), key


def test_contours_have_one_height_each_at_whole_intervals(file, job):
    _, layers = job
    _, shapes, columns = read(file, "existing_contours")
    step = layers.contours.interval
    assert len(shapes) > 3
    for shape, elevation, index in zip(
        shapes, columns["elevation"], columns["index_contour"], strict=True
    ):
        assert (shapely.get_coordinates(shape, include_z=True)[:, 2] == elevation).all()
        assert elevation / step == pytest.approx(round(elevation / step), abs=1e-9)
        assert bool(index) == (round(elevation / step) % 5 == 0)


def test_lines_carry_heights_of_floor_and_ground(file, job):
    _, layers = job
    _, shapes, columns = read(file, "dig_line")
    main = shapely.get_coordinates(shapes[columns["kind"].tolist().index("main")], include_z=True)
    assert (main[:, 2] == layers.floor).all()
    assert (main[0] == main[-1]).all()
    for layer in ("daylight", "breaklines"):
        _, shapes, _ = read(file, layer)
        heights = shapely.get_coordinates(shapes, include_z=True)[:, 2]
        ground = layers.existing.points[:, 2]
        assert ground.min() <= heights.min()
        assert heights.max() <= ground.max()


def test_where_nothing_is_dug_every_layer_is_there(nothing_dug, tmp_path):
    write_layers_gpkg(nothing_dug[1], tmp_path / "layers.gpkg")
    assert set(pyogrio.list_layers(tmp_path / "layers.gpkg")[:, 0]) == set(TABLES)
    for layer in ("daylight", "dig_parts", "dig_faces"):
        assert len(read(tmp_path / "layers.gpkg", layer)[1]) == 0


def test_a_file_that_cannot_be_written_is_told_in_a_sentence(demo, tmp_path):
    with pytest.raises(OutputError, match=r"layers\.gpkg: the GeoPackage can't be written"):
        write_layers_gpkg(demo[1], tmp_path / "not there" / "layers.gpkg")


def test_a_disk_that_fills_up_is_told_in_a_sentence(demo, tmp_path):
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (200_000, before[1]))
    try:
        with pytest.raises(OutputError, match=r"can't be written .*; is the disk full"):
            write_layers_gpkg(demo[1], tmp_path / "layers.gpkg")
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
