"""A job file is read whole, and everything wrong in it is said at once, where it stands."""

import math
import os
import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from terrain.base.errors import JobError
from terrain.job.faults import key_text, keys_of, table_at
from terrain.job.load import load_job, read_job
from terrain.job.places import places
from terrain.job.schema import TABLES
from tests.job.made_job import (
    FIELD,
    FORMS,
    READY,
    RECTANGLE,
    at,
    changed,
    full,
    paths,
    small,
    toml,
    without,
    write_job,
)

DESIGN_EXAMPLE = """\
title = "Lot 7, Kestrel Rise"

[site]
length_unit = "ft"                  # "ft", "ftUS" or "m"
crs = "EPSG:2223"

[existing]                          # the ground before the dig
shots = ["shots.csv"]
columns = ["point", "northing", "easting", "elevation", "code"]
breaklines = ["ditch", "road edge"] # joined, in order, line by line
marks = {"BM1" = 100.00}
max_edge = 60.0
accuracy = 0.05
datum_accuracy = 0.03

[soil]
material = "common earth"
swell = 0.25
shrink = 0.10

[foundation]
corners = [[100.0, 200.0], [148.0, 200.0], [148.0, 236.0], [100.0, 236.0]]
walls = ["front", "right", "back", "left"]      # wall i runs from corner i to the next

[dig]
floor = 92.5
overdig = 2.0
side = 1.0
topsoil_strip = 0.5
[dig.walls.back]                    # exceptions by wall
overdig = 3.0
side = [[0, 4], [4, 0]]
[[dig.pits]]
name = "areaway"
corners = [[148.0, 212.0], [153.0, 212.0], [153.0, 218.0], [148.0, 218.0]]
floor = 94.0
[[dig.ramps]]
name = "way in"
line = [[124.0, 200.0], [124.0, 172.0]]
width = 12.0
run_per_rise = 4.0
[[dig.trenches]]
name = "porch piers"
line = [[104.0, 196.0], [122.0, 196.0]]
width = 1.5
floor = 96.0

[haul]
truck = 14.0
"""


def faults_of(folder: Path, data: dict[str, Any] | str) -> list[str]:
    with pytest.raises(JobError) as caught:
        load_job(write_job(folder, data))
    return [str(fault) for fault in caught.value.faults]


def keys_at_fault(folder: Path, data: dict[str, Any]) -> set[str | None]:
    with pytest.raises(JobError) as caught:
        load_job(write_job(folder, data))
    return {fault.key for fault in caught.value.faults}


def test_the_example_of_the_job_file_is_read_as_it_stands(tmp_path: Path) -> None:
    job = load_job(write_job(tmp_path, DESIGN_EXAMPLE))
    assert (job.title, job.unit.name, job.site.crs) == ("Lot 7, Kestrel Rise", "ft", "EPSG:2223")
    assert job.dig.side == ((1.0, 1.0),)
    assert job.dig.walls["back"].side == ((0.0, 4.0), (4.0, 0.0))
    assert job.dig.walls["back"].overdig == 3.0
    assert (job.dig.pits[0].overdig, job.dig.pits[0].side) == (0.0, ((0.0, 1.0),))
    assert job.dig.ramps[0].floor is None
    assert job.existing.same_spot == "refuse"
    assert job.haul.truck == 14.0
    assert job.path("shots.csv") == tmp_path / "shots.csv"


@pytest.mark.parametrize("form", ["corners", *FORMS])
def test_a_job_with_every_key_is_read(tmp_path: Path, form: str) -> None:
    job = load_job(write_job(tmp_path, full(form)))
    assert job.soil.soil_class == "B"
    assert job.lot is not None
    assert set(job.lot.buildings) == {"barn"}


def test_the_least_job_is_read_and_named_by_its_file(tmp_path: Path) -> None:
    job = load_job(write_job(tmp_path, small(), "Kestrel 7.toml"))
    assert job.title == "Kestrel 7"
    assert (job.dig.topsoil_strip, job.haul.truck, job.house, job.lot) == (0.0, None, None, None)


def top_table(name: str) -> Any:
    """The table of a top-level key, written once or as a list."""
    return table_at(TABLES[name], (0,)) or TABLES[name]


def schema_paths() -> set[tuple[str, ...]]:
    """Every key of the schema as a path, list entries left out."""
    found: set[tuple[str, ...]] = set()

    def walk(name: str, above: tuple[str, ...]) -> None:
        table = table_at(top_table(name), above) if above else top_table(name)
        if table is None:
            return
        for key, kind in keys_of(table).items():
            found.add((name, *above, key))
            for step in ((), (0,), ("back",)):
                if "Table" in str(kind) or "terrain.job" in str(kind):
                    inner = table_at(top_table(name), (*above, key, *step))
                    if inner is not None:
                        found.update((name, *above, key, k) for k in keys_of(inner))

    for name in TABLES:
        walk(name, ())
    return found


def test_the_full_jobs_of_these_tests_hold_every_key_of_the_schema() -> None:
    held = {
        tuple(p for p in path if isinstance(p, str) and p not in ("back",))
        for form in ("corners", *FORMS)
        for path in paths(full(form))
    }
    held |= {
        ("existing", *(p for p in path if isinstance(p, str)))
        for existing in (*READY, FIELD)
        for path in paths(existing)
    }
    assert schema_paths() - held == set()
    assert len(schema_paths()) > 70


WRONG: dict[type, list[Any]] = {
    str: [5, 1.5, True, ["a"], {"a": 1}],
    float: ["text", True, [1.0], {"a": 1}, math.nan, math.inf, -math.inf, 10**400],
    list: [5, "text", True, {"a": 1}],
    dict: [5, "text", True, [1]],
}


def wrong_types() -> list[tuple[str, tuple[str | int, ...], Any]]:
    cases = []
    for form in ("corners", *FORMS):
        data = full(form)
        for path in paths(data):
            if form != "corners" and path[0] != "foundation":
                continue
            value = at(data, path)
            kind = float if isinstance(value, (int, float)) else type(value)
            # A side or wall grade is a number or a list: each of the two is right for the other.
            either = path[-1] in ("side", "wall_grade")
            wrongs = [w for w in WRONG[kind] if not either or w != 5]
            wrongs = [w for w in wrongs if type(w) is not bool or type(value) is not bool]
            cases += [(form, path, wrong) for wrong in wrongs]
    return cases


def points_at(key: str | None, path: tuple[str | int, ...]) -> bool:
    """Whether a fault's key is the path, or the position or side list that it is part of."""
    return key in {key_text(path[:end]) for end in range(max(1, len(path) - 2), len(path) + 1)}


@pytest.mark.parametrize("form", ["corners", *FORMS])
def test_a_wrong_type_for_any_key_is_one_clear_fault_on_that_key(tmp_path: Path, form: str) -> None:
    write_job(tmp_path, full(form))
    cases = [(p, w) for f, p, w in wrong_types() if f == form]
    assert len(cases) > (500 if form == "corners" else 5)
    for path, wrong in cases:
        text = toml(changed(full(form), path, wrong))
        with pytest.raises(JobError) as caught:
            read_job(text, str(tmp_path / "job.toml"))
        named = [f for f in caught.value.faults if points_at(f.key, path)]
        assert named, (path, wrong, str(caught.value))
        assert all(f.line is not None and f.file for f in named)
        message = named[0].message
        # text in place of a lot line is the name of a file
        assert "wanted" in message or {"walls", "marks", "boundary"} & {*path}, (path, wrong)


REQUIRED = [
    ("site",), ("existing",), ("soil",), ("foundation",), ("dig",), ("site", "length_unit"),
    ("existing", "shots"), ("soil", "material"), ("foundation", "walls"), ("dig", "overdig"),
    ("dig", "side"), ("dig", "floor"),
]  # fmt: skip


@pytest.mark.parametrize("path", REQUIRED)
def test_a_missing_required_key_is_named(tmp_path: Path, path: tuple[str, ...]) -> None:
    assert key_text(path) in keys_at_fault(tmp_path, without(small(), *path))


@pytest.mark.parametrize(
    ("path", "near"),
    [
        (("site", "lenght_unit"), "length_unit"),
        (("existing", "breakline"), "breaklines"),
        (("existing", "cloud", "vertical_units"), "vertical_unit"),
        (("soil", "swel"), "swell"),
        (("foundation", "corner"), "corners"),
        (("foundation", "footing", "widht"), "width"),
        (("foundation", "stone", "underslab"), "under_slab"),
        (("dig", "overdigg"), "overdig"),
        (("dig", "Floor"), "floor"),
        (("dig", "walls", "back", "sides"), "side"),
        (("dig", "pits", 0, "flor"), "floor"),
        (("dig", "ramps", 0, "run_per_rice"), "run_per_rise"),
        (("dig", "trenches", 0, "with"), "width"),
        (("haul", "trucks"), "truck"),
        (("lot", "boundry"), "boundary"),
        (("house", "corner"), "corners"),
        (("tittle",), "title"),
    ],
)
def test_an_unknown_key_names_the_nearest_known_one(
    tmp_path: Path, path: tuple[str | int, ...], near: str
) -> None:
    [said] = faults_of(tmp_path, changed(full(), path, 1.0))
    assert f'did you mean "{near}"?' in said
    assert f"{key_text(path)}: " in said


def test_an_unknown_table_names_the_nearest_known_one(tmp_path: Path) -> None:
    data = full() | {"foundations": {"a": 1}, "weather": {"rain": 5}}
    said = "\n".join(faults_of(tmp_path, data))
    assert "foundations: unknown table; did you mean [foundation]?" in said
    assert "weather: unknown table; the tables known here are [site]" in said


def test_a_key_that_belongs_in_another_table_is_sent_there(tmp_path: Path) -> None:
    [said] = faults_of(tmp_path, changed(full(), ("dig", "walls", "back", "topsoil_strip"), 0.5))
    assert "it belongs in [dig]" in said


def test_an_unknown_wall_names_the_nearest_wall(tmp_path: Path) -> None:
    [said] = faults_of(tmp_path, changed(small(), ("dig", "walls"), {"bakc": {"overdig": 1}}))
    assert 'dig.walls.bakc: the foundation has no wall "bakc"; did you mean "back"?' in said


SIDES = [
    (0, ((0.0, 1.0),)),
    (1, ((1.0, 1.0),)),
    (0.75, ((0.75, 1.0),)),
    ([[1, 1]], ((1.0, 1.0),)),
    ([[0, 4], [4, 0]], ((0.0, 4.0), (4.0, 0.0))),
    ([[0, 3.5], [1, 1]], ((0.0, 3.5), (1.0, 1.0))),
    ([[3, 0], [0, 1]], ((3.0, 0.0), (0.0, 1.0))),
]


@pytest.mark.parametrize(("given", "steps"), SIDES)
def test_a_side_is_a_list_of_steps_or_a_number_short_for_one(
    tmp_path: Path, given: Any, steps: Any
) -> None:
    job = load_job(write_job(tmp_path, changed(small(), ("dig", "side"), given)))
    assert job.dig.side == steps


@pytest.mark.parametrize(
    "wrong",
    [
        [], [[0, 0]], [[1, 1], [0, 0]], [[2, 0]], [[2, 0], [3, 0]], [[1]], [[1, 1, 1]], [1, 1],
        [[-1, 1]], [[1, -1]], -1, [[math.inf, 1]], [["1", 1]], [[True, 1]], "1:1", 1e6,
        [[0, 0.01], [1, 0]],
    ],
)  # fmt: skip
def test_a_side_that_cannot_be_is_refused(tmp_path: Path, wrong: Any) -> None:
    assert keys_at_fault(tmp_path, changed(small(), ("dig", "side"), wrong)) == {"dig.side"}
    data = changed(small(), ("dig", "walls"), {"back": {"side": wrong}})
    assert keys_at_fault(tmp_path, data) == {"dig.walls.back.side"}


RULES: list[tuple[tuple[str | int, ...], Any, str, str]] = [
    (("foundation", "walls"), ["a", "b", "c"], "foundation.walls", "3 wall names"),
    (("foundation", "walls"), ["a", "b", "a", "c"], "foundation.walls[3]", "two walls"),
    (("foundation", "walls"), ["a", "b", " ", "c"], "foundation.walls[3]", "name"),
    (("foundation", "corners"), [[0, 0], [1, 0]], "foundation.corners", "at least 3"),
    (("foundation", "outline"), "foundation.csv", "foundation.outline", "one form only"),
    (("foundation", "bearing"), 10.0, "foundation.bearing", "no use with corners"),
    (("foundation", "turns"), [90.0], "foundation.turns", "no use with corners"),
    (("foundation", "footing"), {"width": 1, "depth": 1}, "foundation.footing.projection", ""),
    (("site", "length_unit"), "feet", "site.length_unit", '"ft", "ftUS" or "m"'),
    (("site", "crs"), "EPSG:2227", "site.crs", '"ftUS"'),
    (("site", "crs"), "EPSG:26912", "site.crs", '"m"'),
    (("site", "crs"), "EPSG:4326", "site.crs", "not projected"),
    (("site", "crs"), "nonsense", "site.crs", "PROJ"),
    (("soil", "material"), "moon dust", "soil.material", ""),
    (("soil", "shrink"), 1.0, "soil.shrink", ""),
    (("soil", "swell"), -0.1, "soil.swell", ""),
    (("soil", "class"), "D", "soil.class", '"stable rock"'),
    (("haul", "truck"), 0, "haul.truck", "over 0"),
    (("dig", "overdig"), -1, "dig.overdig", "at least 0"),
    (("dig", "floor"), 1e12, "dig.floor", "at most"),
    (("existing", "shots"), [], "existing.shots", "names no file"),
    (("existing", "shots"), ["no.csv"], "existing.shots[1]", "no file"),
    (("existing", "shots"), ["."], "existing.shots[1]", "folder"),
    (("existing", "shots"), ["shots.csv", "shots.csv"], "existing.shots[2]", "twice"),
    (("existing", "lines"), ["no.geojson"], "existing.lines[1]", "no file"),
    (("existing", "columns"), ["point", "north", "easting"], "existing.columns[2]", "northing"),
    (("existing", "columns"), ["line", "line", "easting"], "existing.columns[2]", "twice"),
    (("existing", "columns"), ["point", "easting", "elevation"], "existing.columns", "northing"),
    (("existing", "same_spot"), "first", "existing.same_spot", '"refuse"'),
    (("existing", "ground_filter"), {"way": "cloth"}, "existing.ground_filter", "is a scan"),
    (("existing", "ground_filter"), {"way": "cloth", "slope": 0.3},
     "existing.ground_filter.slope", 'only with "opening"'),
    (("existing", "ground_filter"), {"way": "none", "cell": 2.0},
     "existing.ground_filter.cell", '"cloth" or "opening"'),
    (("existing", "control"), {"targets": [{"name": "A", "scan": [0, 0, 0], "site": [0, 0, 0]}]},
     "existing.control", "is a scan"),
    (("existing", "level"), {"lines": {"fence": [[0, 0], [0, 0], [1, 0]]}},
     "existing.level.lines.fence", "one spot"),
]  # fmt: skip


@pytest.mark.parametrize(("path", "value", "key", "words"), RULES)
def test_each_rule_is_a_fault_on_its_key(
    tmp_path: Path, path: tuple[str | int, ...], value: Any, key: str, words: str
) -> None:
    data = changed(small(), path, value)
    with pytest.raises(JobError) as caught:
        load_job(write_job(tmp_path, data))
    said = [str(f) for f in caught.value.faults if f.key == key]
    assert said, str(caught.value)
    assert words in said[0]


@pytest.mark.parametrize(
    ("unit", "crs"), [("ft", "EPSG:2223"), ("m", "EPSG:26912"), ("ftUS", "EPSG:2227")]
)
def test_a_projected_crs_in_the_jobs_own_unit_is_taken(tmp_path: Path, unit: str, crs: str) -> None:
    data = changed(changed(small(), ("site", "crs"), crs), ("site", "length_unit"), unit)
    assert load_job(write_job(tmp_path, data)).site.crs == crs


def test_two_feet_are_told_apart(tmp_path: Path) -> None:
    data = changed(changed(small(), ("site", "crs"), "EPSG:2227"), ("site", "length_unit"), "ft")
    [said] = faults_of(tmp_path, data)
    assert 'is in "ftUS"' in said
    assert 'length_unit is "ft"' in said


@pytest.mark.parametrize("kind", ["pits", "ramps", "trenches"])
def test_a_name_given_twice_is_named_with_both_places(tmp_path: Path, kind: str) -> None:
    data = full()
    data["dig"][kind].append(data["dig"][kind][0] | {"floor": 95.0})
    [said] = faults_of(tmp_path, data)
    assert f"dig.{kind}[2].name" in said
    assert f"dig.{kind}[1]" in said


@pytest.mark.parametrize("form", ["bearing", "stakes"])
def test_lengths_that_do_not_go_with_turns_are_refused(tmp_path: Path, form: str) -> None:
    data = changed(full(form), ("foundation", "turns"), [90.0, 90.0])
    assert keys_at_fault(tmp_path, data) == {"foundation.turns"}
    data = changed(full(form), ("foundation", "lengths"), [48.0, 36.0, 48.0, 36.0, 5.0])
    data = without(data, "foundation", "turns")
    assert "foundation.turns" in keys_at_fault(tmp_path, data)


def test_all_faults_of_a_file_are_said_at_once_in_the_order_of_its_lines(tmp_path: Path) -> None:
    data = small()
    data["dig"]["floor"] = "deep"
    data["dig"]["walls"] = {"bakc": {"overdig": 1}}
    data["soil"]["material"] = 5
    data["existing"]["shots"] = ["missing.csv"]
    data["site"]["crs"] = "EPSG:4326"
    with pytest.raises(JobError) as caught:
        load_job(write_job(tmp_path, data))
    assert [f.key for f in caught.value.faults] == [
        "site.crs", "existing.shots[1]", "soil.material", "dig.floor", "dig.walls.bakc",
    ]  # fmt: skip
    lines = [f.line or 0 for f in caught.value.faults]
    assert lines == sorted(lines)
    assert 0 not in lines


def test_bad_toml_is_shown_with_line_column_and_caret(tmp_path: Path) -> None:
    [said] = faults_of(tmp_path, '[site]\nlength_unit = "ft\n')
    assert "job.toml:2:18" in said
    shown = said.splitlines()
    assert shown[-2].strip() == 'length_unit = "ft'
    assert shown[-1].index("^") - 4 == 17


BAD_TOML = [
    "= 3", "[site", "a = ", "a = [1, 2", "a = 1\na = 2\n", "[site]\n[site]\n", "a = 01", "a.b.",
    "[dig]\nfloor = 92,5\n", "x = nul", "{", '"', "a = 1 b = 2",
]  # fmt: skip


@pytest.mark.parametrize("text", BAD_TOML)
def test_text_that_is_not_toml_names_the_line(tmp_path: Path, text: str) -> None:
    [said] = faults_of(tmp_path, text)
    assert "job.toml:" in said
    assert "not TOML" in said


def test_a_decimal_comma_is_told_how_to_write(tmp_path: Path) -> None:
    [said] = faults_of(tmp_path, "[dig]\nfloor = -92,5 # ft\n")
    assert "; a decimal is written with a point: -92.5" in said
    [said] = faults_of(tmp_path, "a = [1, 2\n")
    assert "written with a point" not in said
    corners: list[list[float]] = [[100, 0, 200, 0], *RECTANGLE[1:]]
    [said] = faults_of(tmp_path, changed(small(), ("foundation", "corners"), corners))
    assert "(a decimal is written with a point), not [100, 0, 200, 0]" in said


RAW: list[tuple[bytes, str]] = [
    (b"", "is empty"),
    (b"  \n\n", "is empty"),
    (b"\x00\x01\x02\xff" * 100, "not a text file"),
    (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", "not a text file"),
    ('title = "Caf\xe9"\n'.encode("latin-1"), "job.toml:1:13: byte 0xe9 is not UTF-8"),
    ('title = "a"\n'.encode("utf-16"), "UTF-16"),
    (b"a = " + b"[" * 5000 + b"]" * 5000, "nested too deeply"),
    (b"#" * 10_000_001, "over 10 MB"),
    (b"a = " + b"9" * 5000, "not TOML"),
]


@pytest.mark.parametrize(("raw", "words"), RAW)
def test_bytes_that_are_no_job_file_are_refused(tmp_path: Path, raw: bytes, words: str) -> None:
    path = tmp_path / "job.toml"
    path.write_bytes(raw)
    with pytest.raises(JobError) as caught:
        load_job(path)
    assert words in str(caught.value)
    assert str(path) in str(caught.value)


def test_a_folder_or_nothing_in_place_of_a_job_file_is_said(tmp_path: Path) -> None:
    with pytest.raises(JobError, match="is a folder"):
        load_job(tmp_path)
    with pytest.raises(JobError, match="there is no such job file"):
        load_job(tmp_path / "no.toml")


def test_a_pipe_is_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(JobError, match="not a file but a pipe"):
        load_job(tmp_path / "pipe")
    data = changed(small(), ("existing", "shots"), ["pipe"])
    assert keys_at_fault(tmp_path, data) == {"existing.shots[1]"}


def test_a_file_that_may_not_be_read_is_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = write_job(tmp_path, small())

    def refuse(*_: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", refuse)
    with pytest.raises(JobError, match=r"job\.toml: can't be read: Permission denied"):
        load_job(path)


def test_no_message_carries_what_would_move_a_terminals_cursor(tmp_path: Path) -> None:
    text = toml(small()) + '"\\u001b[2J" = {a = "x"}\n[haul]\ntruck = "\\u001b[31m"\n'
    said = "".join(faults_of(tmp_path, text))
    assert "?[2J" in said
    assert "?[31m" in said
    assert "\x1b" not in said


def test_a_byte_order_mark_and_windows_line_ends_change_nothing(tmp_path: Path) -> None:
    plain = load_job(write_job(tmp_path, full()))
    path = tmp_path / "marked.toml"
    path.write_bytes(b"\xef\xbb\xbf" + toml(full()).replace("\n", "\r\n").encode("utf-8"))
    marked = load_job(path)
    assert (marked.dig, marked.existing, marked.places) == (plain.dig, plain.existing, plain.places)


def test_a_path_with_spaces_and_unicode_works(tmp_path: Path) -> None:
    data = changed(small(), ("existing", "shots"), ["Höhen 测量 1.csv"])
    path = write_job(tmp_path / "Grüne Straße 7", data, "Büro – Haus.toml")
    (path.parent / "Höhen 测量 1.csv").write_text("point,northing,easting,elevation\n")
    job = load_job(path)
    assert job.path(job.existing.shots[0]).is_file()


TRICKY = '''\
# [not.a.table] = "x"
a = "quoted # no comment ] }" # comment
"b c".'d.e'.f = 1
text = """
[not_a_table]
key = 1
"""
raw = \'\'\'
[[also]]\'\'\'
multi = [ # first
  [1, 2], # second

  ["x", {p = 1, "q r" = [3, 4]}],
]
[table."x.y".z]
k.l = {m.n = 2024-01-01T00:00:00Z, o = []}
[[many]]
v = 1
[[many]]
v = 2
[many.sub]
w = 3
[[many.deep]]
u = +inf
[[many.deep]]
u = 0x_ff
'''.replace("0x_ff", "0xff")


def check_places(text: str) -> None:
    found = places(text)
    lines = text.split("\n")
    data = tomllib.loads(text)
    for path in paths(data):
        assert path in found, path
        line, column = found[path]
        rest = lines[line - 1][column - 1 :]
        if isinstance(path[-1], str):
            assert path[-1] in rest, (path, rest)


def test_every_key_of_a_valid_file_has_its_place() -> None:
    check_places(TRICKY)
    check_places(DESIGN_EXAMPLE)
    check_places(toml(full()))
    assert places(TRICKY)[("multi", 1, 1, "q r", 1)] == (13, 29)
    assert places(TRICKY)[("many", 1, "deep", 1, "u")] == (26, 1)


keys = st.text(st.characters(codec="ascii", min_codepoint=32, max_codepoint=126), min_size=1)
values = st.recursive(
    st.integers(-9, 9) | st.booleans() | keys,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(keys, inner, max_size=3),
    max_leaves=8,
)


@given(st.dictionaries(keys, values, max_size=5))
def test_every_key_of_any_file_has_a_place(data: dict[str, Any]) -> None:
    text = toml(data)
    data = tomllib.loads(text)
    found = places(text)
    for path in paths(data):
        if not any('"' in str(p) or "\\" in str(p) for p in path):
            assert path in found
