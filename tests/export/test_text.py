"""Text in a table for spreadsheets: nothing in it runs, wherever the spreadsheet parts the line."""

import csv
import io

import pytest

from terrain.export.text import inert

LIVE = "=+-@\uff1d\uff0b\uff0d\uff20"


def cells(text: str, delimiter: str) -> list[str]:
    """The cells that a spreadsheet makes of a row with the text in its middle."""
    out = io.StringIO()
    csv.writer(out).writerow(["line", text, "9.50"])
    (row,) = csv.reader(io.StringIO(out.getvalue()), delimiter=delimiter)
    return row


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("sign", LIVE)
@pytest.mark.parametrize("before", ["", " ", "\t", "\r\n", "wall;", "wall; ", 'wall";', 'wall;"'])
def test_no_cell_begins_like_a_formula_by_comma_semicolon_or_tab(before, sign, delimiter):
    for cell in cells(inert(f"{before}{sign}1+1"), delimiter):
        assert not cell.lstrip(' "').startswith(tuple(LIVE)), cell


def test_text_that_is_no_formula_stays_as_it_is():
    for text in ("front/right", "wall; by the road", "a - b", "it's", "2-4"):
        assert inert(text) == text
