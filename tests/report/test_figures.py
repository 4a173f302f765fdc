"""Figures as read: one rounding everywhere, thousands apart, no minus nought."""

import pytest

from terrain.report import figures


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0.0, "0.0"), (-0.0, "0.0"), (0.04, "0.0"), (96.46, "96.5"), (999.94, "999.9"),
        (999.96, "1,000"), (1000.4, "1,000"), (1_234_567.8, "1,234,568"),
    ],
)  # fmt: skip
def test_volumes_read_to_a_tenth_below_a_thousand_and_whole_above(value, text):
    assert figures.volume(value) == text


def test_lengths_read_to_a_tenth_of_a_foot_or_a_centimetre():
    assert figures.length(9.6543, "ft") == "9.7"
    assert figures.length(9.6543, "ftUS") == "9.7"
    assert figures.length(2.9426, "m") == "2.94"


def test_a_figure_below_nought_has_a_minus_and_no_hyphen():
    assert figures.volume(-1234.5) == "−1,234"
    assert figures.signed(-96.46) == "−96.5"
    assert figures.signed_length(-1.24, "ft") == "−1.2"
    assert figures.coordinate(-2.0, "ft") == "−2.00"
    assert figures.length(-0.26, "m") == "−0.26"


def test_what_is_not_there_reads_as_a_dash():
    assert figures.plus_minus(None) == "–"
    assert figures.count(None) == "–"
    assert figures.coordinate(float("nan"), "m") == "–"


def test_units_read_as_signs_and_the_two_feet_in_words():
    assert figures.unit_sign("yd3") == "yd³"
    assert figures.area_unit("m") == "m²"
    assert figures.unit_sign("ftUS") == "ft"
    assert figures.length_words("ftUS") == "US survey foot"
    assert figures.length_words("ft") == "international foot"
