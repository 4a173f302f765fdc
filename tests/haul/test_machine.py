"""The machine's figures: those given stand, the rest are typical of its weight."""

import numpy as np
import pytest

from terrain.base.units import FOOT, METRE
from terrain.haul.machine import machine_of
from terrain.haul.rates import hoe_hours, rates_of, swing_time


def test_weight_alone_is_enough_and_what_is_taken_is_named():
    machine, typical = machine_of({}, 14.0, METRE)
    assert machine.reach == pytest.approx(8.3)
    assert "reach" in typical
    assert "step" in typical
    assert machine.step == machine.track_length / 2


def test_what_is_given_stands():
    machine, typical = machine_of({"reach": 27.0, "step": 6.0, "track_width": None}, 14.0, FOOT)
    assert machine.reach == 27.0
    assert machine.step == 6.0
    assert "reach" not in typical
    assert "track_width" in typical


def test_a_heavier_machine_reaches_further_whatever_the_unit():
    light, heavy = (machine_of({}, weight, FOOT)[0] for weight in (5.0, 25.0))
    assert light.reach < heavy.reach
    assert light.bucket_capacity < heavy.bucket_capacity
    metric = machine_of({}, 5.0, METRE)[0]
    assert light.reach * 0.3048 == pytest.approx(metric.reach)
    assert light.bucket_capacity * 0.3048**3 == pytest.approx(metric.bucket_capacity)


def test_it_reaches_less_far_the_deeper_and_nothing_below_its_depth():
    machine, _ = machine_of({"reach": 27.0, "digging_depth": 18.0}, 14.0, FOOT)
    reach = machine.reach_at(np.array([0.0, 6.0, 12.0, 18.0, 18.1]))
    assert reach[0] == 27.0
    assert (np.diff(reach) < 0).all()
    assert reach[3] == pytest.approx(0.45 * 27.0)
    assert reach[4] < 0


def test_a_longer_swing_takes_longer():
    assert (np.diff(swing_time(np.linspace(45, 180, 20))) > 0).all()
    assert swing_time(np.array(90.0)) == 1.0


def test_hours_are_a_range_round_a_bucket_count():
    """60 loose yd3 in buckets of 1 yd3 and 18 s: at 0.90 full and 50 minutes an hour 0.4 h, at
    0.80 full and 70 % 0.5357 h."""
    rates = rates_of(27.0, 18.0, (0.25, 0.10), FOOT)
    mean = 60 * 27.0 * float(rates.swing(np.array(90.0)))
    assert mean * rates.low == pytest.approx(0.4)
    assert mean * rates.high == pytest.approx(60 * 18 / 3600 / 0.8 / 0.7)


def test_the_dozer_pushes_what_the_estimating_book_says():
    """100 compacted yd3 an hour: loose that is 100 x 1.25 / 0.90, over the push it is taken for."""
    rates = rates_of(27.0, 18.0, (0.25, 0.10), FOOT)
    loose = 100.0 * 1.25 / 0.90 * 27.0
    assert loose * 50.0 * rates.push == pytest.approx(1.0)
    assert loose * rates.push_usual == pytest.approx(1.0)


def test_a_metric_job_takes_the_same_hours():
    feet, metres = (
        rates_of(v, 18.0, (0.25, 0.1), u) for v, u in ((27.0, FOOT), (0.764554857984, METRE))
    )
    assert feet.to_truck * 27.0 == pytest.approx(metres.to_truck * 0.764554857984)
    assert feet.push * 27.0 * 50.0 == pytest.approx(metres.push * 0.764554857984 * 15.24)


def test_a_hoe_takes_the_books_hours():
    """55 bcy an hour and 2 h to mobilise."""
    assert hoe_hours(407.0 * 27.0, FOOT) == pytest.approx(407 / 55 + 2)
