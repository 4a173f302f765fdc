"""Swell and shrink: where they come from, what the job may override, what can't be."""

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from terrain.base.errors import JobError
from terrain.ledger.entries import BankVolume
from terrain.ledger.soil import (
    SOILS,
    bank_from_compacted,
    bank_from_loose,
    find_soil,
    quantity,
    soil_cautions,
    soil_factors,
    swell_span,
)

NAMES = ("sand", "common earth", "clay", "blasted rock")


def test_every_row_of_the_table_names_its_source_and_how_it_was_read():
    marks = {soil.name: soil.source.mark for soil in SOILS}
    assert marks == {"sand": "S2", "common earth": "M", "clay": "M", "blasted rock": "M"}
    assert soil_factors("clay").source == "typical figure", "what nobody saw is not cited"
    assert "Table 10-1" in soil_factors("sand").source
    assert "as quoted" in soil_factors("sand").source


@given(
    st.floats(0, 1e6), st.fractions(0, 2, max_denominator=100),
    st.fractions(0, Fraction(9, 10), max_denominator=100),
)  # fmt: skip
def test_going_to_loose_or_compacted_and_back_gives_the_bank_volume(bank, swell, shrink):
    factors = soil_factors("any", swell=float(swell), shrink=float(shrink))
    told = quantity(BankVolume(bank), factors)
    exact = (Fraction(bank) * (1 + swell), Fraction(bank) * (1 - shrink))
    assert (told.loose, told.compacted) == pytest.approx(tuple(map(float, exact)), rel=1e-14)
    assert bank_from_loose(told.loose, factors) == pytest.approx(bank, rel=1e-14)
    assert bank_from_compacted(told.compacted, factors) == pytest.approx(bank, rel=1e-14)


def test_one_figure_of_the_job_overrides_its_own_column_only():
    factors = soil_factors("clay", swell=0.30)
    assert (factors.swell, factors.shrink) == (0.30, 0.10)
    assert factors.source.startswith("swell given by the job; shrink: typical")
    factors = soil_factors("clay", shrink=0.05)
    assert (factors.swell, factors.shrink) == (0.43, 0.05)
    assert factors.source.startswith("shrink given by the job; swell: typical")


def test_the_span_of_a_swell_holds_its_own_figure_and_what_is_printed_or_measured():
    clay = swell_span(soil_factors("clay"))  # 0.43 of its own beside 0.20 to 0.35 printed (S2)
    assert (clay.least, clay.most) == (0.20, 0.43)
    low = swell_span(soil_factors("loam", swell=0.10))
    assert (low.least, low.most) == (0.10, 0.25)
    measured = replace(soil_factors("clay"), swell=0.30, swell_plus_minus_95=0.04)
    assert swell_span(measured).least == pytest.approx(0.26)
    assert swell_span(measured).most == pytest.approx(0.34)
    assert swell_span(soil_factors("gumbo", swell=0.3, shrink=0.1)) is None


def test_names_are_found_however_they_are_written():
    for written in ("Common Earth", " common  earth", "LOAM", "loam"):
        assert find_soil(written) is find_soil("common earth")
    assert find_soil("rock") is find_soil("blasted rock")
    assert find_soil("gumbo") is None


def test_an_unknown_soil_names_the_nearest_and_what_is_missing():
    with pytest.raises(JobError) as caught:
        soil_factors("comon erth", swell=0.2)
    (fault,) = caught.value.faults
    assert fault.key == "soil.material"
    assert 'nearest name is "common earth"' in fault.message
    assert fault.message.endswith("or give shrink as well")
    with pytest.raises(JobError, match="or give swell and shrink as well"):
        soil_factors("gumbo")


@pytest.mark.parametrize(
    ("swell", "shrink", "key", "says"),
    [
        (-0.1, None, "soil.swell", "from 0"),
        (25.0, None, "soil.swell", "for 25 % write 0.25"),
        (float("nan"), None, "soil.swell", "nan"),
        (float("inf"), None, "soil.swell", "from 0"),
        (None, 1.0, "soil.shrink", "less than 1"),
        (None, 10.0, "soil.shrink", "for 10 % write 0.1"),
        (None, float("nan"), "soil.shrink", "nan"),
        (None, -0.5, "soil.shrink", "more than the 1.25 it fills loose"),
    ],
)
def test_a_figure_that_cannot_be_names_its_key(swell, shrink, key, says):
    with pytest.raises(JobError) as caught:
        soil_factors("common earth", swell=swell, shrink=shrink)
    assert [f.key for f in caught.value.faults] == [key]
    assert says in caught.value.faults[0].message


def test_rock_with_too_little_swell_points_at_the_figure_the_job_gave():
    with pytest.raises(JobError) as caught:
        soil_factors("rock", swell=0.2)
    assert caught.value.faults[0].key == "soil.swell"
    assert "at least 0.3" in caught.value.faults[0].message


def test_all_faults_come_at_once():
    with pytest.raises(JobError) as caught:
        soil_factors("gumbo", swell=None, shrink=2.0)
    assert {f.key for f in caught.value.faults} == {"soil.material", "soil.shrink"}


@pytest.mark.parametrize("material", NAMES)
def test_the_tables_own_figures_raise_no_caution(material):
    assert soil_cautions(soil_factors(material)) == ()


@pytest.mark.parametrize(
    ("material", "swell", "shrink", "codes"),
    [
        ("sand", 0.18, 0.15, []),  # the ends of Fig. 9.1 for sand and gravel
        ("sand", 0.19, None, ["soil-swell-unusual"]),
        ("loam", 0.15, 0.0, []),
        ("loam", 0.14, 0.11, ["soil-swell-unusual", "soil-shrink-unusual"]),
        ("clay", 0.20, 0.10, []),
        ("clay", 0.43, None, []),  # outside Fig. 9.1, but it is the table's own figure
        ("clay", 0.44, None, ["soil-swell-unusual"]),
        ("rock", 0.70, -0.30, []),
        ("rock", 0.71, 0.10, ["soil-swell-unusual", "soil-shrink-unusual"]),
        ("gumbo", 0.70, -0.30, []),
        ("gumbo", 0.05, 0.95, ["soil-swell-unusual", "soil-shrink-unusual"]),
    ],
)
def test_a_figure_outside_the_published_range_is_a_caution(material, swell, shrink, codes):
    found = soil_cautions(soil_factors(material, swell=swell, shrink=shrink))
    assert [c.code for c in found] == codes


def test_the_shrink_factor_taken_for_the_shrink_is_told_apart():
    (caution,) = soil_cautions(soil_factors("sand", shrink=0.95))
    assert "not the factor 0.95" in caution.message
