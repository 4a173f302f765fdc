"""The plus-or-minus of what is billed as dug: that of the dig's progress, which noise holds."""

from pathlib import Path

import pytest

from terrain.job.load import load_job
from terrain.job.progress import progress_surveys
from terrain.job.progress_days import days_dug
from terrain.job.quantities import Quantities
from terrain.job.volumes import work_out
from tests.billing.made_bill import bill_job

JUNE = "2027-06-10"


def test_what_is_billed_as_dug_is_as_doubtful_as_the_progress_of_that_day(tmp_path: Path) -> None:
    """Upright faces in it: errors in plan move them, which heights of shots do not tell."""
    items = [
        {"item": "pit", "of": "pit", "basis": "as dug", "price": "9.50"},
        {"item": "right", "of": "right", "basis": "as dug", "price": "9.50"},
        {"item": "neat", "of": "pit", "price": "9.50"},
    ]
    path = bill_job(tmp_path, items=items)
    path.write_text(path.read_text().replace(
        'shots = ["june.csv"],', 'shots = ["june.csv"], accuracy = 0.05,'
    ))  # fmt: skip
    worked = work_out(load_job(path))
    assert worked.job.billing is not None
    pit, right, neat = worked.job.billing.items
    billed = Quantities(worked=worked, day=JUNE)
    day = progress_surveys(worked, days_dug(worked))[-1]
    rows = {row.name: row.dug for row in day.rows}
    assert day.total.dug.doubt.horizontal > 0.5
    assert billed.of(pit).plus_minus_95 == pytest.approx(day.total.dug.plus_minus_95, rel=1e-12)
    assert billed.of(right).plus_minus_95 == pytest.approx(rows["right"].plus_minus_95, rel=1e-12)
    assert billed.of(neat).plus_minus_95 is None, "a hole dug to design pays the design"
