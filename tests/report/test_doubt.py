"""What the page and the terminal say of a plus-or-minus is what the answer has."""

import re

import pytest

from terrain.job.load import load_job
from terrain.job.volumes import volumes
from terrain.report import figures
from terrain.report.doubt import PARTS, doubt_lines, lot_doubt_words, part_words
from terrain.report.page import report_html
from tests.made_answer import made_volumes


@pytest.fixture(scope="module")
def answer():
    return volumes(load_job("terrain/cli/demo_job/job.toml"))


def cells(page, table):
    body = page[page.index(f'id="{table}"') :]
    body = body[: body.index("</table>")]
    rows = re.findall(r"<tr>(.*?)</tr>", body, flags=re.S)
    return [re.findall(r"<t[dh][^>]*>(.*?)</t[dh]>", row, flags=re.S) for row in rows]


def test_the_page_shows_each_known_part_and_all_together(answer):
    rows = cells(report_html(answer), "doubt-parts")
    doubt = answer.ledger.total.doubt
    known = [part for part, _, _ in PARTS if getattr(doubt, part) is not None]
    assert [row[1] for row in rows[1:-1]] == [
        figures.plus_minus(getattr(doubt, part)) for part in known
    ]
    assert rows[-1] == ["Together", figures.plus_minus(doubt.together)]
    assert len(known) == 3


def test_the_page_names_the_shots_and_where_one_more_helps(answer):
    page = report_html(answer)
    rows = cells(page, "doubt-shots")[1:]
    assert len(rows) == 5
    for row, shot in zip(rows, answer.doubt.shots, strict=True):
        assert shot.name in row[0]
        assert row[1] == figures.coordinate(shot.easting, "ft")
        assert row[4] == f"{shot.share:.0%}"
    best = answer.doubt.next_shot
    assert f"easting {figures.coordinate(best.easting, 'ft')}, northing" in page
    assert answer.doubt.do_not_add in page


def test_a_page_without_a_doubt_has_nothing_of_it():
    assert 'id="doubt"' not in report_html(made_volumes(doubt=None, truck=None))


def test_the_terminal_says_it_in_three_lines(answer):
    lines = list(doubt_lines(answer.ledger.total.doubt, answer.doubt, "ft"))
    assert len(lines) == 3
    assert (
        f"height of the whole survey {figures.plus_minus(answer.ledger.total.doubt.datum)}"
        in lines[0]
    )
    assert "do not add up" in lines[0]
    for shot in answer.doubt.shots[:3]:
        assert f"{shot.name or shot.place} ({shot.share:.0%})" in lines[1]
    assert figures.plus_minus(answer.doubt.next_shot.plus_minus_95) in lines[2]


def test_parts_that_are_not_known_are_not_told(answer):
    names = [part["name"] for part in part_words(answer.ledger.total.doubt)]
    assert names == [
        "Elevations of the shots",
        "Height of the whole survey",
        "Ground between shots",
    ]
    assert lot_doubt_words(None) is None
