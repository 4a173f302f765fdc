"""Bank, loose and compacted: SOURCES section 1, the trade's conversion table and its inverse."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from terrain.base.errors import JobError
from terrain.ledger.entries import BankVolume, CompactedVolume, LooseVolume
from terrain.ledger.soil import (
    SOILS,
    bank_from_compacted,
    bank_from_loose,
    find_soil,
    quantity,
    soil_cautions,
    soil_factors,
)

# NAVEDTRA 14070 Table 10-1, row by row as printed: from bank (loose, compacted), from loose
# (bank, compacted), from compacted (bank, loose). The sand row S2, as quoted; the rest and the
# inverse rows M, from memory. Printed to two decimals.
TABLE_10_1 = {
    "sand": ((1.11, 0.95), (0.90, 0.86), (1.05, 1.17)),
    "common earth": ((1.25, 0.90), (0.80, 0.72), (1.11, 1.39)),
    "clay": ((1.43, 0.90), (0.70, 0.63), (1.11, 1.59)),
    "blasted rock": ((1.50, 1.30), (0.67, 0.87), (0.77, 1.15)),
}
HALF_A_PLACE = 0.005 + 1e-12


@pytest.mark.parametrize("material", TABLE_10_1)
def test_all_nine_factors_of_the_published_table_follow_from_swell_and_shrink(material):
    from_bank, from_loose, from_compacted = TABLE_10_1[material]
    factors = soil_factors(material)
    told = quantity(BankVolume(1.0), factors)
    assert (told.loose, told.compacted) == pytest.approx(from_bank, abs=1e-12)
    bank = bank_from_loose(LooseVolume(1.0), factors)
    # sand prints 0.86 for 0.95 / 1.11 = 0.8559 and earth 1.39 for 1.25 / 0.90 = 1.3889
    assert bank == pytest.approx(from_loose[0], abs=HALF_A_PLACE)
    assert quantity(bank, factors).compacted == pytest.approx(from_loose[1], abs=HALF_A_PLACE)
    bank = bank_from_compacted(CompactedVolume(1.0), factors)
    assert bank == pytest.approx(from_compacted[0], abs=HALF_A_PLACE)
    assert quantity(bank, factors).loose == pytest.approx(from_compacted[1], abs=HALF_A_PLACE)


def test_every_row_of_the_table_names_its_source_and_how_it_was_read():
    marks = {soil.name: soil.source.mark for soil in SOILS}
    assert marks == {"sand": "S2", "common earth": "M", "clay": "M", "blasted rock": "M"}
    assert "Table 10-1" in soil_factors("clay").source
    assert "from memory" in soil_factors("clay").source
    assert "as quoted" in soil_factors("sand").source


def test_a_highway_texts_shrinkage_divides_and_is_one_fifth_of_the_bank_measure():
    """FHWA Federal Lands PDDM ch. 9 (S): 25 % shrinkage is a factor of 0.80, shrink 0.20 here."""
    factors = soil_factors("borrow", swell=0.25, shrink=1 - 1 / 1.25)
    told = quantity(BankVolume(1000.0), factors)
    assert told.compacted == pytest.approx(800.0, abs=1e-9)
    assert told.loose == pytest.approx(1250.0, abs=1e-9)


def test_swell_from_densities_is_26_percent():
    """3,400 lb per cubic yard in the bank, 2,700 loose (S): the same weight fills 1.26."""
    factors = soil_factors("weighed", swell=3400 / 2700 - 1, shrink=0.1)
    assert quantity(BankVolume(1.0), factors).loose == pytest.approx(1.26, abs=0.005)


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
    assert factors.source.startswith("swell given by the job; shrink: NAVEDTRA")
    factors = soil_factors("clay", shrink=0.05)
    assert (factors.swell, factors.shrink) == (0.43, 0.05)
    assert factors.source.startswith("shrink given by the job; swell: NAVEDTRA")


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


@pytest.mark.parametrize("material", TABLE_10_1)
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
