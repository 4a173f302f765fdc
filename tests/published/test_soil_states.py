"""Bank, loose and compacted: SOURCES section 1. Printed answer and exact answer both shown."""

import pytest

from terrain.base.units import FOOT
from terrain.ledger.entries import BankVolume, CompactedVolume, LooseVolume
from terrain.ledger.loads import truck_loads
from terrain.ledger.soil import bank_from_compacted, bank_from_loose, quantity, soil_factors

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


def test_a_highway_texts_shrinkage_divides_and_is_one_fifth_of_the_bank_measure():
    """FHWA Federal Lands PDDM ch. 9 (S): 25 % shrinkage is a factor of 0.80, swell 25 % of 1.25.

    In our words a shrink of 0.20: the highway text divides by 1.25 where estimating books multiply.
    """
    factors = soil_factors("borrow", swell=0.25, shrink=1 - 1 / 1.25)
    told = quantity(BankVolume(1.0), factors)
    assert told.compacted == pytest.approx(0.80, abs=1e-12)
    assert told.loose == pytest.approx(1.25, abs=1e-12)


def test_swell_from_densities():
    """A worked problem (S): 3,400 lb per cubic yard in the bank, 2,700 loose; printed 26 %."""
    factors = soil_factors("weighed", swell=3400 / 2700 - 1, shrink=0.1)
    told = quantity(BankVolume(1.0), factors)
    assert round(100 * (told.loose - 1)) == 26
    assert told.loose * 2700 == pytest.approx(3400, rel=1e-14)


def test_clay_swelled_and_trucked():
    """Dagostino & Peterson, p. 67, Ex. 9-2 (S): 1,000 bcy, 30 % -> 1,300 lcy, 186 loads of 7 cy."""
    told = quantity(BankVolume(1000.0), soil_factors("clay", swell=0.30))
    assert told.loose == pytest.approx(1300.0, rel=1e-14)
    assert told.loose / 7 == pytest.approx(185.714, abs=1e-3)
    assert truck_loads(told.loose, LooseVolume(7.0)) == 186


def test_bank_measure_for_a_fill():
    """Dagostino & Peterson, p. 67, Ex. 9-3 (S): 500 ccy at shrink factor 0.95 -> 526 bcy.

    Exact 526.3158. The factor 0.95 is a shrink of 0.05.
    """
    bank = bank_from_compacted(CompactedVolume(500.0), soil_factors("sand", shrink=0.05))
    assert round(bank) == 526
    assert bank == pytest.approx(500 / 0.95, rel=1e-14)


def test_a_cubic_yard_is_27_cubic_feet():
    """NAVEDTRA 14080, p. 4-5 (S)."""
    assert FOOT.volume(27.0) == 1.0
    assert FOOT.volume_name == "yd3"
