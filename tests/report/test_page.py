"""The page: one file, the answer's own figures, names as text, no network."""

import base64
import hashlib
import re
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest

from terrain.job.load import load_job
from terrain.job.pictures import pictures_of
from terrain.job.volumes import told, work_out
from terrain.ledger.entries import Caution
from terrain.report import figures
from terrain.report.page import report_html
from tests.job.made_pit import plane, worked
from tests.made_answer import made_volumes, quantity, with_ledger

VOID = {"meta", "link", "br", "img", "hr", "input"}


class Reader(HTMLParser):
    """Tables by id as lists of rows of cell texts, all tags, and the text of the whole page."""

    def __init__(self, text):
        super().__init__()
        self.tables, self.tags, self.attributes, self.text = {}, [], [], []
        self.scripts = []
        self.open, self.cell, self.table = [], None, None
        self.feed(text)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += attrs
        if tag == "script":
            self.scripts.append((dict(attrs), []))
        if tag not in VOID:
            self.open.append(tag)
        if tag == "table":
            self.table = self.tables[dict(attrs)["id"]] = []
        elif tag == "tr":
            self.table.append([])
        elif tag in ("td", "th"):
            self.cell = []

    def handle_startendtag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += attrs

    def handle_endtag(self, tag):
        assert self.open.pop() == tag
        if tag in ("td", "th"):
            self.table[-1].append(" ".join("".join(self.cell).split()))
            self.cell = None

    def handle_data(self, data):
        if self.open and self.open[-1] == "script":
            self.scripts[-1][1].append(data)
        elif self.open and self.open[-1] != "style":
            self.text.append(data)
        if self.cell is not None:
            self.cell.append(data)

    def said(self):
        return " ".join(" ".join(self.text).split())


def test_the_wall_table_shows_the_ledgers_figures():
    volumes = made_volumes()
    table = Reader(report_html(volumes)).tables["by-wall"]
    ledger = volumes.ledger
    v = figures.volume
    walls = [
        [r.wall, v(r.quantity.bank), v(r.bank_plus_minus_95), v(r.quantity.loose),
         v(r.quantity.compacted), figures.length(r.deepest, "ft")]
        for r in ledger.walls
    ]  # fmt: skip
    pits = [
        [f"{r.name} {r.kind}", v(r.quantity.bank), v(r.bank_plus_minus_95), v(r.quantity.loose),
         v(r.quantity.compacted), ""]
        for r in ledger.pits
    ]  # fmt: skip
    total = ledger.total
    last = ["Total", v(total.quantity.bank), v(total.bank_plus_minus_95), v(total.quantity.loose),
            v(total.quantity.compacted), figures.length(ledger.deepest_cut, "ft")]  # fmt: skip
    assert table[1:] == [*walls, *pits, last]


def test_the_part_table_shows_the_ledgers_figures():
    volumes = made_volumes()
    table = Reader(report_html(volumes)).tables["by-part"]
    assert table[1:] == [
        [r.wall, *(figures.volume(value) for value in
                   (r.parts.core, r.parts.overdig, r.parts.side, r.parts.footing, r.topsoil))]
        for r in volumes.ledger.walls
    ]  # fmt: skip


def test_the_answer_comes_first_and_names_the_wall_that_gives_most():
    said = Reader(report_html(made_volumes())).said()
    assert said.index("665.7") < said.index("By wall")
    answer = said[: said.index("By wall")]
    for words in ("± 8.4 yd³", "832.2 yd³ loose", "60 if all of it leaves, 14 yd³ each",
                  "Most comes from back 254.4",
                  "Deepest cut 9.7 ft", "3,322 ft²"):  # fmt: skip
        assert words in re.sub("\u00a0", " ", answer)


def test_without_accuracy_or_truck_or_topsoil_neither_is_claimed():
    volumes = made_volumes(doubt=None, truck=None)
    bare = with_ledger(volumes, total=replace(volumes.ledger.total, topsoil=0.0))
    page = Reader(report_html(bare))
    assert "±" not in page.said().replace("No plus-or-minus", "")
    assert "No plus-or-minus: the job does not say" in page.said()
    assert "no loads: the job gives no haul.truck" in page.said()
    assert "Topsoil" not in page.said()
    assert page.tables["by-wall"][0] == ["Wall", "Bank", "Loose", "Com\u00adpacted",
                                         "Deepest in its share"]  # fmt: skip


def test_inputs_notes_and_cautions_are_told():
    volumes = made_volumes()
    said = Reader(report_html(volumes)).said()
    file = volumes.inputs[0]
    for words in (file.sha256, "511,930.00 to 512,070.00", "95.83 to 104.17", "EPSG:2223",
                  "international foot", "spoilbank 0.1.0", *volumes.notes,
                  *(c.message for c in volumes.ledger.cautions)):  # fmt: skip
        assert words in said
    assert "a local grid" in Reader(report_html(replace(volumes, crs=None))).said()


def test_one_load_is_one_truck_load():
    volumes = made_volumes()
    one = with_ledger(volumes, total=replace(volumes.ledger.total, loads=1))
    said = Reader(report_html(one)).said()
    assert "Truck load 1 if all" in said
    assert "Truck loads" not in said


def test_what_the_job_says_and_the_dig_lines_corners_are_told():
    volumes = made_volumes()
    page = Reader(report_html(volumes))
    for title, words in volumes.assumed:
        assert f"{title} {words}" in page.said()
    assert page.tables["corners"][1:] == [
        ["front / right", "512,026.00", "1,203,980.00"],
        ["right / clip", "512,026.50", "1,204,016.25"],
    ]
    assert f"spoilbank stake {volumes.job_file}" in page.said()


def test_a_rule_is_said_once_with_a_row_for_each_wall_and_its_points_as_a_list():
    rule = "From 5 ft down, people are protected."
    found = (
        Caution(code="memo", message="All of it.", rule="Where these hold.", points=("a", "b & c")),
        *(Caution(code="deep", wall=w, message=f"Wall {w}: {d}. {rule}", of=w, own=d, rule=rule)
          for w, d in (("front", "5.40 ft"), ("right", "6.25 ft"), ("back", "5.40 ft"))),
    )  # fmt: skip
    html = report_html(with_ledger(made_volumes(), cautions=found))
    said = Reader(html).said()
    assert said.count(rule) == 1
    assert "front, back 5.40 ft right 6.25 ft" in said
    assert "<li>b &amp; c</li>" in html


def test_markup_in_any_name_is_text():
    evil = "<script>alert(1)</script>"
    volumes = made_volumes(walls=(evil, "right", "clip", "back", "left"), title=evil)
    file = replace(volumes.inputs[0], name=evil, kind=evil)
    words = {"crs": evil, "job_file": f'"{evil}', "version": evil, "date": evil}
    page = Reader(report_html(replace(volumes, inputs=(file,), notes=(evil,), **words)))
    assert "script" not in page.tags
    assert page.tables["by-wall"][1][0] == evil
    assert page.said().count(evil) >= 10


def test_the_page_asks_the_network_for_nothing():
    text = report_html(made_volumes())
    page = Reader(text)
    assert not {"script", "link", "img", "iframe", "object"} & set(page.tags)
    for name, value in page.attributes:
        if name in ("href", "src", "xlink:href"):
            assert value.startswith("#")
    assert "@import" not in text
    assert not re.search(r"url\((?!#)", text)


def test_ids_are_unique():
    ids = [value for name, value in Reader(report_html(made_volumes())).attributes if name == "id"]
    assert len(ids) == len(set(ids))


@pytest.mark.parametrize("name", ["a" * 400, "\x00\x1b[2J\u202e", "", "北の壁", "\udcff"])
def test_odd_names_make_a_page_that_utf8_can_hold(name):
    text = report_html(made_volumes(walls=(name, "right", "clip", "back", "left"), title=name))
    assert not any(c in text for c in "\x00\x1b\u202e")
    text.encode("utf-8")


def test_a_metric_job_reads_in_metres():
    said = Reader(report_html(
        with_ledger(made_volumes(), length_unit="m", volume_unit="m3")
    )).said()  # fmt: skip
    assert "9.65 m below ground" in said
    assert "665.7 m³ bank" in said
    assert "(metre)" in said
    assert "ft" not in re.findall(r"\w+", said)[:100]


def test_the_page_is_small():
    assert len(report_html(made_volumes())) < 100_000


def test_where_nothing_is_dug_no_wall_gives_most():
    volumes = made_volumes()
    rows = tuple(replace(r, quantity=quantity(0.04)) for r in volumes.ledger.walls)
    said = Reader(report_html(with_ledger(volumes, walls=rows))).said()
    assert "Most comes from" not in said
    assert "Most comes from" in Reader(report_html(volumes)).said()


@pytest.mark.parametrize(("walls", "is_long"), [(5, False), (60, True)])
def test_only_a_long_table_may_part_between_printed_pages(walls, is_long):
    text = report_html(made_volumes(walls=tuple(f"wall {k}" for k in range(walls))))
    assert ('<table id="by-wall" class="long">' in text) == is_long
    assert ('<table id="by-part" class="long">' in text) == is_long


EVIL = "</script><script>alert(1)</script><!--"


@pytest.fixture(scope="module")
def demo():
    job = Path(__file__).parents[2] / "terrain" / "cli" / "demo_job" / "job.toml"
    made = work_out(load_job(job))
    volumes = told(made)
    return volumes, report_html(volumes, pictures_of(made))


def test_a_page_with_pictures_asks_the_network_for_nothing(demo):
    page = Reader(demo[1])
    assert not {"link", "iframe", "object", "embed", "img"} & set(page.tags)
    for name, value in page.attributes:
        assert name != "src"
        if name in ("href", "xlink:href"):
            assert value.startswith(("#", "data:image/png;base64,"))
    own = (
        demo[1]
        .replace("http://www.w3.org/2000/svg", "")
        .replace(
            "http://www.w3.org/1999/xhtml",
            "",  # three.js names the space of elements it makes
        )
    )
    assert not re.search(r"https?://", own)


def test_the_policy_lets_only_the_pages_own_scripts_run_and_nothing_be_fetched(demo):
    page = Reader(demo[1])
    policy = next(v for n, v in page.attributes if n == "content" and "default-src" in v)
    assert "default-src 'none'" in policy
    allowed = set(re.findall(r"'sha256-([^']+)'", policy))
    run = ["".join(text) for attrs, text in page.scripts if "type" not in attrs]
    assert len(run) == 2
    marks = {base64.b64encode(hashlib.sha256(t.encode()).digest()).decode() for t in run}
    assert marks == allowed
    assert "unsafe-inline" not in policy.partition("script-src")[2]
    assert "\r" not in "".join(run)  # a parser would change it, and the mark with it


def test_markup_in_names_makes_no_script_with_pictures_either(tmp_path):
    made = worked(tmp_path, ground=plane(fall=(0.02, 0.05)), names=(EVIL, "b", "c", "d"))
    text = report_html(told(made), pictures_of(made))
    page = Reader(text)
    assert len(page.scripts) == 3
    assert page.tables["by-wall"][1][0] == EVIL
    assert "alert(1)" not in "".join(t for _, part in page.scripts[1:] for t in part)
    assert EVIL in page.said()


def test_every_wall_has_its_section_and_its_colour(demo):
    volumes, text = demo
    said = Reader(text).said()
    for number, row in enumerate(volumes.ledger.walls, start=1):
        assert f"{number} · {row.wall} at its middle, looking" in said
        assert f"{row.wall} {figures.volume(row.quantity.bank)} yd³" in said
    assert "one scale (1:1)" in said


def test_walls_of_like_long_names_are_told_apart_by_number_in_every_picture(tmp_path):
    names = tuple(f"the long wall {c} by the neighbour's stone fence" for c in "abcd")
    made = worked(tmp_path, ground=plane(fall=(0.02, 0.05)), names=names)
    text = report_html(told(made), pictures_of(made))
    drawings = re.findall(r"<svg[^>]*class=\"(?:plan|space)[^>]*>.*?</svg>", text, re.S)
    assert len(drawings) == 4
    for drawing in drawings:
        said = re.findall(r"<text[^>]*font-weight=\"600\"[^>]*>([^<]*)</text>", drawing)
        assert sorted({s[:3] for s in said}) == ["1: ", "2: ", "3: ", "4: "]
    for number, name in enumerate(names, start=1):
        assert f"{number}: {name}" in Reader(text).said()


def test_soil_and_its_source_are_told_as_assumed(demo):
    volumes, text = demo
    said = Reader(text).said()
    for words in (volumes.soil.material, f"{volumes.soil.swell:g} (loose",
                  f"{volumes.soil.shrink:g} (compacted", volumes.soil.source):  # fmt: skip
        assert words in said


def test_ids_are_unique_with_pictures_too(demo):
    ids = [value for name, value in Reader(demo[1]).attributes if name == "id"]
    assert len(ids) == len(set(ids))
    named = set(re.findall(r"url\(#([^)]+)\)", demo[1]))
    assert named <= set(ids)


def test_the_demos_page_is_under_three_megabytes(demo):
    assert len(demo[1].encode()) < 3_000_000


def test_a_dense_clouds_page_is_little_larger_and_says_what_is_thinned(tmp_path):
    random = np.random.default_rng(11)
    plan = random.uniform(-60, 100, (150_000, 2))
    rough = random.normal(0, 0.02, len(plan))
    ground = np.column_stack([plan, 100.0 + 0.03 * plan[:, 1] + rough])
    made = worked(tmp_path, ground=np.vstack([plane(fall=(0.0, 0.03))[:1], ground]))
    pictures = pictures_of(made)
    text = report_html(told(made), pictures)
    assert len(text.encode()) < 3_000_000
    shown = f"{pictures.scene.shown:,} triangles for want of room; every figure is from all"
    assert shown in Reader(text).said()
