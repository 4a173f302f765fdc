"""Whole truck loads: rounded up, but never for the noise of a sum."""

import math
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from terrain.base.errors import JobError
from terrain.ledger.entries import LooseVolume
from terrain.ledger.loads import truck_loads


@given(st.integers(0, 100_000), st.sampled_from([0.1, 3.3, 7.0, 10.7, 12.6, 14.0, 18.3]))
def test_so_many_full_trucks_are_so_many_loads_though_their_sum_is_noisy(count, truck):
    total = math.fsum([truck] * count) if count < 1000 else count * truck
    for noise in (1.0 - 1e-12, 1.0, 1.0 + 1e-12):
        assert truck_loads(LooseVolume(total * noise), LooseVolume(truck)) == count


def test_a_sum_that_floats_just_over_a_full_load_is_not_one_more():
    total = 0.0
    for _ in range(10):
        total += 0.7
    total += 0.7 + 1e-13
    assert Fraction(total) > 11 * Fraction(0.7)
    assert truck_loads(LooseVolume(total), LooseVolume(0.7)) == 11


@given(st.fractions(0, 10_000, max_denominator=1000), st.sampled_from([7, 14, 20]))
def test_a_part_of_a_load_is_a_load(loose, truck):
    assert truck_loads(LooseVolume(float(loose)), LooseVolume(float(truck))) == -(-loose // truck)


def test_what_is_over_by_more_than_the_noise_is_one_more():
    assert truck_loads(LooseVolume(140.0 + 1e-6), LooseVolume(14.0)) == 11


def test_nothing_needs_no_truck():
    assert truck_loads(LooseVolume(0.0), LooseVolume(14.0)) == 0


@pytest.mark.parametrize("truck", [0.0, -14.0, float("nan"), float("inf")])
def test_a_truck_without_a_capacity_is_refused_at_its_key(truck):
    with pytest.raises(JobError) as caught:
        truck_loads(LooseVolume(10.0), LooseVolume(truck))
    assert caught.value.faults[0].key == "haul.truck"
