"""LandXML 1.2 by an XML parser: the schema's rules, and the ledger's volume between surfaces."""

import copy
import xml.etree.ElementTree as ET

import numpy as np
import pytest
import shapely

from terrain.export.surfaces_xml import write_surfaces_xml
from terrain.export.text import plain
from tests.oracles.faces import Face, plane_through, volume_by_label
from tests.oracles.ground import side_of
from tests.oracles.landxml_rules import breaches

SPACE = "{http://www.landxml.org/schema/LandXML-1.2}"
# linear, area and volume unit by the job's unit, as LandXML-1.2.xsd names them
UNITS = {
    "ft": ("Imperial", "foot", "squareFoot", "cubicYard"),
    "ftUS": ("Imperial", "USSurveyFoot", "squareFoot", "cubicYard"),
    "m": ("Metric", "meter", "squareMeter", "cubicMeter"),
}


@pytest.fixture(scope="module")
def root(job, tmp_path_factory):
    path = tmp_path_factory.mktemp("xml") / "surfaces.xml"
    write_surfaces_xml(job[1], path)
    return ET.parse(path).getroot()


def surface(root: ET.Element, name: str) -> tuple[np.ndarray, np.ndarray]:
    """Points (n, 3) as easting, northing, elevation, and faces of them from 0."""
    (found,) = (s for s in root.iter(f"{SPACE}Surface") if s.get("name") == name)
    definition = found.find(f"{SPACE}Definition")
    assert definition.get("surfType") == "TIN"
    assert [child.tag for child in definition] == [f"{SPACE}Pnts", f"{SPACE}Faces"]
    points = {int(p.get("id")): [float(v) for v in p.text.split()] for p in definition[0]}
    number = {identity: k for k, identity in enumerate(points)}
    assert len(number) == len(definition[0])
    faces = [[number[int(v)] for v in f.text.split()] for f in definition[1]]
    northing_first = np.array(list(points.values())).reshape(-1, 3)
    return northing_first[:, [1, 0, 2]], np.array(faces).reshape(-1, 3)


def as_faces(points: np.ndarray, faces: np.ndarray, origin: np.ndarray) -> list[Face]:
    local = points - origin
    return [
        Face(shapely.Polygon(local[own, :2]), plane_through(local[own]), "dig") for own in faces
    ]


def test_root_and_its_children_are_as_the_schema_wants_them(root, job):
    _, layers = job
    assert root.tag == f"{SPACE}LandXML"
    assert root.get("version") == "1.2"
    assert root.get("date") == layers.date
    assert root.get("time") == "00:00:00"
    names = [child.tag.removeprefix(SPACE) for child in root]
    assert names == ["Units", "CoordinateSystem", "Project", "Application", "Surfaces"]
    assert root.find(f"{SPACE}Project").get("name") == plain(layers.title)
    assert root.find(f"{SPACE}Application").get("name") == "spoilbank"
    surfaces = root.find(f"{SPACE}Surfaces")
    assert [(s.get("name"), s.get("state")) for s in surfaces] == [
        ("existing", "existing"), ("dig", "proposed"),
    ]  # fmt: skip


def test_the_file_keeps_to_the_schema(root):
    assert breaches(root) == []


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (lambda root: root.attrib.pop("date"), "LandXML: has no date"),
        (lambda root: root[0][0].attrib.pop("pressureUnit"), "has no pressureUnit"),
        (lambda root: root[0][0].set("linearUnit", "feet"), 'has linearUnit="feet"'),
        (lambda root: root.find(f".//{SPACE}P").attrib.pop("id"), "P: has no id"),
        (lambda root: setattr(root.find(f".//{SPACE}P"), "text", "1 2 x"), "says '1 2 x'"),
        (lambda root: root.find(f".//{SPACE}Definition").insert(0, ET.Element(f"{SPACE}Faces")),
         "another order"),
        (lambda root: root.find(f".//{SPACE}Surface").set("state", "asbuilt"), 'state="asbuilt"'),
        (lambda root: setattr(root.find(f".//{SPACE}F"), "text", "1 2 99999999"), "a face names"),
        (lambda root: root.find(f".//{SPACE}Surfaces").append(root.find(f".//{SPACE}Surface")),
         "one name"),
        (lambda root: root.append(ET.Element(f"{SPACE}Dig")), "Dig is no element"),
    ],
)  # fmt: skip
def test_the_rules_of_the_schema_see_what_is_wrong(root, change, told):
    broken = copy.deepcopy(root)
    change(broken)
    assert any(told in word for word in breaches(broken)), breaches(broken)


def test_units_are_the_jobs(root, job):
    (units,) = root.find(f"{SPACE}Units")
    told = (
        units.tag.removeprefix(SPACE),
        *(units.get(f"{what}Unit") for what in ("linear", "area", "volume")),
    )
    assert told == UNITS[job[1].unit.name]
    assert units.get("temperatureUnit")
    assert units.get("pressureUnit")


def test_the_coordinate_system_is_the_jobs(root, job):
    _, layers = job
    told = root.find(f"{SPACE}CoordinateSystem")
    if layers.crs is None:
        assert told.get("epsgCode") is None
        assert "Local grid" in told.get("desc")
    else:
        assert f"EPSG:{told.get('epsgCode')}" == layers.crs


def test_between_the_surfaces_lies_the_ledgers_volume(root, job):
    answer, layers = job
    origin = np.array([layers.frame.easting, layers.frame.northing, 0.0])
    existing = as_faces(*surface(root, "existing"), origin)
    dig = as_faces(*surface(root, "dig"), origin)
    cubic = answer.ledger.total.quantity.bank * layers.unit.cubic_units_per_volume_unit
    assert volume_by_label(existing, dig)["dig"] == pytest.approx(cubic, rel=1e-9)
    # and the dig is nowhere above the ground: a reader finds no fill
    above = volume_by_label(
        [Face(f.polygon, -f.plane) for f in existing], [Face(f.polygon, -f.plane, "") for f in dig]
    )
    assert above.get("", 0.0) <= 1e-9 * cubic


def test_the_existing_surface_is_every_shot_of_the_ground(root, job):
    _, layers = job
    points, faces = surface(root, "existing")
    assert len(faces) == len(layers.existing)
    shots = {tuple(p) for p in np.column_stack([layers.shots.plan, layers.shots.elevation])}
    assert {tuple(p) for p in points} >= shots
    assert (side_of(*(points[faces[:, k], :2] for k in range(3))) > 0).all()


def test_faces_of_the_dig_turn_left_and_jump_at_upright_sides(root, job):
    points, faces = surface(root, "dig")
    assert (side_of(*(points[faces[:, k], :2] for k in range(3))) > 0).all()
    spots = {tuple(p) for p in points[:, :2]}
    assert len(spots) < len(points)
    shared = {tuple(p) for p in points.round(8)}
    assert len(shared) == len(points), "a point is written twice"


def test_where_nothing_is_dug_no_empty_surface_is_written(nothing_dug, tmp_path):
    """LandXML-1.2.xsd: `Pnts` holds three `P` or more, `Faces` one `F` or more."""
    write_surfaces_xml(nothing_dug[1], tmp_path / "surfaces.xml")
    root = ET.parse(tmp_path / "surfaces.xml").getroot()
    assert [s.get("name") for s in root.iter(f"{SPACE}Surface")] == ["existing"]
    assert len(surface(root, "existing")[1]) > 100
