"""Cells carry the ledger's volumes exactly, however they are cut."""

import numpy as np
import pytest

from tests.haul.made_lot import RECTANGLE, Asked, jogged, made


@pytest.mark.parametrize("side", [0.0, 1.0, 1.5])
@pytest.mark.parametrize("size", [2.0, 3.7, 6.0])
def test_cells_sum_to_the_dig_however_large_they_are(size, side):
    lot = made(Asked(corners=jogged(12, 8), side=side, size=size))
    whole = float(lot.whole.volume_above.sum())
    assert abs(lot.field.work.cells.bank.sum() - whole) <= 1e-12 * whole


def test_cells_outside_the_dig_line_are_the_sides():
    lot = made(Asked(corners=RECTANGLE, depth=8.0, side=1.0, overdig=2.0))
    cells = lot.field.work.cells
    floor = 52.0 * 40.0 * 8.0
    assert np.isclose(cells.bank[~cells.side].sum(), floor, rtol=1e-12)
    # 2 (L + W) s h^2 / 2 along the sides, and mitred corners of 4/3 s^2 h^3
    sides = (52.0 + 40.0) * 64.0 + 4.0 / 3.0 * 8.0**3
    assert np.isclose(cells.bank[cells.side].sum(), sides, rtol=1e-12)


def test_topsoil_is_what_lies_within_its_depth():
    lot = made(Asked(corners=RECTANGLE, side=0.0, topsoil=0.5))
    cells = lot.field.work.cells
    assert np.isclose(cells.topsoil.sum(), 52.0 * 40.0 * 0.5, rtol=1e-12)
    assert (cells.topsoil <= cells.bank).all()


def test_each_cell_goes_to_its_wall():
    lot = made(Asked(corners=RECTANGLE))
    cells, faces = lot.field.work.cells, lot.rounds[0].faces
    for leg, one in enumerate(lot.legs):
        own = cells.side & (cells.row == one.wall)
        assert (faces.leg[own] == leg).all()
        assert cells.bank[own].sum() > 0
