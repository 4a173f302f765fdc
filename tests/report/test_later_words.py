"""Progress, the graded lot and piles as they read: every figure is one of the record, rounded."""

import re
from collections.abc import Callable
from dataclasses import replace
from io import StringIO
from pathlib import Path
from xml.etree import ElementTree

import pytest
from jinja2 import Environment, PackageLoader, StrictUndefined
from rich.console import Console

from terrain.job.progress_record import Figure, ProgressRow, ProgressSurvey, Rate
from terrain.ledger.doubt import Doubt
from terrain.ledger.entries import BankVolume, LooseVolume
from terrain.report.asgraded_plan import GradedSheet, asgraded_svg
from terrain.report.asgraded_words import asgraded_words, fall_fault, spot_of
from terrain.report.piles_words import piles_words, soil_words, stock_said
from terrain.report.progress_table import show_asgraded, show_piles, show_progress
from terrain.report.progress_words import progress_words, rate_words, with_doubt
from tests.job.made_graded import HOUSE, design_shots, graded
from tests.job.made_piles import heap, worked_with
from tests.job.test_piles import told


def figure(volume: float, doubt: float | None = 2.0) -> Figure:
    return Figure(
        volume=BankVolume(volume),
        plus_minus_95=doubt,
        is_significant=None if doubt is None else abs(volume) > doubt,
        doubt=Doubt(random=doubt),
    )


def row(name: str, kind: str = "wall") -> ProgressRow:
    part = ProgressRow(
        name="side", kind="part", design=figure(4.0), dug=figure(3.0), since_last=figure(1.0),
        left=figure(1.0), beyond=figure(0.0),
    )  # fmt: skip
    return replace(
        part, name=name, kind=kind, design=figure(40.0), dug=figure(30.0), since_last=figure(1.5),
        left=figure(10.0), parts=(part,),
    )  # fmt: skip


DAY = ProgressSurvey(
    date="2027-05-04", last="2027-05-03", rows=(row("a <b>wall</b>"), row("back")),
    total=row("all", "total"), elsewhere=figure(0.5), share_dug=0.75, thin_cut=3.0,
    rate=Rate(days=1, per_day=1.5, hours=8.0, per_hour=0.1875, days_left=None, hours_left=None),
)  # fmt: skip


def test_a_figure_smaller_than_its_doubt_is_marked_and_one_without_doubt_is_not() -> None:
    assert with_doubt(figure(12.0, 15.1)) == "12.0 ± 15.1 *"
    assert with_doubt(figure(12.0, 1.0)) == "12.0 ± 1.0"
    assert with_doubt(figure(-12.0, None)) == "−12.0"
    assert with_doubt(None) == "–"


def test_the_rate_says_only_what_is_known() -> None:
    rate = DAY.rate
    assert rate_words(rate, "yd3") == "1.5 yd³ a day over 1 day and 0.2 yd³ an hour."
    ahead = replace(rate, days_left=6.66, hours_left=53.3)
    assert rate_words(ahead, "yd3").endswith("takes 6.7 days like these or 53.3 hours of digging.")
    none = Rate(days=None, per_day=None, hours=None, per_hour=None, days_left=None, hours_left=None)
    assert rate_words(none, "yd3").startswith("No rate")


def page(name: str, **context: object) -> str:
    environment = Environment(
        loader=PackageLoader("terrain.report"), autoescape=True, undefined=StrictUndefined
    )
    units = {"length": "ft", "volume": "yd³", "area": "ft²"}
    return environment.get_template(name).render(units=units, **context)


def test_the_page_of_progress_has_every_row_and_no_live_names() -> None:
    html = page("progress.html", progress=[progress_words(DAY, "yd3")])
    assert "75 % of the design is out" in html
    assert "a &lt;b&gt;wall&lt;/b&gt;" in html
    assert html.count("30.0 ±\u00a02.0") == 3
    assert '<td class="unsure" data-of="since 2027-05-03">1.5 ±\u00a02.0\u00a0*</td>' in html
    assert '<td class="main" data-of="left">10.0 ±\u00a02.0</td>' in html
    assert "Dug where the design says nothing" not in html  # it is smaller than its doubt
    assert "about 3.0 yd³" in html


def text_of(show: Callable[..., None], *arguments: object) -> str:
    console = Console(width=80, record=True, file=StringIO())
    show(*arguments, console)
    return console.export_text()


def test_progress_is_told_in_eighty_columns() -> None:
    text = text_of(show_progress, (DAY,), "yd3")
    assert "75 % of the design is out" in text
    assert max(map(len, text.splitlines())) <= 80
    assert text_of(show_progress, (), "yd3") == ""


def low_at_the_back(folder: Path):
    low = {tuple(HOUSE[2]), tuple(HOUSE[3])}
    ring = [(-60.0, -60.0), (-40.0, -60.0), (-40.0, -40.0), (-60.0, -40.0)]
    rows = [(e, n, 100.4 if (e, n) in low else z, line) for e, n, z, line in design_shots()]
    rows += [*((e, n, 100.0, "") for e, n in ring), (-50.0, -50.0, 99.0, "")]
    return graded(folder, rows)


def test_the_graded_lot_reads_on_page_map_and_terminal(tmp_path: Path) -> None:
    seen = low_at_the_back(tmp_path)
    words = asgraded_words(seen, "A lot & <more>", "ft")
    html = page("asgraded.html", asgraded=[words])
    *_, row = (line for line in html.splitlines() if ">back</span></th>" in line)
    assert re.findall(r"<td[^>]*>([^<]*)</td>", row)[0] == "fails"
    assert re.findall(r"<td[^>]*>([^<]*)</td>", row)[3:] == ["rises 0.10 in 10.0", "falls 0.50"]
    assert "back</b>: at its corner right / back" in html
    assert (
        "the ground rises 0.10 ft in 10.0 ft; asked: falls 0.50 ft. Cut 0.60 ft at 10.0 ft" in html
    )
    (pond,) = seen.drainage.ponds
    assert f"Water stands at {spot_of(pond.spot)}: up to" in html
    assert "as_graded_2027-07-01.tif" in html
    assert "−1.00 ft at E −50.0 N −50.0, graded.csv:" in html
    for drawn in words["maps"]:
        ElementTree.fromstring(str(drawn))
    text = text_of(show_asgraded, (seen,), ("ft", "yd3"))
    assert "fails" in text
    assert max(map(len, text.splitlines())) <= 80


def test_a_fall_that_fails_says_where_what_is_found_and_asked_and_what_to_do(
    tmp_path: Path,
) -> None:
    """The fault is a ridge, paving, a swale or a fall that is short: each asks for other work."""
    back = next(fall for fall in low_at_the_back(tmp_path).falls if fall.wall == "back")
    assert (back.along, back.first_corner) == (0.0, ("right", "back"))
    assert back.lacking == pytest.approx(0.6)
    short = replace(back, along=7.25, fall=0.3, needed=0.5, lacking=0.2, plus_minus_95=0.05)
    assert fall_fault(short, "ft").startswith("7.2 ft along it from corner right / back, E ")
    assert fall_fault(short, "ft").endswith(
        "the ground falls 0.30 ± 0.05 ft in 10.0 ft; asked: falls 0.50 ft. Cut 0.20 ft at 10.0 ft "
        "out, or fill as much at the wall."
    )
    ridge = replace(short, why="rises", fall=-0.2, needed=0.0, high_out=4.0)
    assert fall_fault(ridge, "ft").endswith(
        "rises 0.20 ± 0.05 ft, 4.0 ft out; asked: no rise. Cut 0.20 ft off it there."
    )
    assert "once settled" in fall_fault(replace(short, why="settlement"), "ft")
    assert "paving's outer edge lies 0.20 ft" in fall_fault(
        replace(short, why="hard surface"), "ft"
    )
    assert fall_fault(replace(short, why=None), "ft").startswith("a swale")


def test_the_map_names_every_wall_and_shades_what_is_off(tmp_path: Path) -> None:
    seen = low_at_the_back(tmp_path)
    for width in (720.0, 344.0):
        svg = asgraded_svg(
            GradedSheet(survey=seen, title="lot", length_unit="ft", width=width, name="m")
        )
        assert all(f">{wall}<" in svg for wall in ("front", "right", "back", "left"))
        assert ">−1.00<" in svg
        assert "2027-07-01" in svg
        assert 'fill="url(#m-fill)"' in svg


def test_piles_and_swell_read_on_page_and_terminal(tmp_path: Path) -> None:
    seen = told(worked_with(tmp_path, heap((10.0, 50.0), (20.0, 30.0), 9.0, "north heap"), {}))
    html = page("piles.html", piles=[piles_words(seen, "ft", "yd3")])
    assert "north heap" in html
    assert "66.7" in html
    text = text_of(show_piles, (seen,), ("ft", "yd3"))
    assert "66.7" in text
    assert max(map(len, text.splitlines())) <= 80


def test_what_is_lacking_in_all_is_told_in_loads_and_what_is_over_too(tmp_path: Path) -> None:
    seen = told(worked_with(tmp_path, heap((10.0, 50.0), (20.0, 30.0), 9.0, "north heap"), {}))
    short = replace(seen.in_all, spare=LooseVolume(-135.3), truck=14.0, loads=10)
    words = stock_said(replace(short, hauled=LooseVolume(231.0)), "yd3")
    assert words == (
        "135.3 yd³ loose short of what backfill and grade fill need, about 10 loads of 14 yd³ to "
        "bring in; 231.0 yd³ were hauled away."
    )
    over = stock_said(replace(short, spare=LooseVolume(29.0), loads=2), "yd3")
    assert over is not None
    assert "about 2 loads of 14 yd³ that may leave" in over
    assert stock_said(replace(short, spare=None), "yd3") is None
    html = page("piles.html", piles=[piles_words(replace(seen, in_all=short), "ft", "yd3")])
    assert "In all 135.3 yd³ loose short" in html
    assert ">−135.3<" in html
    text = text_of(show_piles, (replace(seen, in_all=short),), ("ft", "yd3"))
    assert "10 loads of 14 yd³" in " ".join(text.split())


@pytest.mark.parametrize(
    ("reason", "used", "words"),
    [
        (None, True, "are made with it"),
        (None, False, "soil.measured = true"),
        ("its doubt is wide", False, "not used: its doubt is wide"),
    ],
)
def test_the_swell_says_whether_it_is_used_and_why_not(
    reason: str | None, used: bool, words: str
) -> None:
    from terrain.asdug.soil import swell_range
    from terrain.job.piles_record import SoilMeasured

    soil = SoilMeasured(
        since=None, until="2027-05-04", bank=BankVolume(100.0), bank_plus_minus_95=3.0,
        loose=LooseVolume(127.0), loose_plus_minus_95=4.0, hauled=LooseVolume(20.0), swell=0.27,
        plus_minus_95=0.05, doubt=Doubt(), table_swell=0.25, published=swell_range("clay"),
        reason=reason, is_used=used,
    )  # fmt: skip
    told_words = soil_words(soil, "yd3")
    assert told_words["swell"] == "0.270 ± 0.050"
    assert words in str(told_words["use"])
    assert "127.0 ± 4.0 yd³ loose, 20.0 of it hauled away over 100.0 ± 3.0" in str(
        told_words["made_of"]
    )
