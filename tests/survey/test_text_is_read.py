"""Delimited text: whatever its signs and encoding, the same shots come back."""

from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from terrain.base.errors import SurveyError
from terrain.base.units import FOOT, METRE
from terrain.survey.layout import CONTRADICTED, Asked, find_layout
from terrain.survey.quick import read_quickly
from terrain.survey.rows import read_rows

ROWS = [
    ("1", "700010.25", "2000001.50", "361.204", "GS"),
    ("2", "700020.75", "2000031.00", "360.118", "EP"),
    ("BM1", "700055.00", "2000012.125", "362.000", "edge of road"),
]
HEADER = ("Point", "Northing", "Easting", "Elevation", "Code")
NAMES = ("point", "northing", "easting", "elevation", "code")


def written(delimiter: str, header: bool = True, end: str = "\n") -> str:
    rows = [HEADER, *ROWS] if header else ROWS
    return "".join(delimiter.join(row) + end for row in rows)


def check_rows(survey, first_line=2) -> None:
    shots = survey.shots
    assert [shots.point_name(k) for k in range(3)] == [r[0] for r in ROWS]
    assert shots.northing.tolist() == [float(r[1]) for r in ROWS]
    assert shots.easting.tolist() == [float(r[2]) for r in ROWS]
    assert shots.elevation.tolist() == [float(r[3]) for r in ROWS]
    assert [shots.code_name(k) for k in range(3)] == [r[4] for r in ROWS]
    assert shots.row.tolist() == [first_line + k for k in range(3)]


@pytest.mark.parametrize("delimiter", [",", "\t", ";", ", ", " ; "])
def test_every_delimiter_gives_the_same_shots(read, delimiter):
    check_rows(read({"a.csv": written(delimiter)}))


@pytest.mark.parametrize("delimiter", [" ", "   ", " \t  "])
def test_runs_of_blanks_part_fields_and_the_last_field_keeps_its_blanks(read, delimiter):
    check_rows(read({"a.txt": "  " + written(delimiter).replace("\n", "  \n  ").rstrip(" ")}))


@pytest.mark.parametrize(
    "encode",
    [
        lambda t: t.encode("utf-8-sig"),
        lambda t: t.encode("utf-16"),
        lambda t: b"\xfe\xff" + t.encode("utf-16-be"),
        lambda t: t.replace("\n", "\r\n").encode(),
        lambda t: t.replace("\n", "\r").encode(),
        lambda t: t.rstrip("\n").encode(),
        lambda t: t.encode() + b"\r\n\r\n\x1a",
    ],
    ids=["BOM", "UTF-16", "UTF-16BE", "CRLF", "CR", "no last line end", "end-of-file sign"],
)
def test_encoding_and_line_ends_change_nothing(read, encode):
    check_rows(read({"a.csv": encode(written(","))}))


def test_latin_1_codes_are_read_as_written(read):
    survey = read({"a.csv": written(",").replace("GS", "Böschung").encode("latin-1")})
    assert survey.shots.code_name(0) == "Böschung"


def test_comments_and_blank_lines_count_as_lines_but_hold_no_shots(read):
    text = "# rover 3\n\n" + written(",").replace("2,700020", "// tea\n\n2,700020")
    survey = read({"a.csv": text})
    assert survey.shots.row.tolist() == [4, 7, 8]
    assert any("1 comment line among the shots" in note for note in survey.notes)


def test_decimal_commas_are_read_where_semicolons_part_the_fields(read):
    check_rows(read({"a.csv": written(";").replace(".", ",")}))


def test_quoted_fields_keep_delimiters_and_quotes(read):
    text = written(",").replace("edge of road", '"edge, of 6"" pipe"')
    assert read({"a.csv": text}).shots.code_name(2) == 'edge, of 6" pipe'


def test_a_quote_within_a_field_is_an_inch_sign(read):
    text = written(",").replace("edge of road", '6" pipe')
    assert read({"a.csv": text}).shots.code_name(2) == '6" pipe'


@pytest.mark.parametrize(
    "header",
    [
        "pt,n,e,z,d",
        "PNT,North,East,Elev.,Desc",
        "Pt No.,NORTHING (ft),EASTING (ft),Level (ft),Feature Code",
        "id,Y,X,H,code",
        "Point_ID,grid northing,grid easting,Ortho Height,Description",
        '"Name","Northing","Easting","Height","Remarks"',
    ],
)
def test_usual_abbreviations_name_the_columns(read, header):
    check_rows(read({"a.csv": written(",").replace(",".join(HEADER), header)}))


def test_columns_in_any_order_are_found_by_header(read):
    rows = [HEADER, *ROWS]
    text = "".join(",".join([r[3], r[4], "x", r[2], r[0], r[1]]) + "\n" for r in rows)
    survey = read({"a.csv": text.replace(",x,", ",sats,", 1)})
    check_rows(survey)
    assert any('"sats"' in note for note in survey.notes)


def test_a_code_column_is_taken_before_a_description(read):
    text = "pt,n,e,z,description,code\n1,10,20,3,a tree,TR\n2,15,40,3,b,GS\n3,40,20,3,c,GS\n"
    assert read({"a.csv": text}).shots.code_names == ("GS", "TR")


def test_five_fields_without_header_are_the_usual_order(read):
    survey = read({"a.csv": written(",", header=False)})
    check_rows(survey, first_line=1)
    assert any("no header" in note for note in survey.notes)


def test_columns_named_in_the_job_rule_with_and_without_header(read):
    for header in (True, False):
        text = written(",", header=header)
        check_rows(read({"a.csv": text}, columns=NAMES), first_line=1 + header)


def test_a_header_that_the_job_contradicts_is_told_with_both_names(read):
    header = "point,northing,easting,elevation,code\n"
    text = header + "".join(f"{k},{n},{k * 37 % 50},{n / 50},GS\n" for k, n in enumerate(range(40)))
    swapped = ("point", "easting", "northing", "elevation", "code")
    told = [n for n in read({"a.csv": text}, columns=swapped).notes if CONTRADICTED in n]
    assert len(told) == 1
    assert told[0].startswith("a.csv: ")
    assert 'column "northing" as easting' in told[0]
    assert 'column "easting" as northing' in told[0]
    agreed = ("point", "northing", "easting", "elevation", "code")
    assert not any(CONTRADICTED in n for n in read({"a.csv": text}, columns=agreed).notes)


def test_xyz_is_easting_northing_elevation(read):
    survey = read({"a.xyz": "10 20 3\n11 25 4\n 12.5  20   5\n"})
    assert survey.shots.easting.tolist() == [10, 11, 12.5]
    assert survey.shots.northing.tolist() == [20, 25, 20]
    assert survey.shots.elevation.tolist() == [3, 4, 5]


def test_rows_may_all_end_in_a_delimiter(read):
    text = "pt,n,e,z,code\n1,10,20,5.5,GS,,\n2,10,30,6.5,,,\n3,40,30,7.5,GS\n"
    shots = read({"a.csv": text}).shots
    assert shots.elevation.tolist() == [5.5, 6.5, 7.5]
    assert [shots.code_name(k) for k in range(3)] == ["GS", "", "GS"]


def test_blank_delimited_rows_may_leave_out_their_last_text(read):
    text = "pt n e z code\n1 10 20 3 GS\n2 15 40 3\n3 40 20 3 edge of road\n"
    shots = read({"a.txt": text}).shots
    assert [shots.code_name(k) for k in range(3)] == ["GS", "", "edge of road"]


def test_a_units_bracket_that_agrees_with_the_job_is_accepted(read):
    text = "n (m),e (m),z (m)\n10,20,3\n15,40,3\n40,20,3\n"
    assert len(read({"a.csv": text}, unit=METRE).shots) == 3


def test_facts_tell_checksum_count_and_extents(read):
    import hashlib

    text = written(",")
    (fact,) = read({"a.csv": text}).files
    assert fact.sha256 == hashlib.sha256(text.encode()).hexdigest()
    assert (fact.name, fact.kind, fact.shots) == ("a.csv", "text", 3)
    assert fact.low == (2000001.5, 700010.25, 360.118)
    assert fact.high == (2000031.0, 700055.0, 362.0)


def test_path_with_blanks_and_unicode_is_a_path_like_any(read):
    name = "Lot 7 – Kestrel Rise ü 東.csv"
    survey = read({name: written(",")})
    check_rows(survey)
    assert survey.files[0].name == name


def test_two_files_are_joined_in_order_with_their_own_lines(read):
    more = "n,e,z\n700011,2000003,361\n700015,2000008,361\n"
    shots = read({"a.csv": written(","), "b.csv": more}).shots
    assert shots.file.tolist() == [0, 0, 0, 1, 1]
    assert shots.place(3) == "b.csv:2"
    assert shots.point_name(3) == ""
    assert shots.point_name(2) == "BM1"
    assert shots.code.tolist()[3:] == [-1, -1]


# Both readers --------------------------------------------------------------------------------

NUMBERS = st.one_of(
    st.floats(-1e9, 1e9).map(repr),
    st.integers(-(10**9), 10**9).map(str),
    st.decimals(-1000, 1000, places=3).map(str),
    st.sampled_from(
        [
            "+5",
            "1.",
            ".5",
            "1e3",
            "007",
            "-0",
            " 12.5 ",
            "nan",
            "1e400",
            "",
            "12O",
            "0x1",
            "1_0",
            "1,5",
            "٣",
            "2e9",
            "inf",
        ]
    ),
)
TEXT = st.one_of(
    st.text(st.characters(codec="utf-8", exclude_characters="\n\r\0,"), max_size=6),
    st.sampled_from(["GS", " GS ", "", "#1", "// x", '"q"', "ü", "a b", "x" * 70]),
)
TABLE = st.lists(st.tuples(TEXT, NUMBERS, NUMBERS, NUMBERS, TEXT), min_size=1, max_size=6)


@settings(max_examples=400, deadline=None)
@given(TABLE, st.sampled_from([",", ";", "\t"]), st.sampled_from(["\n", "\r\n"]), st.booleans())
def test_the_quick_reader_gives_what_the_careful_one_gives_or_gives_up(rows, sign, end, header):
    lines = ([",".join(HEADER).replace(",", sign)] if header else []) + [sign.join(r) for r in rows]
    data = end.join(lines).encode()
    try:
        layout = find_layout("a.csv", data, Asked(unit=FOOT, columns=NAMES))
    except SurveyError:
        return
    quick = read_quickly(layout, data)
    if quick is None:
        return
    careful = read_rows(layout, data)
    assert quick.numbers.keys() == careful.numbers.keys()
    for name, values in quick.numbers.items():
        assert values.tobytes() == careful.numbers[name].tobytes()
    assert quick.row.tolist() == careful.row.tolist()
    assert (quick.point is None) == (careful.point is None)
    if quick.point is not None and careful.point is not None:
        assert quick.point.tolist() == careful.point.tolist()
    for name, (ids, names) in quick.names.items():
        assert (ids.tolist(), names) == (careful.names[name][0].tolist(), careful.names[name][1])


def test_a_quoted_header_leaves_the_rows_to_the_quick_reader():
    data = b'"point","northing","easting","elevation"\n1,2.5,3.5,4.5\n2,5,6,7\n'
    layout = find_layout("a.csv", data, Asked(unit=FOOT))
    table = read_quickly(layout, data)
    assert table is not None
    assert table.numbers["northing"].tolist() == [2.5, 5.0]
    assert table.row.tolist() == [2, 3]


def test_the_quick_reader_takes_clean_files_itself():
    for text in (written(","), written("\t"), written("   ").replace("edge of road", "road"),
                 written(";").replace(".", ",")):  # fmt: skip
        data = text.encode()
        layout = find_layout("a.csv", data, Asked(unit=FOOT))
        assert read_quickly(layout, data) is not None


@given(st.decimals(-(10**6), 10**6, places=6))
def test_a_number_is_read_to_the_nearest_double(value):
    data = f"n,e,z\n{value:f},1,2\n3,4,5\n".encode()
    layout = find_layout("a.csv", data, Asked(unit=FOOT))
    table = read_quickly(layout, data)
    assert table is not None
    read = Decimal(float(table.numbers["northing"][0]))
    spacing = Decimal(float(np.spacing(abs(float(read)))))
    assert abs(read - value) <= spacing / 2
