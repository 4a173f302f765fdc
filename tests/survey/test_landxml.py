"""LandXML surfaces: what stands in the file is what is read; what can't be meant is refused."""

import re

import numpy as np
import pytest

from terrain.base.errors import SurveyError
from terrain.base.units import FOOT, METRE, US_SURVEY_FOOT
from tests.survey.made_landxml import FACES, FEET, SPACE, SQUARE, landxml, surface

METRIC = '<Metric linearUnit="meter"/>'
PAIRS = zip("abcdefgh", "bcdefghi", strict=True)
LAUGHS = "".join(f'<!ENTITY {b} "{f"&{a};" * 10}">' for a, b in PAIRS)
LAUGHS = f'<!DOCTYPE x [<!ENTITY a "ha">{LAUGHS}]>\n'
OUTSIDE = '<!DOCTYPE x SYSTEM "http://127.0.0.1:9/x.dtd">\n'


def test_points_are_northing_easting_elevation_and_ids_may_be_any(read):
    survey = read({"g.xml": landxml()})
    triangles = survey.triangles
    assert triangles.points.tolist() == [[e, n, z] for _, n, e, z in SQUARE]
    assert triangles.corners.tolist() == [[0, 1, 2], [0, 2, 3]]
    assert triangles.point_row.tolist() == [4, 5, 6, 7]
    assert triangles.face_row.tolist() == [9, 10]
    assert survey.shots.elevation.tolist() == [50, 52, 55, 53]
    assert survey.files[0].kind == "landxml"
    assert survey.files[0].shots == 4


def test_ids_may_be_names_or_huge(read):
    named = [("a-1", *SQUARE[0][1:]), *SQUARE[1:]]
    faces = [("a-1", 3, 90), ("a-1", 90, 11)]
    text = landxml(surface(named, [(str(a), b, c) for a, b, c in faces]).replace(
        '<F i="a-1">', "<F>a-1 "))  # fmt: skip
    assert read({"g.xml": text}).triangles.corners.tolist() == [[0, 1, 2], [0, 2, 3]]
    far = [(10**17 + i, *p[1:]) for i, p in enumerate(SQUARE)]
    text = landxml(surface(far, [(10**17, 10**17 + 2, 10**17 + 3)]))
    assert read({"g.xml": text}).triangles.points.shape == (3, 3)


def test_invisible_faces_are_no_part_of_the_surface(read):
    survey = read({"g.xml": landxml(surface(faces=[FACES[0], ("1", *FACES[1])]))})
    assert survey.triangles.corners.tolist() == [[0, 1, 2]]
    assert any("1 invisible face left out" in note for note in survey.notes)
    assert any("1 point that no face has" in note for note in survey.notes)
    survey = read({"g.xml": landxml(surface(faces=[FACES[0], ("0", *FACES[1])]))})
    assert len(survey.triangles) == 2


@pytest.mark.parametrize(
    ("units", "job", "factor"),
    [
        (FEET, FOOT, 1.0),
        (FEET, METRE, 0.3048),
        (METRIC, FOOT, 1 / 0.3048),
        ('<Imperial linearUnit="USSurveyFoot"/>', METRE, 1200 / 3937),
        ('<Imperial linearUnit="USSurveyFoot"/>', FOOT, 1200 / 3937 / 0.3048),
        (FEET, US_SURVEY_FOOT, 0.3048 * 3937 / 1200),
        ('<Metric linearUnit="meter" elevationUnit="meter"/>', METRE, 1.0),
        ('<Imperial linearUnit="foot" elevationUnit="feet"/>', FOOT, 1.0),
    ],
)
def test_each_unit_is_converted_exactly(read, units, job, factor):
    """1 ft = 0.3048 m; US survey foot 1200/3937 m (85 FR 62698)."""
    points = read({"g.xml": landxml(units=units)}, unit=job).triangles.points
    asked = np.array([[e, n, z] for _, n, e, z in SQUARE]) * factor
    np.testing.assert_allclose(points, asked, rtol=2e-16 * 4, atol=0)


@pytest.mark.parametrize("version", ["1.0", "1.1", "1.2"])
def test_all_three_versions_are_read_with_a_namespace_with_a_prefix_and_without(read, version):
    space = SPACE.replace("1.2", version)
    plain = landxml(space=space)
    prefixed = re.sub(r"<(/?)(\w)", r"<\1lx:\2", plain).replace("xmlns=", "xmlns:lx=")
    bare = landxml(space="").replace('LandXML version="1.2"', f'LandXML version="{version}"')
    for text in (plain, prefixed, bare):
        assert len(read({"g.xml": text}).triangles) == 2


def test_the_job_says_which_of_several_surfaces(read):
    other = surface([(1, 0, 0, 1), (2, 0, 9, 1), (3, 9, 0, 1)], [(1, 2, 3)], name="FG &amp; Co")
    two = landxml(surface(name="EG"), other)
    assert len(read({"g.xml": two}, surface="EG").triangles) == 2
    assert len(read({"g.xml": two}, surface="FG & Co").triangles) == 1
    with pytest.raises(SurveyError, match=r'2 surfaces \("EG", "FG & Co"\)'):
        read({"g.xml": two})
    with pytest.raises(SurveyError, match='no surface "eg"; the nearest are "EG"'):
        read({"g.xml": two}, surface="eg")
    with pytest.raises(SurveyError, match="two surfaces"):
        read({"g.xml": landxml(surface(), surface())}, surface="EG")


def test_source_data_and_features_beside_the_triangles_change_nothing(read):
    more = "<SourceData><Breaklines><Breakline><PntList3D>1 2 3 4 5 6</PntList3D></Breakline>" \
           "</Breaklines></SourceData><Definition"  # fmt: skip
    text = landxml().replace("<Definition", more, 1)
    text = text.replace("</Pnts>", "<Feature><Property label='P'/></Feature></Pnts>")
    text = text.replace("200.0 100.0", "<!-- a --> 200.0\n100.0", 1)
    assert read({"g.xml": text}).triangles.points[0].tolist() == [100, 200, 50]


def test_the_grid_of_the_file_is_held_against_the_jobs(read):
    system = '<CoordinateSystem name="x" epsgCode="{}"/>'
    assert read({"g.xml": landxml(more=system.format(2223))}, crs="EPSG:2223").triangles
    with pytest.raises(SurveyError, match=r"EPSG:2224 but the job's site\.crs is EPSG:2223"):
        read({"g.xml": landxml(more=system.format(2224))}, crs="EPSG:2223")
    notes = read({"g.xml": landxml(more=system.format(2224))}).notes
    assert any("EPSG:2224" in note for note in notes)


BAD = {
    "empty": ("", 1, "empty"),
    "only a head": ('<?xml version="1.0"?>', 1, "no element found"),
    "cut off": (landxml()[:300], None, "no well-formed XML"),
    "text": ("northing,easting\n1,2\n", 1, "no well-formed XML"),
    "a LAZ cloud": (b"LASF" + bytes(300), 1, "a LAS or LAZ cloud"),
    "bytes": (np.random.default_rng(0).bytes(3000), 1, "no well-formed XML"),
    "an encoding unknown": ('<?xml version="1.0" encoding="klingon"?><LandXML/>', 1, "encoding"),
    "an encoding of many bytes": (
        '<?xml version="1.0" encoding="shift_jis"?><LandXML/>', 1, "encodings"),
    "not its encoding": (landxml(surface(name="\xff")).encode("latin-1"), 3, "not well-formed"),
    "another root": ("<gml:Model xmlns:gml='http://www.opengis.net/gml'/>", 1, "no LandXML"),
    "another version": (landxml(space=SPACE[:-3] + "2.0"), 2, "LandXML of 2.0"),
    "another schema": (landxml(space="http://example.org/x"), 2, "example.org"),
    "no version": ("<LandXML/>", 1, "no version"),
    "no surfaces": (landxml().split("<Surfaces>")[0] + "</LandXML>", None, "no surface in it"),
    "no units": (landxml(units=""), None, "states no units"),
    "units without a length": (landxml(units='<Metric areaUnit="squareMeter"/>'), 2, "linearUnit"),
    "units in inches": (landxml(units='<Imperial linearUnit="inch"/>'), 2, '"inch"'),
    "units in millimetres": (landxml(units='<Metric linearUnit="millimeter"/>'), 2, "millimeter"),
    "feet said to be metric": (landxml(units='<Metric linearUnit="foot"/>'), 2, '"foot"'),
    "two units": (landxml(units=FEET + METRIC), 2, "twice"),
    "heights in another unit": (
        landxml(units='<Metric linearUnit="meter" elevationUnit="feet"/>'), 2, "elevations"),
    "a grid": (landxml(surface(definition='surfType="grid"')), 3, "only a TIN"),
    "no points": (landxml(surface(points=[])), 3, "no points (Pnts)"),
    "no faces": (landxml(surface(faces=[])), 3, "no faces (Faces)"),
    "a face to no point": (landxml(surface(faces=[*FACES, (7, 3, 4)])), 11, 'the point "4"'),
    "a face of four": (landxml(surface(faces=[*FACES, (7, 3, 90, 11)])), 11, "4 corners"),
    "all invisible": (landxml(surface(faces=[("1", *FACES[0])])), 9, "invisible"),
    "a point of two numbers": (landxml(surface([*SQUARE, (1, 2, 3)])), 8, "2 numbers"),
    "not a number": (landxml(surface([*SQUARE, (1, 2, 3, "x9")])), 8, '"x9" of a point'),
    "NaN": (landxml(surface([*SQUARE, (1, 2, "NaN", 5)])), 8, 'easting "NaN"'),
    "infinite": (landxml(surface([*SQUARE, (1, "-inf", 3, 5)])), 8, 'northing "-inf"'),
    "out of range": (landxml(surface([*SQUARE, (1, 2e9, 3, 5)])), 8, "northing"),
    "underscores": (landxml(surface([*SQUARE, (1, "1_0", 3, 5)])), 8, '"1_0"'),
    "an id twice": (landxml(surface([*SQUARE, (3, 1, 2, 3)])), 8, 'id "3"'),
    "no id": (landxml().replace('<P id="3">', "<P>"), 5, "no id"),
    "too wide": (landxml(surface([(1, 0, 0, 1), (2, 0, 90000, 1), (3, 9, 0, 1)], [(1, 2, 3)])),
                 None, "too wide for a lot"),
    "too small": (landxml(surface([(1, 0, 0, 1), (2, 0, 0.5, 1), (3, 0.1, 0, 1)], [(1, 2, 3)])),
                  None, "too small for a lot"),
    "too high": (landxml(surface([(1, 0, 0, 99999), (2, 0, 90, 1), (3, 9, 0, 1)], [(1, 2, 3)])),
                 None, "no ground has"),
    "many small entities": (landxml(surface(name="&i;"), head=LAUGHS), 2, "DOCTYPE"),
    "an entity from outside": (landxml(head=OUTSIDE), 2, "DOCTYPE"),
    "deep": ("<LandXML version='1.2'>" + "<a>" * 3000, 1, "nested"),
}  # fmt: skip


@pytest.mark.parametrize("case", BAD)
def test_a_bad_file_is_one_clear_error_that_names_file_and_line(read, case):
    content, line, words = BAD[case]
    with pytest.raises(SurveyError) as caught:
        read({"g.xml": content})
    fault = caught.value.faults[0]
    assert fault.file == "g.xml"
    assert words in fault.message
    assert len(caught.value.faults) == 1
    assert len(fault.message) < 400
    if line is not None:
        assert fault.line == line


def test_all_faults_of_a_surface_are_told_at_once(read):
    points = [*SQUARE, (1, 2, "x", 3), (2, 1, 2)]
    with pytest.raises(SurveyError) as caught:
        read({"g.xml": landxml(surface(points, [*FACES, (1, 2)]))})
    assert [f.line for f in caught.value.faults] == [8, 9, 13]


def test_points_within_points_are_refused(read):
    text = landxml().replace("</P>\n", "", 1).replace("</Pnts>", "</P></Pnts>")
    with pytest.raises(SurveyError, match="a point has"):
        read({"g.xml": text})


def test_names_in_the_file_cannot_move_the_cursor_or_flood_the_message(read):
    name = "&#x9b;2J" + "y" * 900
    with pytest.raises(SurveyError) as caught:
        read({"g.xml": landxml(surface(name=name), surface(name="b"))})
    said = str(caught.value)
    assert "\x9b" not in said
    assert len(said) < 400


@pytest.mark.parametrize("name", ["g.xml", "g.LandXML", "a<b>&c.xml"])
def test_ready_ground_is_read_alone(read, name):
    assert read({name: landxml()}).triangles is not None
    with pytest.raises(SurveyError, match="name it alone"):
        read({name: landxml(), "s.csv": "n,e,z\n1,2,3\n4,5,6\n7,1,1\n"})


def test_a_block_of_rows_ends_where_it_may(read):
    """Rows are turned into numbers block by block; no row is lost or doubled at a block's end."""
    n = 400
    row, column = np.divmod(np.arange(n * n), n)
    points = np.column_stack([np.arange(1, n * n + 1), row, column, row % 7])
    a = (np.arange(n - 1)[:, None] * n + np.arange(n - 1)).ravel() + 1
    faces = np.concatenate(
        [np.column_stack([a, a + 1, a + n + 1]), np.column_stack([a, a + n + 1, a + n])]
    )
    text = landxml(surface(map(tuple, points.tolist()), faces.tolist()))
    triangles = read({"g.xml": text}).triangles
    assert triangles.points.tolist() == points[:, [2, 1, 3]].tolist()
    assert triangles.corners.tolist() == (faces - 1).tolist()
    assert triangles.point_row.tolist() == list(range(4, 4 + n * n))
