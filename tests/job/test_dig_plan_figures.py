"""What a job says of its machine and its spoil is what its dig plan is made with."""

import math
from dataclasses import replace

import pytest

from terrain.job.dig_plan import plan, plan_out
from terrain.job.dig_plan_words import why_of
from terrain.job.load import load_job
from terrain.job.volumes import work_out
from tests.job.made_job import changed, small, write_job

MACHINE = {
    "reach": 27.0, "digging_depth": 18.0, "track_length": 12.0, "track_width": 8.5,
    "tail_swing": 7.5, "bucket_width": 4.0, "bucket_capacity": 1.25, "cycle_seconds": 20.0,
    "step": 5.0,
}  # fmt: skip


@pytest.fixture(scope="module")
def told(tmp_path_factory):
    """A plan of a job that gives every figure, and a setback short of the usual."""
    spoil = {"setback": 1.5, "repose": 33.0, "height": 5.0}
    job = small() | {"machine": MACHINE, "spoil": spoil}
    return plan(load_job(write_job(tmp_path_factory.mktemp("figures"), job)))


def test_every_figure_given_stands_and_none_is_called_typical(told):
    assert {name: getattr(told.machine, name) for name in MACHINE} == MACHINE
    assert told.machine.typical == ()
    assert told.spoil.typical == ()
    assert (told.spoil.setback, told.spoil.repose, told.spoil.height) == (1.5, 33.0, 5.0)
    assert not any("Typical of" in text for text in told.assumed)
    assert max(place.height for place in told.places) <= 5.0 + 1e-9


def test_buckets_are_of_the_capacity_in_the_jobs_volume_unit(told):
    for one in told.passes:
        cast = sum(float(c.loose) for c in one.to)
        fewest = sum(math.floor(float(c.loose) / 1.25) for c in one.to)
        most = sum(math.ceil(float(c.loose) / 1.25) for c in one.to)
        assert fewest <= sum(c.buckets for c in one.to) <= most
        assert cast == pytest.approx(float(one.loose))


def test_a_setback_short_of_the_rule_is_kept_and_warned_of(told):
    said = [c.message for c in told.cautions if c.code == "plan-setback-short"]
    assert len(said) == 1
    assert "1.5 ft" in said[0]
    for place in told.places:
        if place.kind == "side" and not place.ground.is_empty:
            assert place.ground.distance(told.site.daylight) == pytest.approx(1.5, abs=0.01)


def test_the_operator_has_the_last_word_and_the_first(told):
    assert told.cautions[0].code == "plan-operator-decides"


JOG = [[100.0, 200.0], [148.0, 200.0], [148.0, 228.0], [136.0, 228.0], [136.0, 236.0],
       [100.0, 236.0]]  # fmt: skip


def test_why_an_order_is_best_is_true_of_the_others(tmp_path):
    job = changed(small(), ("foundation", "corners"), JOG)
    job = changed(job, ("foundation", "walls"), ["s", "e", "jog n", "jog e", "n", "w"])
    planned = plan_out(work_out(load_job(write_job(tmp_path, job))))
    counts = [len(one.order.corners) for one in planned.orders]
    assert counts[0] == 1
    assert "fewest rim corners, 1 against up to 2" in why_of(planned, planned.best)
    worse = next(one for one in planned.orders if len(one.order.corners) == 2)
    others = [one for one in planned.orders if one is not worse]
    told = why_of(replace(planned, orders=(worse, *others)), worse)
    assert told.startswith("2 rim corners, as orders with fewer leave much more undug")
    assert "+1 rim corner: " in why_of(planned, worse)


def test_the_floor_the_operator_digs_to_is_the_jobs_and_every_mark_is_told_by_its_drop(tmp_path):
    job = load_job(write_job(tmp_path, changed(small(), ("existing", "marks"), {"BM1": 100.0})))
    marks, terms = job.existing.marks, plan(job).card_terms
    assert terms.floor == job.dig.floor
    assert len(terms.drops) == len(marks) == 1
    assert terms.drops == pytest.approx([height - job.dig.floor for height in marks.values()])
