"""Progress of a job's dig from holes of its days: rates, since last, walls that sum, soil."""

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from terrain.asdug.hole import Hole, hole_of
from terrain.asdug.ring import Sides
from terrain.asdug.told_apart import Kind
from terrain.job.load import load_job
from terrain.job.progress import Days, hole_between, left_by_wall, progress_surveys
from terrain.job.progress_days import day_dug, days_of
from terrain.job.volumes import work_out
from terrain.job.worked import Worked
from terrain.ledger.errors_said import SurveyErrors
from tests.job.made_job import toml
from tests.job.test_grade import HOUSE, job, shots

AREA = 40.0 * 30.0


def worked_job(folder: Path, **changes: Any) -> Worked:
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "shots.csv").write_text(shots())
    (folder / "job.toml").write_text(toml(job() | changes))
    return work_out(load_job(folder / "job.toml"))


def hole(worked: Worked, floor: float) -> Hole:
    """The house's own box dug plumb to a level floor, shot at its toe and on it."""
    frame = worked.layout.frame
    ring = frame.to_local(np.array(HOUSE))
    east, north = np.meshgrid(np.linspace(5, 35, 4), np.linspace(5, 25, 3))
    inner = frame.to_local(np.column_stack([east.ravel(), north.ravel()]))
    plan = np.concatenate([ring, inner])
    points = np.column_stack([plan, np.full(len(plan), floor)])
    kind = np.array([Kind.TOE] * 4 + [Kind.FLOOR] * len(inner), dtype=np.int32)
    sides = Sides(start=ring, end=np.roll(ring, -1, axis=0), wall=np.arange(4, dtype=np.int32))
    return hole_of(points, kind, sides, worked.existing.ground, 3.0)


def days(worked: Worked, *told: tuple[str, float, float | None]) -> Days:
    """Days of date, floor and hours."""
    errors = SurveyErrors(accuracy=0.05)
    found = [day_dug(date, hours, hole(worked, z), errors) for date, z, hours in told]
    assert all(day is not None for day in found)
    return days_of(worked, tuple(day for day in found if day is not None))


TOLD = (("2027-05-03", 99.5, 8.0), ("2027-05-05", 98.5, None))


def test_two_days_tell_what_was_dug_since_what_is_left_and_the_rate(tmp_path: Path) -> None:
    worked = worked_job(tmp_path)
    first, second = progress_surveys(worked, days(worked, *TOLD))
    assert (first.last, second.last) == (None, "2027-05-03")
    assert first.total.since_last is None
    assert second.total.since_last is not None
    assert first.total.dug.volume == pytest.approx(AREA * 0.5 / 27, rel=1e-9)
    assert second.total.since_last.volume == pytest.approx(AREA / 27, rel=1e-9)
    assert second.total.left.volume == pytest.approx(AREA * 0.5 / 27, rel=1e-9)
    assert second.share_dug == pytest.approx(0.75, rel=1e-9)
    assert second.rate.days == 2
    assert second.rate.per_day == pytest.approx(AREA / 27 / 2, rel=1e-9)
    assert second.rate.days_left == pytest.approx(1.0, rel=1e-9)
    assert (second.rate.per_hour, second.rate.hours_left) == (None, None)
    assert first.rate.per_day is None
    assert first.rate.per_hour == pytest.approx(AREA * 0.5 / 27 / 8, rel=1e-9)
    assert first.rate.hours_left == pytest.approx(24.0, rel=1e-9)


def test_rows_and_parts_sum_to_the_total_and_each_is_design_less_left_with_beyond(
    tmp_path: Path,
) -> None:
    worked = worked_job(tmp_path, dig={"floor": 98.0, "overdig": 0.0, "side": 1.0})
    (day,) = progress_surveys(worked, days(worked, ("2027-05-05", 97.8, None)))
    for name in ("design", "dug", "left", "beyond"):
        figures = [getattr(row, name).volume for row in day.rows]
        assert sum(figures) == pytest.approx(getattr(day.total, name).volume, rel=1e-9)
        for row in day.rows:
            parts = sum(getattr(part, name).volume for part in row.parts)
            assert parts == pytest.approx(getattr(row, name).volume, abs=1e-9)
    for row in (*day.rows, day.total):
        assert row.dug.volume == pytest.approx(
            row.design.volume - row.left.volume + row.beyond.volume, abs=1e-9
        )
    assert day.total.beyond.volume == pytest.approx(0.2 * AREA / 27, rel=1e-9)
    side = 2 * (40 + 30) * 2.0**2 / 2 + 4 * 2.0**3 / 3
    assert day.total.left.volume == pytest.approx(side / 27, rel=1e-9)
    assert left_by_wall([day], "2027-05-05")["front"] == pytest.approx(
        (40 * 2.0 + 2.0**3 / 3) / 27, rel=1e-9
    )


def test_a_change_smaller_than_its_doubt_is_not_significant_and_promises_no_end(
    tmp_path: Path,
) -> None:
    worked = worked_job(tmp_path)
    told = (("2027-05-03", 99.0, None), ("2027-05-04", 98.99, None))
    _, second = progress_surveys(worked, days(worked, *told))
    since = second.total.since_last
    assert since is not None
    assert since.volume == pytest.approx(0.01 * AREA / 27, rel=1e-6)
    assert since.is_significant is False
    assert second.rate.days_left is None
    assert second.total.dug.is_significant is True
    assert second.thin_cut == pytest.approx(0.4 * 0.05 * AREA / 27, rel=1e-9)


def test_the_doubt_of_since_last_is_of_the_two_days_shots_alone(tmp_path: Path) -> None:
    """Level floors, the shots one for one: each day errs by its own weights, the ground drops out.

    The hats of a floor sum to its area; both days have the same, so it is one day's times root 2.
    """
    existing = {"existing": {"shots": ["shots.csv"], "accuracy": 5.0}}
    worked = worked_job(tmp_path, **existing)
    first, second = progress_surveys(worked, days(worked, *TOLD))
    since = second.total.since_last
    assert since is not None
    assert first.total.dug.doubt.random is not None
    assert since.doubt.random is not None
    assert since.doubt.random < 1.96 * 0.05 * AREA * 2**0.5 / 27
    assert first.total.dug.doubt.random > since.doubt.random


def test_the_hole_between_two_days_is_what_was_dug_between_and_its_topsoil_on_top(
    tmp_path: Path,
) -> None:
    dig = {"floor": 98.0, "overdig": 0.0, "side": 0.0, "topsoil_strip": 0.75}
    worked = worked_job(tmp_path, dig=dig)
    seen = days(worked, *TOLD)
    whole = hole_between(worked, seen, None, "2027-05-05")
    assert whole.bank.amount == pytest.approx(1.5 * AREA, rel=1e-9)
    assert whole.topsoil.amount == pytest.approx(0.75 * AREA, rel=1e-9)
    later = hole_between(worked, seen, "2027-05-03", "2027-05-05")
    assert later.bank.amount == pytest.approx(1.0 * AREA, rel=1e-9)
    assert later.topsoil.amount == pytest.approx(0.25 * AREA, rel=1e-9)
