"""GeoPackage and LandXML of a finished lot, read back: areas, contours and surface agree."""

import xml.etree.ElementTree as ET

import numpy as np
import pyogrio
import pytest
import shapely

from terrain.export.lot_gpkg import write_lot_gpkg
from terrain.export.lot_xml import write_lot_xml
from terrain.job.grade import graded_told
from terrain.job.graded import grade_out
from terrain.job.load import load_job
from terrain.job.lot_layers import lot_layers_of
from terrain.job.volumes import work_out
from tests.export.drawn import DEMO
from tests.export.test_surfaces_xml import as_faces, surface
from tests.oracles.faces import Face, volume_by_label
from tests.oracles.landxml_rules import breaches


@pytest.fixture(scope="module")
def graded():
    return grade_out(work_out(load_job(DEMO)), lambda stage: None)


@pytest.fixture(scope="module")
def answer(graded):
    return graded_told(graded)


@pytest.fixture(scope="module")
def layers(graded, answer):
    return lot_layers_of(graded, answer, "2026-11-25")


@pytest.fixture(scope="module")
def package(layers, tmp_path_factory):
    path = tmp_path_factory.mktemp("gpkg") / "grade.gpkg"
    write_lot_gpkg(layers, path)
    return path


def read(path, layer):
    """Shapes of a layer, and its columns by name."""
    meta, _, shapes, columns = pyogrio.raw.read(path, layer=layer)
    return shapely.from_wkb(shapes), dict(zip(meta["fields"], columns, strict=True))


def test_areas_hold_the_lots_cut_and_fill(package, layers, answer):
    shapes, columns = read(package, "cut_fill_areas")
    for kind, told in (("cut", answer.lot.cut), ("fill", answer.lot.fill)):
        own = columns["kind"] == kind
        assert columns["volume"][own].sum() == pytest.approx(float(told), rel=1e-9)
    np.testing.assert_allclose(shapely.area(shapes), columns["area"], rtol=1e-3, atol=0.05)
    both = shapely.union_all(shapes, grid_size=1e-3).area
    assert both == pytest.approx(columns["area"].sum(), rel=1e-3), "cut and fill overlap"
    assert {"wall street", "pad terrace", "swale east swale"} <= set(columns["cause"])


def test_finished_contours_lie_on_the_finished_surface(package, layers):
    shapes, columns = read(package, "finished_contours")
    mesh = layers.finished
    corners = mesh.points[mesh.triangles]
    site = layers.frame.to_site(mesh.points[:, :2])
    tree = shapely.STRtree(shapely.polygons(site[mesh.triangles]))
    assert len(shapes) > 5
    for line, elevation in zip(shapes, columns["elevation"], strict=True):
        plan = shapely.get_coordinates(line)
        for spot in (plan[:-1] + plan[1:]) / 2:
            local = layers.frame.to_local(spot)
            found = tree.query(shapely.Point(spot).buffer(1e-5), predicate="intersects")
            heights = [on_triangle(corners[k], local) for k in found]
            assert min(abs(h - elevation) for h in heights) < 1e-4


def on_triangle(corners, spot):
    """The height of a triangle's plane over a spot."""
    edges = corners[1:] - corners[0]
    gradient = np.linalg.solve(edges[:, :2], edges[:, 2])
    return corners[0, 2] + (spot - corners[0, :2]) @ gradient


def test_contours_before_and_after_are_one_where_nothing_changes(package):
    before, columns_before = read(package, "existing_contours")
    after, columns_after = read(package, "finished_contours")
    areas, _ = read(package, "cut_fill_areas")
    untouched = shapely.box(484.5, 282.5, 596.5, 391.5).difference(
        shapely.union_all([*areas, shapely.box(516, 319, 564, 364)], grid_size=1e-3).buffer(0.2)
    )
    for elevation in np.unique(columns_before["elevation"]):
        lines = [
            shapely.union_all(shapes[columns["elevation"] == elevation]).intersection(untouched)
            for shapes, columns in ((before, columns_before), (after, columns_after))
        ]
        assert lines[1].length == pytest.approx(lines[0].length, abs=1e-3)
        if lines[0].length > 0:
            assert shapely.hausdorff_distance(*lines) < 1e-3


def test_faces_left_falls_and_ponds_are_those_of_the_answer(package, answer):
    shapes, columns = read(package, "untied")
    assert columns["height"].tolist() == [face.height for face in answer.untied]
    assert shapely.get_coordinates(shapes[0]).tolist() == [
        list(answer.untied[0].start), list(answer.untied[0].end)
    ]  # fmt: skip
    _, columns = read(package, "standing_water")
    assert columns["depth"].tolist() == [pond.depth for pond in answer.drainage.ponds]
    _, columns = read(package, "failing_falls")
    assert columns["wall"].tolist() == [one.wall for one in answer.drainage.failures]


def test_lot_house_pads_swales_and_areas_kept_are_as_the_job_asks(package):
    shapes, columns = read(package, "lot_areas")
    named = list(zip(columns["kind"], columns["name"], strict=True))
    assert named == [
        ("lot", None), ("house", None), ("pad", "terrace"), ("swale", "east swale"),
        ("keep", "old oak"),
    ]  # fmt: skip
    house = 48 * 28 - 4 * 4 / 2 + (14 + 8) / 2 * 3 + 12 * 14  # less its clip, bay and porch with it
    areas = [113 * 110, house, 44 * 7, 72 * 2, 16 * 16]
    assert shapely.area(shapes) == pytest.approx(areas, rel=1e-12)
    assert shapes[0].bounds == (484.0, 282.0, 597.0, 392.0)
    assert shapes[4].bounds == (488.0, 372.0, 504.0, 388.0)
    lines, columns = read(package, "swales")
    assert shapely.get_coordinates(lines[0], include_z=True).tolist() == [
        [590.0, 372.0, 101.0], [590.0, 300.0, 94.8],
    ]  # fmt: skip


def test_between_the_surfaces_of_the_xml_lie_the_lots_cut_and_fill(layers, answer, tmp_path):
    write_lot_xml(layers, tmp_path / "grade.xml")
    root = ET.parse(tmp_path / "grade.xml").getroot()
    assert breaches(root) == []
    origin = np.array([layers.frame.easting, layers.frame.northing, 0.0])
    existing = as_faces(*surface(root, "existing"), origin)
    finished = as_faces(*surface(root, "finished"), origin)
    cut = volume_by_label(existing, finished)["dig"]
    assert cut / 27.0 == pytest.approx(float(answer.lot.cut), rel=1e-7)
    upside_down = [Face(f.polygon, -f.plane, f.label) for f in existing]
    fill = volume_by_label(upside_down, [Face(f.polygon, -f.plane, "fill") for f in finished])
    assert fill["fill"] / 27.0 == pytest.approx(float(answer.lot.fill), rel=1e-7)


def test_a_lot_off_the_local_grid_s_origin_is_drawn_on_the_site(package, layers):
    info = pyogrio.read_info(package, layer="finished_contours")
    low = layers.frame.to_site(layers.finished.points[:, :2].min(axis=0))
    high = layers.frame.to_site(layers.finished.points[:, :2].max(axis=0))
    west, south, east, north = info["total_bounds"]
    assert low[0] - 1e-6 <= west < east <= high[0] + 1e-6
    assert low[1] - 1e-6 <= south < north <= high[1] + 1e-6
