"""What is told as still to dig: pits, ramps, trenches and walls, only where it is beyond doubt."""

from dataclasses import replace

import pytest

from terrain.asdug.walls import Figure as Amount
from terrain.job.load import load_job
from terrain.job.progress_record import Figure, ProgressRow, ProgressSurvey, Rate
from terrain.job.verify import verified
from terrain.job.verify_undug import undug
from terrain.ledger.doubt import Doubt
from terrain.ledger.entries import BankVolume
from tests.job.made_hole import MadeHole, hole_job


def figure(volume, doubt):
    known = None if doubt is None else abs(volume) > doubt
    return Figure(
        volume=BankVolume(volume), plus_minus_95=doubt, is_significant=known, doubt=Doubt()
    )


def row(name, kind, left, doubt):
    return ProgressRow(
        name=name, kind=kind, design=figure(5.0, None), dug=figure(5.0 - left, doubt),
        since_last=None, left=figure(left, doubt), beyond=figure(0.0, doubt),
    )  # fmt: skip


def day(*rows):
    rate = Rate(days=None, per_day=None, hours=None, per_hour=None, days_left=None, hours_left=None)
    return ProgressSurvey(
        date="2027-05-04", last=None, rows=rows, total=row("all", "total", 9.0, 1.0),
        elsewhere=figure(0.0, 1.0), share_dug=0.5, thin_cut=None, rate=rate,
    )  # fmt: skip


@pytest.fixture(scope="module")
def found(tmp_path_factory):
    job = load_job(hole_job(tmp_path_factory.mktemp("hole"), MadeHole()))
    return verified(job, lambda stage: None)


def test_extras_are_named_only_where_they_are_left_beyond_doubt(found):
    rows = [
        row("areaway", "pit", 1.4, 1.0), row("way in", "ramp", 4.2, None),
        row("piers", "trench", 0.9, 1.0), row("well", "pit", 0.04, None),
        row("front", "wall", 3.0, 0.5),
    ]  # fmt: skip
    (one,) = undug(found, day(*rows), "yd³")
    assert one.message == (
        "Dig what is not dug yet beside the main hole: areaway 1.4 ± 1.0 of 5.0, way in 4.2 of "
        "5.0 yd³ bank."
    )
    assert one.volume == pytest.approx(5.6)
    assert undug(found, day(rows[2], rows[3]), "yd³") == undug(found, None, "yd³") == ()


@pytest.mark.parametrize(
    ("left", "under", "verdict", "told"),
    [
        ((0.7, 0.6), (0.9, 0.8), "ready", True),
        ((0.7, 0.8), (0.9, 0.8), "ready", False),
        ((0.7, 0.6), (0.9, 1.0), "ready", False),
        ((0.7, 0.6), (0.9, 0.8), "trim", False),
        ((0.7, None), (0.9, None), "ready", True),
        ((0.05, None), (0.9, None), "ready", False),
    ],
)
def test_a_slope_is_told_only_where_both_checks_find_earth_on_it_beyond_doubt(
    found, left, under, verdict, told
):
    wall = found.walls[0]
    amounts = replace(wall.amounts, underdug=Amount(value=under[0], plus_minus_95=under[1]))
    hole = replace(found, walls=(replace(wall, amounts=amounts, verdict=verdict),))
    own = replace(row(wall.wall, "wall", 3.0, 0.1), parts=(row("side", "part", *left),))
    todo = undug(hole, day(own), "yd³")
    assert [one.volume for one in todo] == ([pytest.approx(left[0])] if told else [])
    assert all(wall.wall in one.message for one in todo)
