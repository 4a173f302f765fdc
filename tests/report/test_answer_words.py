"""What stands beside the answer on the page and on the terminal: the same words on both."""

import io
import re
from dataclasses import replace

import pytest
from rich.console import Console

from terrain.job.answer import DeepestSpot, LooseRange
from terrain.ledger.doubt import Doubt
from terrain.report.answer_words import MOST_WARNINGS
from terrain.report.page import report_html
from terrain.report.table import show_volumes
from tests.made_answer import made_volumes, with_ledger


def page(volumes):
    text = re.sub(r"<(style|script).*?</\1>", "", report_html(volumes), flags=re.S)
    text = re.sub(r"<[^>]+>", "", text).replace("&#39;", "'").replace("&nbsp;", " ")
    return " ".join(text.split())


def terminal(volumes):
    out = io.StringIO()
    show_volumes(volumes, Console(file=out, width=80))
    return " ".join(out.getvalue().split())


BOTH = pytest.mark.parametrize("shown", [page, terminal], ids=["page", "terminal"])


def with_doubt(volumes, doubt):
    total = replace(volumes.ledger.total, doubt=doubt, bank_plus_minus_95=doubt.together)
    return with_ledger(volumes, total=total)


@BOTH
def test_too_few_shots_are_said_to_tell_nothing_of_the_ground_between_them(shown):
    few = shown(with_doubt(made_volumes(), Doubt(random=6.5)))
    assert "from the shots' errors alone; too few shots to tell what the ground does" in few
    assert "and the ground between its shots" not in few
    many = shown(with_doubt(made_volumes(), Doubt(random=6.5, terrain=0.0)))
    assert "from the survey's errors and the ground between its shots" in many
    assert "errors alone" not in many


@BOTH
def test_beside_the_loads_it_says_that_not_all_leaves_and_what_tells_how_many_do(shown):
    graded = shown(replace(made_volumes(), has_finished_lot=True))
    assert "backfill and grade keep some back. spoilbank grade job.toml tells how many" in graded
    bare = shown(made_volumes())
    assert "what the backfill takes is not known" in bare
    assert "spoilbank grade" not in bare
    assert "Not all of it leaves" not in shown(made_volumes(truck=None))


@BOTH
def test_the_deepest_cut_is_named_by_its_corner_or_by_how_far_off_one_it_is(shown):
    spot = DeepestSpot(easting=514.0, northing=353.0, corner=("back", "left"), away=0.0)
    deep = with_ledger(made_volumes(), deepest_in="back")
    at = shown(replace(deep, deepest_at=spot))
    assert "at the corner back / left (easting 514.00, northing 353.00)" in at
    off = shown(replace(deep, deepest_at=replace(spot, away=5.25)))
    assert "at back, 5.2 ft from the corner back / left (easting 514.00" in off
    assert "at the corner" not in shown(deep)


def test_the_plan_marks_the_deepest_cut_and_says_so_in_its_key():
    volumes = made_volumes()
    frame = volumes.plan.frame
    spot = DeepestSpot(
        easting=frame.easting - 26.0, northing=frame.northing + 20.0, corner=("back",), away=0.0
    )
    assert "deepest cut, 9.7 ft" in report_html(replace(volumes, deepest_at=spot))
    assert "deepest cut, 9.7 ft" not in report_html(volumes)


@BOTH
def test_loose_and_loads_are_told_with_the_soils_range_besides(shown):
    found = LooseRange(
        low=700.0, high=900.5, loads=(50, 65), swell=(0.15, 0.25), swell_of="as printed for loam"
    )
    said = shown(replace(made_volumes(), loose_range=found))
    assert "Loose and loads carry it and the soil's range besides" in said
    assert "700.0 to 900.5 yd³ loose, 50 to 65 loads" in said
    assert "swell 15 to 25 % as printed for loam" in said
    unknown = shown(replace(made_volumes(), loose_range=replace(found, swell=None)))
    assert "How far this soil's swell may be off is not known" in unknown
    assert "soil's range" not in shown(made_volumes())


@BOTH
def test_a_note_that_throws_doubt_on_the_answer_stands_before_the_tables_or_beside_it(shown):
    notes = tuple(f"Shot {k} stands 45.00 ft above the ground." for k in range(5))
    said = shown(replace(made_volumes(), notes=notes, warnings=notes))
    for note in notes[:MOST_WARNINGS]:
        assert said.count(note) == 1
    assert "2 more such notes" in said
    assert "Look at this first" not in page(made_volumes())


def test_on_the_page_the_warning_comes_before_the_first_table():
    note = "Shot 7 stands 45.00 ft above the ground."
    said = page(replace(made_volumes(), notes=(note,), warnings=(note,)))
    assert said.index(note) < said.index("By wall")


@BOTH
def test_a_footing_that_is_nowhere_dug_has_no_column(shown):
    volumes = made_volumes()
    assert "footing" in shown(volumes).lower()
    bare = tuple(
        replace(row, parts=replace(row.parts, footing=0.0)) for row in volumes.ledger.walls
    )
    assert "footing" not in shown(with_ledger(volumes, walls=bare)).lower()


def test_on_paper_the_cautions_come_right_after_the_answer_and_on_screen_a_link_leads_to_them():
    html = report_html(made_volumes())
    assert '<main class="early">' in html
    order = dict(re.findall(r"\.early > \.(answer|cautions) \{ order: (-\d)", html))
    assert int(order["answer"]) < int(order["cautions"]) < 0
    header = html[html.index("<header>") : html.index("</header>")]
    assert 'href="#cautions"' in header
    none = report_html(with_ledger(made_volumes(), cautions=()))
    assert 'href="#cautions"' not in none
