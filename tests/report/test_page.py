"""The page: one file, the answer's own figures, names as text, no network."""

import re
from dataclasses import replace
from html.parser import HTMLParser

import pytest

from terrain.report import figures
from terrain.report.page import report_html
from tests.made_answer import made_volumes, with_ledger

VOID = {"meta", "link", "br", "img", "hr", "input"}


class Reader(HTMLParser):
    """Tables by id as lists of rows of cell texts, all tags, and the text of the whole page."""

    def __init__(self, text):
        super().__init__()
        self.tables, self.tags, self.attributes, self.text = {}, [], [], []
        self.open, self.cell, self.table = [], None, None
        self.feed(text)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += attrs
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
        if self.open and self.open[-1] != "style":
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
    for words in ("± 8.4 yd³", "832.2 yd³ loose", "60 rounded up", "Most comes from back 254.4",
                  "Deepest cut 9.7 ft", "3,322 ft²"):  # fmt: skip
        assert words in re.sub("\u00a0", " ", answer)


def test_without_accuracy_or_truck_or_topsoil_neither_is_claimed():
    volumes = made_volumes(doubt=None, truck=None)
    bare = with_ledger(volumes, total=replace(volumes.ledger.total, topsoil=0.0))
    page = Reader(report_html(bare))
    assert "±" not in page.said().replace("No plus-or-minus", "")
    assert "No plus-or-minus: the job does not say" in page.said()
    assert "the job names no truck" in page.said()
    assert "Topsoil" not in page.said()
    assert page.tables["by-wall"][0] == ["Wall", "Bank", "Loose", "Com\u00adpacted", "Deepest"]


def test_inputs_notes_and_cautions_are_told():
    volumes = made_volumes()
    said = Reader(report_html(volumes)).said()
    file = volumes.inputs[0]
    for words in (file.sha256, "511,930.00 to 512,070.00", "95.83 to 104.17", "EPSG:2223",
                  "international foot", "spoilbank 0.1.0", *volumes.notes,
                  *(c.message for c in volumes.ledger.cautions)):  # fmt: skip
        assert words in said
    assert "a local grid" in Reader(report_html(replace(volumes, crs=None))).said()


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
