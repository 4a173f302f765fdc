"""The page of the finished lot: the answer's own figures, to scale, names as text, no network."""

import re
import shutil
import xml.etree.ElementTree as ET
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from shapely import Point, Polygon

from terrain.base.frame import LocalFrame
from terrain.job.drainage import FailedFall
from terrain.job.grade import graded_told
from terrain.job.graded import grade_out
from terrain.job.load import load_job
from terrain.job.lot_layers import lot_layers_of
from terrain.job.lot_pictures import lot_pictures_of
from terrain.job.volumes import work_out
from terrain.ledger.entries import BankVolume
from terrain.ledger.soil import quantity
from terrain.report import figures, inks, lot_inks
from terrain.report.lot_balance import balance_svg
from terrain.report.lot_curve import curve_svg
from terrain.report.lot_falls import falls_reasons, falls_verdict
from terrain.report.lot_page import lot_html
from terrain.report.lot_plan import lot_plan_svg
from terrain.report.lot_sections import shown_lot_sections
from terrain.report.lot_words import pond_words
from terrain.report.names import shortened
from terrain.report.svg import text_width
from tests.report.test_page import Reader

DEMO = Path(__file__).parents[2] / "terrain" / "cli" / "demo_job"
SVG = "{http://www.w3.org/2000/svg}"
HOSTILE = {
    "Lot 12, Sorrel Bank (invented)": "</title><script>alert(1)</script>",
    '"porch front"': "\"<img src=x onerror='a'>\"",
    '"terrace"': '"</svg><b>pad"',
    '"east swale"': '"<i>swale & co"',
    '"old oak"': '"]]><u>oak"',
}


@pytest.fixture(scope="module")
def graded(tmp_path_factory):
    """The demo's lot under names that would break a careless page."""
    folder = tmp_path_factory.mktemp("lot")
    shutil.copy(DEMO / "shots.csv", folder)
    text = (DEMO / "job.toml").read_text(encoding="utf-8")
    for plain, hostile in HOSTILE.items():
        assert plain in text
        text = text.replace(plain, hostile)
    (folder / "job.toml").write_text(text, encoding="utf-8")
    return grade_out(work_out(load_job(folder / "job.toml")), lambda _: None)


@pytest.fixture(scope="module")
def answer(graded):
    return graded_told(graded)


@pytest.fixture(scope="module")
def pictures(graded, answer):
    return lot_pictures_of(graded, lot_layers_of(graded, answer, "2026-01-31"))


@pytest.fixture(scope="module")
def page(answer, pictures):
    return Reader(lot_html(answer, pictures))


def test_the_table_of_sides_shows_what_each_gives_and_needs(answer, page):
    volume = figures.volume
    assert page.tables["by-side"][1:] == [
        [row.wall, volume(row.gives), volume(row.needs), figures.signed(row.surplus)]
        for row in answer.walls
    ]


def test_the_table_of_uses_shows_the_measures_of_the_rows(answer, page):
    volume = figures.volume
    assert page.tables["by-use"][1:] == [
        [row.wall, volume(row.cut), volume(row.backfill.compacted),
         volume(row.grade_fill.compacted), volume(row.slab_fill.compacted), volume(row.stone)]
        for row in answer.walls
    ]  # fmt: skip


def test_a_surplus_is_what_a_side_gives_less_what_it_needs(answer):
    lot = answer.lot
    for row in answer.walls:
        assert row.surplus == pytest.approx(row.gives - row.needs, abs=1e-9)
    moved = lot.haul_bank - lot.unsuitable - lot.import_bank
    assert moved == pytest.approx(sum(row.surplus for row in answer.walls), abs=1e-9)


def by_id(html, name):
    (found,) = re.findall(rf'id="{name}">([^<]*)<', html)
    return found.strip()


def test_the_answer_comes_first_in_bank_loose_and_loads(answer, pictures):
    html, lot = lot_html(answer, pictures), answer.lot
    assert by_id(html, "off-bank") == figures.volume(lot.haul_bank)
    assert by_id(html, "off-loose") == figures.volume(lot.hauled.loose)
    assert by_id(html, "off-loads") == figures.count(lot.haul_loads)
    assert by_id(html, "balance-grade") == figures.coordinate(answer.balance.wall_grade, "ft")
    assert by_id(html, "balance-floor") == figures.coordinate(answer.balance.floor, "ft")
    assert by_id(html, "step-loads") == figures.volume(answer.balance.loads_a_step)
    assert html.index("off-bank") < html.index("<table")
    assert 'id="in-bank"' not in html


def test_a_lot_that_lacks_earth_is_told_what_to_bring_in(answer, pictures):
    comes = quantity(BankVolume(123.4), pictures.made.soil)
    none = quantity(BankVolume(0.0), pictures.made.soil)
    lot = replace(answer.lot, import_bank=comes.bank, imported=comes, import_loads=12,
                  haul_bank=none.bank, hauled=none, haul_loads=0)  # fmt: skip
    html = lot_html(replace(answer, lot=lot), pictures)
    assert by_id(html, "in-bank") == "123.4"
    assert by_id(html, "in-loads") == "12"
    assert 'id="off-bank"' not in html


def test_without_a_truck_or_a_balance_the_page_says_why(answer, pictures):
    lot = replace(answer.lot, haul_loads=None, loads=None)
    balance = replace(answer.balance, wall_grade=None, wall_grade_reason="too <far> off",
                      loads_a_step=None, money_a_step=None, curve=())  # fmt: skip
    html = lot_html(replace(answer, lot=lot, balance=balance), pictures)
    assert "the job names no truck" in html
    assert "no elevation: too &lt;far&gt; off" in html
    assert "Left over against wall grade" not in html


def test_topsoil_left_over_stands_by_the_loads_and_has_loads_of_its_own(answer, pictures):
    lot, html = answer.lot, lot_html(answer, pictures)
    top = html[: html.index('id="by-side"')]
    assert f"{figures.volume(lot.topsoil_left.bank)}&nbsp;yd³ bank of topsoil left over" in top
    assert f"{lot.topsoil_loads} loads</b> if it leaves" in top
    lacks = replace(lot, topsoil_left=lot.topsoil_lacking, topsoil_lacking=lot.topsoil_left)
    html = lot_html(replace(answer, lot=lacks), pictures)
    assert "bank of topsoil lacking" in html
    none = replace(lot, topsoil_strip=0.0, topsoil_respread=0.0)
    assert 'id="topsoil"' not in lot_html(replace(answer, lot=none), pictures)


def test_money_has_the_currency_of_the_job_s_billing_or_none_made_up(answer, pictures):
    money = f"{answer.balance.money_a_step:,.0f}"
    assert answer.currency == "USD"
    assert f"loads, {money} USD<" in lot_html(answer, pictures)
    assert f"loads, {money} in the job’s money<" in lot_html(
        replace(answer, currency=None), pictures
    )


def falls_of(answer, **changed):
    return replace(answer, drainage=replace(answer.drainage, **changed))


def failed(wall):
    return FailedFall(
        wall=wall, station=1.0, spot=(516.0, 330.0), to=(506.0, 330.0), distance=10.0,
        end="distance", fall=0.1, needed=0.5, why="fall",
    )  # fmt: skip


def test_the_verdict_says_of_all_walls_of_those_that_fail_and_of_those_not_seen(answer):
    assert falls_verdict(answer) == (
        "The ground falls away from all 13 walls as far as is asked; none fails."
    )
    some = falls_of(answer, failures=(failed("east"), failed("east"), failed("street")))
    assert falls_verdict(some) == (
        "The ground falls away from 11 of 13 walls as far as is asked; not from east, street."
    )
    walls = tuple(
        replace(fall, is_seen_whole=fall.wall not in ("kitchen", "east"))
        for fall in answer.drainage.walls
    )
    assert "11 of 13 walls as far as is asked; none fails; it can’t be told all along east" not in (
        falls_verdict(falls_of(answer, walls=walls))
    )
    assert "11 of 13 walls as far as is asked; none fails; it can’t be told all along kitchen" in (
        falls_verdict(falls_of(answer, walls=walls))
    )
    both = falls_of(answer, walls=walls, failures=(failed("east"),))
    assert "11 of 13" in falls_verdict(both)
    assert "not from east; it can’t be told all along kitchen:" in falls_verdict(both)
    assert falls_verdict(falls_of(answer, walls=())) is None


def test_the_fall_by_wall_is_in_a_table_and_its_verdict_at_the_top(answer, pictures, page):
    html = lot_html(answer, pictures)
    assert html.index(falls_verdict(answer)) < html.index("<table")
    rows = page.tables["by-wall"][1:]
    assert [row[0] for row in rows] == [fall.wall for fall in answer.drainage.walls]
    for row, fall in zip(rows, answer.drainage.walls, strict=True):
        assert row[1:] == [
            f"{100 * fall.asked:.1f}", f"{100 * fall.least:.1f}", f"{100 * fall.mean:.1f}",
            f"{100 * fall.settled:.1f}", f"{fall.distance:.1f}", f"{fall.checked:.1f}",
        ]  # fmt: skip
    assert HOSTILE['"terrace"'].strip('"') in " ".join(falls_reasons(answer))


def test_ponds_that_the_grading_makes_are_counted_at_the_top(answer):
    drained = answer.drainage
    today = tuple(replace(pond, before=1.0) for pond in drained.ponds)
    new = tuple(replace(pond, before=0.0) for pond in drained.ponds)
    assert "in 3 places, 2 of them new" in pond_words(answer)
    assert "makes no new one" in pond_words(falls_of(answer, ponds=today))
    assert "where none stands today" in pond_words(falls_of(answer, ponds=new))
    assert pond_words(falls_of(answer, ponds=())) is None


def test_printed_cautions_come_right_after_the_answer(answer, pictures):
    html = lot_html(answer, pictures)
    assert '<main class="early">' in html
    assert ".early > .cautions { order: -1; break-before: auto" in html
    assert html.index('href="#cautions"') < html.index('class="answer"')


def test_markup_in_names_is_text(page):
    assert "script" not in page.tags
    assert "img" not in page.tags
    said = page.said()
    assert "</title><script>alert(1)</script>" in said
    assert "<img src=x onerror='a'>" in said
    assert not any(name.startswith("on") for name, _ in page.attributes)


def test_nothing_is_fetched(answer, pictures, page):
    html = lot_html(answer, pictures)
    policies = [value for name, value in page.attributes if name == "content"]
    assert any("default-src 'none'" in policy for policy in policies)
    assert set(re.findall(r"https?://[^\"'\s<]+", html)) <= {"http://www.w3.org/2000/svg"}
    assert all(value.startswith("#") for name, value in page.attributes if name == "href")
    assert not any(name == "src" for name, _ in page.attributes)
    assert all(url.startswith("#") for url in re.findall(r"url\(([^)]*)\)", html))


def test_ids_are_one_each(page):
    ids = [value for name, value in page.attributes if name == "id"]
    assert len(ids) == len(set(ids))


def test_every_reference_to_a_pattern_or_a_window_finds_it(answer, pictures, page):
    ids = {value for name, value in page.attributes if name == "id"}
    assert set(re.findall(r"url\(#([^)]*)\)", lot_html(answer, pictures))) <= ids


def test_water_is_told_in_its_own_place_and_once(answer, pictures):
    html = lot_html(answer, pictures)
    water = html[html.index('id="water"') : html.index('id="cautions"')]
    rest = html[html.index('id="cautions"') :]
    ponds = [caution for caution in answer.cautions if caution.code == "pond"]
    assert ponds
    for caution in ponds:
        assert caution.message in water
        assert caution.message not in rest
    strength = [c for c in answer.cautions if c.code == "backfill-strength"]
    assert strength
    assert strength[0].message in rest


def arcs(root, fill):
    """Radius of the half discs with a fill, by their height on the page."""
    found = [p.get("d") for p in root.iter(f"{SVG}path") if p.get("fill") == f"url(#b-{fill})"]
    return [float(re.search(r"A([\d.]+) ", d).group(1)) for d in found]


@pytest.mark.parametrize("width", [344.0, 720.0])
def test_half_discs_are_as_large_as_their_volumes(answer, pictures, width):
    root = ET.fromstring(balance_svg(answer, pictures.plan, width, "b"))
    given = [row.gives for row in answer.walls]
    needed = [row.needs for row in answer.walls]
    scale = max(arcs(root, "cut") + arcs(root, "fill")) / np.sqrt(max(given + needed))
    for kind, volumes in (("cut", given), ("fill", needed)):
        drawn = arcs(root, kind)
        drawn.remove(8.0)  # the key's
        wanted = scale * np.sqrt(np.array(volumes))
        assert sorted(drawn) == pytest.approx(sorted(wanted), abs=0.11)


@pytest.mark.parametrize("width", [344.0, 720.0])
def test_the_balance_leaves_no_side_out_and_no_two_texts_touch(answer, pictures, width):
    root = ET.fromstring(balance_svg(answer, pictures.plan, width, "b"))
    told = ["".join(t.itertext()) for t in root.iter(f"{SVG}text")]
    for row in answer.walls:
        assert any(figures.signed(row.surplus) in words for words in told)
        assert f"{figures.volume(row.gives)} | {figures.volume(row.needs)}" in told
    places = [(float(t.get("x")), float(t.get("y"))) for t in root.iter(f"{SVG}text")
              if t.get("text-anchor") == "middle"]  # fmt: skip
    for side in {x > 0 for x, _ in places}:
        downs = sorted(y for x, y in places if (x > 0) == side)
        assert min(np.diff(downs)) > 9.0


@pytest.mark.parametrize("width", [344.0, 720.0])
def test_the_plan_is_to_the_scale_of_its_bar(answer, pictures, width):
    root = ET.fromstring(lot_plan_svg(answer, pictures, width, "p"))
    bar = next(r for r in root.iter(f"{SVG}rect") if r.get("height") == "5")
    whole = next(
        "".join(t.itertext()) for t in root.iter(f"{SVG}text")
        if re.fullmatch(r"\d+ ft", "".join(t.itertext()))
    )  # fmt: skip
    scale = 2 * float(bar.get("width")) / float(whole.removesuffix(" ft"))
    dashes = lot_inks.LOT_LINE["stroke_dasharray"]
    line = next(p for p in root.iter(f"{SVG}path") if p.get("stroke-dasharray") == dashes
                and p.get("d") != "M0 5H24")  # fmt: skip
    pixels = np.array(re.findall(r"-?[\d.]+", line.get("d")), dtype=float).reshape(-1, 2)
    size = np.ptp(pictures.plan.design.boundary, axis=0)
    assert np.ptp(pixels, axis=0) == pytest.approx(size * scale, abs=0.3)


def test_the_plan_tells_faces_ponds_and_the_greatest_changes(answer, pictures):
    root = ET.fromstring(lot_plan_svg(answer, pictures, 720.0, "p"))
    told = ["".join(t.itertext()) for t in root.iter(f"{SVG}text")]
    for face in answer.untied:
        assert f"face {figures.coordinate(abs(face.height), 'ft')} ft" in told
    for pond in answer.drainage.ponds:
        kind = "new pond" if pond.before < 0.1 else "pond"
        assert f"{kind} {figures.length(pond.depth, 'ft')} ft" in told
    most = max(pictures.plan.changes, key=lambda change: abs(change.upward))
    assert figures.signed_length(most.upward, "ft") in told


@pytest.mark.parametrize("width", [344.0, 720.0])
def test_every_wall_is_named_on_the_plan_or_has_a_letter_told_under_it(answer, pictures, width):
    root = ET.fromstring(lot_plan_svg(answer, pictures, width, "p"))
    told = ["".join(t.itertext()) for t in root.iter(f"{SVG}text")]
    letters = dict(
        each.split(" = ", 1)[::-1] for line in told for each in line.split(", ") if " = " in each
    )
    for wall in pictures.plan.design.walls:
        if wall in letters:
            assert letters[wall] in told
            continue
        assert any(shortened(wall, longest) in told for longest in (20, 11))
    assert not any("left off" in line for line in told)


@pytest.mark.parametrize("width", [344.0, 720.0])
def test_no_wall_s_name_stands_in_the_house(answer, pictures, width):
    root = ET.fromstring(lot_plan_svg(answer, pictures, width, "p"))
    weight, fill = str(inks.FOUNDATION["stroke_width"]), inks.FOUNDATION["stroke"]
    (line,) = [p for p in root.iter(f"{SVG}path") if p.get("stroke-width") == weight
               and p.get("stroke") == fill and p.get("d").endswith("Z")][:1]  # fmt: skip
    house = Polygon(np.array(re.findall(r"-?[\d.]+", line.get("d")), dtype=float).reshape(-1, 2))
    found = 0
    for word in root.iter(f"{SVG}text"):
        if "".join(word.itertext()) in pictures.plan.design.walls:
            found += 1
            at = re.match(r"translate\(([-\d.]+) ([-\d.]+)\)", word.get("transform"))
            assert not house.contains(Point(float(at[1]), float(at[2])))
    assert found > 4


@pytest.mark.parametrize("width", [344.0, 560.0])
@pytest.mark.parametrize("share", [0.0, 0.02, 0.5, 0.98, 1.0, 1.1])
def test_words_of_the_curve_stay_on_its_sheet_where_letters_are_wider(answer, width, share):
    ends = answer.balance.curve[0].elevation, answer.balance.curve[-1].elevation
    at = ends[0] + share * (ends[1] - ends[0])
    balance = replace(answer.balance, wall_grade=at)
    root = ET.fromstring(curve_svg(replace(answer, balance=balance), width))
    told = [t for t in root.iter(f"{SVG}text") if t.get("font-weight") == "700"]
    assert len(told) == 2
    for word in told:
        wide = 1.14 * text_width("".join(word.itertext()), 11.0)
        left = (
            float(word.get("x"))
            - wide * {"start": 0.0, "middle": 0.5, "end": 1.0}[word.get("text-anchor")]
        )
        assert left >= 0.0
        assert left + wide <= width


def test_cut_and_fill_differ_in_lightness_and_pattern():
    def grey(colour):
        """Relative luminance by the formula of WCAG 2 (from memory)."""
        channels = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
        linear = [c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
        return float(np.dot(linear, [0.2126, 0.7152, 0.0722]))

    assert grey(lot_inks.FILL) > 1.5 * grey(lot_inks.CUT)
    made = ET.fromstring(f"<defs>{lot_inks.patterns('x')}</defs>")
    marks = {p.get("id"): p.findall("path")[-1].get("d") for p in made}
    assert marks["x-cut"] != marks["x-fill"]


def test_the_curve_has_the_balance_on_nought(answer):
    root = ET.fromstring(curve_svg(answer, 560.0))
    (spot,) = root.iter(f"{SVG}circle")
    axis = next(p for p in root.iter(f"{SVG}path") if p.get("stroke-width") == "1.2"
                and p.get("stroke-dasharray") is None)  # fmt: skip
    assert float(spot.get("cy")) == pytest.approx(
        float(re.match(r"M[\d.]+ ([\d.]+)H", axis.get("d")).group(1)), abs=0.1
    )
    told = ["".join(t.itertext()) for t in root.iter(f"{SVG}text")]
    assert f"balances at {figures.coordinate(answer.balance.wall_grade, 'ft')}" in told
    assert f"this job {figures.coordinate(answer.balance.asked_grade, 'ft')}" in told


def test_the_curve_needs_two_elevations(answer):
    one = replace(answer.balance, curve=answer.balance.curve[:1])
    assert curve_svg(replace(answer, balance=one), 560.0) is None


def test_sections_are_one_a_wall_and_tell_the_new_grade(pictures):
    shown = shown_lot_sections(pictures.sections, "ft")
    assert [cut.number for cut in shown] == [own.section.number for own in pictures.sections]
    for cut, own in zip(shown, pictures.sections, strict=True):
        words = ["".join(t.itertext()) for t in ET.fromstring(str(cut.drawing)).iter(f"{SVG}text")]
        assert f"new grade {figures.coordinate(own.grade, 'ft')}" in words


def test_a_site_far_from_nought_is_drawn_alike(answer, pictures):
    """The plan is drawn from the local frame; only spots on the site go by it."""
    moved = replace(pictures.plan, frame=LocalFrame(easting=0.0, northing=0.0))
    spot = answer.drainage.ponds[0].spot
    apart = moved.place(spot) - pictures.plan.place(spot)
    assert apart == pytest.approx(pictures.plan.frame.origin)
