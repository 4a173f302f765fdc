"""Malformed survey files: each is one clear error that names the file, and the line if any."""

import struct
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from terrain.base.errors import MORE_FOLLOW, SurveyError
from terrain.base.units import FOOT, METRE
from terrain.survey.merge import SameSpot
from terrain.survey.read import ReadOptions, read_shots

HEAD = "pt,n,e,z,code\n"
GOOD = "1,100,200,5,GS\n2,140,200,6,GS\n3,100,260,7,GS\n"
GRID = [(f"{n}", f"{e}") for n in range(700000, 700100, 20) for e in range(2000000, 2000100, 20)]
SWAPPED = "".join(
    f"{k},{360 + (k * 7 % 11) / 3:.2f},{e},{n},GS\n" for k, (n, e) in enumerate(GRID, 1)
)

# name of the case: file name, content, line of the first fault or None, words of the message
TEXT = {
    "empty": ("a.csv", "", 1, "empty"),
    "blank lines only": ("a.csv", "\n\n  \n", 1, "no shots"),
    "comments only": ("a.csv", "# a\n// b\n", 1, "no shots"),
    "header only": ("a.csv", HEAD, 1, "no shots"),
    "one shot": ("a.csv", HEAD + "1,100,200,5,GS\n", 2, "needs three"),
    "two spots in four shots": ("a.csv", HEAD + "1,1,2,5,G\n2,1,2,5,G\n3,9,2,5,G\n4,9,2,5,G\n",
                                None, "needs three"),
    "text in a number": ("a.csv", HEAD + GOOD.replace("140", "14O"), 3, '"14O" is not a number'),
    "blank number": ("a.csv", HEAD + GOOD.replace("140", ""), 3, "northing is empty"),
    "NaN": ("a.csv", HEAD + GOOD.replace(",6,", ",NaN,"), 3, "not a finite number"),
    "infinite": ("a.csv", HEAD + GOOD.replace(",6,", ",-inf,"), 3, "not a finite number"),
    "overflow": ("a.csv", HEAD + GOOD.replace(",6,", ",1e400,"), 3, "out of range"),
    "out of range": ("a.csv", HEAD + GOOD.replace("140", "2e9"), 3, "out of range"),
    "underscore": ("a.csv", HEAD + GOOD.replace("140", "1_40"), 3, "not a number"),
    "foreign digits": ("a.csv", HEAD + GOOD.replace("140", "١٤٠"), 3, "not a number"),
    "feet and inches": ("a.csv", HEAD + GOOD.replace("140", "140' 6"), 3, "not a number"),
    "decimal comma for once": ("a.csv", HEAD.replace(",", ";") + GOOD.replace(",", ";").replace(
        "140", "140,5").replace("200", "200.5"), 3, "decimal comma"),
    "decimal point for once": ("a.csv", HEAD.replace(",", ";") + GOOD.replace(",", ";").replace(
        "200", "200,5").replace("140", "140.5"), 3, "decimal point"),
    "thousands": ("a.csv", HEAD.replace(",", ";") + GOOD.replace(",", ";").replace(
        "140", "1,140.5"), 3, "not a number"),
    "ragged, short": ("a.csv", HEAD + GOOD + "4,150,210,3\n", 5, "4 fields where 5 are due"),
    "ragged, long": ("a.csv", HEAD + GOOD + "4,150,210,3,edge, of road\n", 5, "6 fields where 5"),
    "decimal comma, code left out": ("a.csv", HEAD + GOOD + "4,150,210,3,4,\n", 5,
                                     "5 are due (point, northing, easting, elevation, code). "
                                     "A decimal is written with a point"),
    "cut off": ("a.csv", HEAD + GOOD + "4,15", 5, "2 fields where 5"),
    "quote left open": ("a.csv", HEAD + GOOD + '4,150,210,3,"edge\n', 5, "quotes"),
    "quote ends early": ("a.csv", HEAD + GOOD + '4,150,210,3,"B" street\n', 5, "quotes"),
    "missing column": ("a.csv", "pt,n,z,code\n1,100,5,GS\n", 1, "called easting"),
    "two columns of one name": ("a.csv", "pt,n,e,e,z\n1,2,3,4,5\n", 1,
                                "two columns are the easting"),
    "two names of one column": ("a.csv", "n,e,z,elev\n1,2,3,4\n", 1, "two columns are the elev"),
    "header of strange words": ("a.csv", "a,b,c\n1,2,3\n", 1, "northing or easting or elevation"),
    "no header, three fields": ("a.csv", "1,2,3\n4,5,6\n7,8,8\n", 1, "any order"),
    "no header, six fields": ("a.csv", "1,2,3,4,5,6\n" * 3, 1, "any order"),
    "no header, northing first": ("a.csv", "100.5,200.5,5.5,GS\n" * 3, 1, "any order"),
    "prose": ("a.txt", "Dear all,\nplease find the survey attached.\n", 1, "northing"),
    "one word a line": ("a.csv", "a\nb\nc\n", 1, "can't be split"),
    "header in metres": ("a.csv", "n (m),e (m),z (m)\n1,2,3\n4,5,6\n7,1,1\n", 1,
                         'length_unit is "ft"'),
    "elevation in metres": ("a.csv", "n,e,elev [m]\n1,2,3\n4,5,6\n7,1,1\n", 1,
                            'length_unit is "ft"'),
    "swapped": ("a.csv", HEAD + SWAPPED, 2, "northing and elevation look swapped"),
    "swapped without header": ("a.csv", SWAPPED, 1, "northing and elevation look swapped"),
    "degrees": ("a.csv", "n,e,z\n45.00011,-93.00021,5\n45.00031,-93.00071,6\n45.00051,-93.0003,7\n",
                2, "latitude and longitude"),
    "degrees by name": ("a.csv", "lat,lon,z\n45.1,-93,5\n45.2,-93,6\n45.1,-93.1,7\n", 2,
                        "existing.positions"),
    "far shot": ("a.csv", HEAD + GOOD.replace(",", ",2000", 1) + "4,100,900000,5,GS\n", 5,
                 "far from the others"),
    "no-data elevation": ("a.csv", HEAD + GOOD + "4,150,210,-9999,GS\n", 5,
                          "no height that ground"),
    "too high": ("a.csv", HEAD + GOOD + "4,150,210,700000,GS\n", 5, "no height that ground"),
    "same spot disagrees": ("a.csv", HEAD + GOOD + "4,140,200,6.8,GS\n", 5, "disagree by 0.800 ft"),
    "long point name": ("a.csv", HEAD + GOOD + "x" * 65 + ",1,2,3,GS\n", 5, "too long"),
    "binary in text": ("a.csv", (HEAD + GOOD).encode() + b"\x00\x01\x02", 5, "no text"),
    "control rubbish": ("a.csv", bytes(range(1, 9)) * 100, 1, "no text"),
    "random rubbish": ("a.csv", np.random.default_rng(1).bytes(5000), None, "no text"),
    "UTF-16 cut": ("a.csv", (HEAD + GOOD).encode("utf-16")[:-1], 1, "damaged"),
    "UTF-16 unmarked": ("a.csv", (HEAD + GOOD).encode("utf-16-le"), 1, "no text"),
    "line of 10 MB": ("a.csv", "1" * 10_000_000, 1, "line ends"),
    "10 MB of fields in a line": ("a.csv", HEAD + "1,2," * 2_500_000, 2, "line ends"),
    "10 MB line further down": ("a.csv", HEAD + GOOD * 20000 + "7," * 5_000_000, 60002,
                                "fields where"),
    "workbook": ("a.csv", b"PK\x03\x04 and so on", 1, "spreadsheet"),
    "PDF": ("a.txt", b"%PDF-1.7", 1, "PDF"),
    "LAZ by another name": ("a.csv", b"LASF" + bytes(300), 1, "LAS or LAZ"),
}  # fmt: skip


def fails(read, files, words, line=None, **options):
    with pytest.raises(SurveyError) as caught:
        read(files, **options)
    faults = caught.value.faults
    name = next(iter(files))
    told = str(caught.value)
    assert words in told
    assert name in told
    assert "Traceback" not in told
    assert all(len(text) < 400 for text in told.splitlines())
    if line is not None:
        assert (faults[0].file, faults[0].line) == (name, line)
    return faults


@pytest.mark.parametrize("case", TEXT)
def test_bad_text_is_one_clear_error(read, case):
    name, content, line, words = TEXT[case]
    fails(read, {name: content}, words, line)


def test_all_faults_of_a_file_are_gathered_with_line_column_and_caret(read):
    text = HEAD + "1,100,2x0,5,GS\n2,140,200,six,GS\n3,nan,260,,GS\n4,1\n"
    faults = fails(read, {"a.csv": text}, "2x0")
    assert [(f.line, f.column) for f in faults] == [(2, 7), (3, 11), (4, 3), (4, 11), (5, None)]
    assert str(faults[0]).endswith("1,100,2x0,5,GS\n" + " " * 10 + "^")


@pytest.mark.parametrize("row", ['"a, b",100,2x0,5,GS', "1;100;2x0;5;GS", "1   100\t2x0 5  GS"])
def test_the_caret_stands_under_the_field_at_fault(read, row):
    text = row.replace("2x0", "200") + "\n" + row + "\n"
    faults = fails(read, {"a.csv": text}, "2x0", columns=("point", "northing", "easting",
                                                         "elevation", "code"))  # fmt: skip
    assert faults[0].column == row.index("2x0") + 1


def test_faults_of_all_files_are_told_at_once(read):
    with pytest.raises(SurveyError) as caught:
        read({"a.csv": "", "b.csv": HEAD + "1,x,2,3,GS\n", "c.doc": "x"})
    assert [f.file for f in caught.value.faults] == ["a.csv", "b.csv", "c.doc"]


def test_a_million_faults_are_cut_short(read):
    faults = fails(read, {"a.csv": HEAD + "1,x,2,3,GS\n" * 5000}, "not a number")
    assert len(faults) == 1001
    assert str(SurveyError(*faults)).endswith("... and at least 980 more of the same kind")


def test_faults_that_were_all_looked_at_are_counted_exactly(read):
    faults = fails(read, {"a.csv": HEAD + "1,x,2,3,GS\n" * 25}, "not a number")
    assert str(SurveyError(*faults)).endswith("... and 5 more of the same kind")


def test_a_reader_that_stopped_before_the_twentieth_fault_says_so():
    assert str(SurveyError("one is wrong", MORE_FOLLOW)).endswith(
        "there may be more of the same kind"
    )


@pytest.mark.parametrize(
    ("columns", "words"),
    [
        (("northing", "easting"), "elevation is not named"),
        (("northing", "easting", "height"), '"height" is not a column'),
        (("northing", "easting", "elevation", "easting"), '"easting" is named twice'),
    ],
)
def test_bad_columns_in_the_job_are_told_by_key(read, columns, words):
    with pytest.raises(SurveyError, match=r"existing\.columns") as caught:
        read({"a.csv": HEAD + GOOD}, columns=columns)
    assert words in str(caught.value)


def test_more_fields_than_the_job_names_says_what_to_write(read):
    columns = ("point", "northing", "easting", "elevation")
    fails(read, {"a.csv": GOOD}, 'not needed "skip"', 1, columns=columns)


def test_columns_named_in_the_job_are_believed_over_the_swap_check(read):
    names = ("point", "northing", "easting", "elevation", "code")
    text = "".join(f"{k},{n},{k},{n + 40},GS\n" for k, n in enumerate(range(0, 3000, 90), 1))
    assert len(read({"a.csv": text}, columns=names).shots) == 34


def test_a_steep_narrow_strip_is_not_taken_for_swapped_columns(read):
    text = "n,e,z\n" + "".join(
        f"{k % 3},{4 * k},{300 + 1.6 * k + 0.1 * (k % 2)}\n" for k in range(60)
    )
    assert len(read({"a.csv": text}).shots) == 60


def test_files_in_feet_and_in_metres_do_not_meet(read):
    feet = "n,e,z\n" + "".join(f"{n},{e},360\n" for n, e in GRID)
    metres = "n,e,z\n" + "".join(f"{float(n) * 0.3048},{float(e) * 0.3048},110\n" for n, e in GRID)
    faults = fails(read, {"a.csv": feet, "b.csv": metres}, "Feet and metres seem mixed: this one")
    assert faults[0].file == "b.csv"


def test_neighbouring_files_are_one_lot(read):
    a = "n,e,z\n" + "".join(f"{n},{e},360\n" for n, e in GRID)
    b = "n,e,z\n" + "".join(f"{float(n) + 150},{e},361\n" for n, e in GRID)
    assert len(read({"a.csv": a, "b.csv": b}).shots) == 50


def test_the_same_file_given_twice_is_told(read, tmp_path):
    fails(read, {"a.csv": HEAD + GOOD, "b.csv": HEAD + GOOD}, "the same file as a.csv")
    with pytest.raises(SurveyError, match=r"names a\.csv twice"):
        read_shots(["a.csv", "a.csv"], ReadOptions(unit=FOOT, folder=tmp_path))


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("a.doc", "known are .csv"),
        ("noextension", "known are .csv"),
        ("missing.csv", "no such file"),
        ("folder.csv", "is a folder"),
        ("nowhere/a.csv", "no such file"),
        ("bad\0name.csv", "no name that a file can have"),
        ("x" * 300 + ".csv", "can't be read"),
    ],
)
def test_paths_that_are_no_survey_file(tmp_path, name, words):
    (tmp_path / "folder.csv").mkdir()
    with pytest.raises(SurveyError) as caught:
        read_shots([name], ReadOptions(unit=FOOT, folder=tmp_path))
    assert words in caught.value.faults[0].message
    assert caught.value.faults[0].file == name


def test_a_missing_file_names_its_nearest_neighbour(tmp_path):
    (tmp_path / "shots.csv").write_text(HEAD + GOOD)
    with pytest.raises(
        SurveyError, match=r"shot\.csv: there is no such file; its folder has shots"
    ):
        read_shots(["shot.csv"], ReadOptions(unit=FOOT, folder=tmp_path))


def test_no_file_at_all_is_told_by_key():
    with pytest.raises(SurveyError, match=r"existing\.shots: names no file"):
        read_shots([], ReadOptions(unit=FOOT))


@pytest.mark.parametrize("name", ["a.csv", "a.laz"])
def test_a_file_that_may_not_be_opened_is_told(tmp_path, monkeypatch, name):
    """The tests may run as root, whom no permission stops: opening is made to fail."""
    (tmp_path / name).write_text(HEAD + GOOD)

    def refuse(*_: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", refuse)
    with pytest.raises(SurveyError, match="permission denied"):
        read_shots([name], ReadOptions(unit=FOOT, folder=tmp_path))


def test_a_pipe_is_no_plain_file(tmp_path):
    import os

    os.mkfifo(tmp_path / "a.csv")
    with pytest.raises(SurveyError, match="no plain file"):
        read_shots(["a.csv"], ReadOptions(unit=FOOT, folder=tmp_path))


# Clouds --------------------------------------------------------------------------------------

RNG = np.random.default_rng(11)
POINTS = RNG.integers(0, 60000, (3000, 3))


def cut(data: bytearray, share: float) -> bytearray:
    return data[: int(len(data) * share)]


def put(form: str, place: int, *values: object):
    def change(data: bytearray) -> bytearray:
        struct.pack_into(form, data, place, *values)
        return data

    return change


# Places in the header: LAS 1.4 R15, public header block.
CLOUDS = {
    "empty": (lambda d: bytearray(), "empty"),
    "text": (lambda d: bytearray((HEAD + GOOD).encode()), "no LAS or LAZ cloud but text"),
    "rubbish": (lambda d: bytearray(RNG.bytes(4000)), "no LAS or LAZ cloud"),
    "picture": (lambda d: bytearray(b"\x89PNG" + bytes(999)), "a picture"),
    "cut in the header": (lambda d: d[:200], "cut short, copy it again"),
    "cut before the points": (lambda d: d[:230], "cut short"),
    "cut in the middle": (lambda d: cut(d, 0.5), "opy it again"),
    "last byte missing": (lambda d: d[:-1], "cut short"),
    "unknown version": (put("<BB", 24, 1, 7), "version 1.7"),
    "unknown point format": (put("<B", 104, 61), "point format 61 is unknown"),
    "points too short": (put("<H", 105, 3), "can't fit in 3 bytes"),
    "no points": (put("<I", 107, 0), "holds no points"),
    "more points than there are": (put("<I", 107, 99_000_000), ""),
    "scale nought": (put("<d", 131, 0.0), "scale and offset"),
    "scale NaN": (put("<d", 139, float("nan")), "scale and offset"),
    "offset infinite": (put("<d", 155, float("inf")), "scale and offset"),
    "points begin in the header": (put("<I", 96, 10), "contradicts itself"),
    "points begin beyond the end": (put("<I", 96, 2**31), "ends before its first point"),
    "four billion records": (put("<I", 100, 2**32 - 1), "contradicts itself"),
}


@pytest.mark.parametrize("name", ["scan.las", "scan.laz"])
@pytest.mark.parametrize("case", CLOUDS)
def test_a_bad_cloud_is_one_clear_error(make_cloud, tmp_path, case, name):
    change, words = CLOUDS[case]
    make_cloud(POINTS, name)
    path = tmp_path / name
    path.write_bytes(change(bytearray(path.read_bytes())))
    with pytest.raises(SurveyError) as caught:
        read_shots([name], ReadOptions(unit=METRE, folder=tmp_path))
    told = str(caught.value)
    assert words in told
    assert told.startswith(name)
    assert "Traceback" not in told


@pytest.mark.parametrize("seed", range(25))
@pytest.mark.parametrize("kind", [("1.2", 1), ("1.4", 7)])
def test_damage_anywhere_in_a_laz_is_an_error_or_still_points(make_cloud, tmp_path, seed, kind):
    version, point_format = kind
    make_cloud(POINTS[:200], "scan.laz", version=version, point_format=point_format)
    rng = np.random.default_rng(seed)
    data = bytearray((tmp_path / "scan.laz").read_bytes())
    for place in rng.integers(0, len(data), rng.integers(1, 12)):
        data[place] = rng.integers(256)
    (tmp_path / "scan.laz").write_bytes(data)
    rule = SameSpot(tolerance=0.1, choice="mean")
    options = ReadOptions(unit=METRE, folder=tmp_path, same_spot=rule)
    told, elevations = "scan.laz", np.zeros(0)
    try:
        elevations = read_shots(["scan.laz"], options).shots.elevation
    except SurveyError as error:
        told = str(error)
    assert "scan.laz" in told
    assert np.isfinite(elevations).all()


def test_a_layer_that_asks_for_gigabytes_is_refused_before_it_is_unpacked(make_cloud, tmp_path):
    """In a process of its own: the decoder ends the whole program when memory runs out."""
    make_cloud(POINTS, "scan.laz", version="1.4", point_format=6)
    path = tmp_path / "scan.laz"
    data = bytearray(path.read_bytes())
    begin = struct.unpack_from("<I", data, 96)[0]
    # After the 8 bytes of the table's place: one plain point of 30 bytes, the number of points,
    # then the size of each layer.
    struct.pack_into("<I", data, begin + 8 + 30 + 4, 2**32 - 1)
    path.write_bytes(data)
    script = (
        "import sys; from pathlib import Path; from terrain.base.units import METRE\n"
        "from terrain.base.errors import SurveyError\n"
        "from terrain.survey.read import ReadOptions, read_shots\n"
        "try: read_shots(['scan.laz'], ReadOptions(unit=METRE, folder=Path(sys.argv[1])))\n"
        "except SurveyError as error: print(error)"
    )
    ran = subprocess.run(
        [sys.executable, "-c", script, str(tmp_path)], capture_output=True, text=True, check=False
    )
    assert ran.returncode == 0
    assert ran.stderr == ""
    assert "the layers of chunk 1 do not fill it" in ran.stdout


def test_a_table_of_four_billion_chunks_is_refused(make_cloud, tmp_path):
    make_cloud(POINTS, "scan.laz")
    path = tmp_path / "scan.laz"
    data = bytearray(path.read_bytes())
    begin = struct.unpack_from("<I", data, 96)[0]
    table = struct.unpack_from("<q", data, begin)[0]
    struct.pack_into("<I", data, table + 4, 2**32 - 1)
    path.write_bytes(data)
    with pytest.raises(SurveyError, match="table of chunks does not fit"):
        read_shots(["scan.laz"], ReadOptions(unit=METRE, folder=tmp_path))


def test_bounds_that_hold_no_point_are_told(make_cloud, tmp_path):
    make_cloud(POINTS, "scan.las")
    options = ReadOptions(unit=METRE, folder=tmp_path, bounds=(900.0, 900.0, 901.0, 901.0))
    with pytest.raises(SurveyError, match="no usable point within what the job needs"):
        read_shots(["scan.las"], options)
