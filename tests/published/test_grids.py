"""Grids, lines of no cut and tilted sites: SOURCES section 2. Printed and exact answers shown."""

import numpy as np
import pytest

from terrain.base.units import FOOT
from terrain.surface.overlay import overlay, overlay_faces
from terrain.surface.tin import build_tin, tin_surface
from terrain.surface.tin_record import Line, LineKind
from tests.published.shapes import cut_and_fill, faces, level

# Ghilani & Wolf, Elementary Surveying, plate B.2 (S): rows 0 to 4 of columns A to E, feet.
PLATE_B2 = {
    "A": (359.5, 360.0, 360.5, 360.9, 361.3),
    "B": (359.3, 359.9, 360.0, 360.7, 361.0),
    "C": (359.0, 359.5, 359.9, 360.1, 360.5),
    "D": (358.8, 359.2, 359.7, 360.1),
    "E": (358.5, 358.9),
}
SQUARE = 20.0
GRADE = 358.0


def borrow_pit_shots():
    """The grid's shots (n, 3) and the number of each by (column, row)."""
    number, shots = {}, []
    for column, letter in enumerate(PLATE_B2):
        for row, upward in enumerate(PLATE_B2[letter]):
            number[column, row] = len(shots)
            shots.append((column * SQUARE, row * SQUARE, upward))
    return np.array(shots), number


def cells(number):
    """Every cell whose four corners exist, counter-clockwise from its south-west corner."""
    for column, row in number:
        corners = [(column, row), (column + 1, row), (column + 1, row + 1), (column, row + 1)]
        if all(c in number for c in corners):
            yield [number[c] for c in corners]


def borrow_pit_ground(diagonal):
    """The grid as a TIN through our builder, every cell cut by the given pair of its corners."""
    shots, number = borrow_pit_shots()
    rim = [(c, 0) for c in range(5)] + [(4, 1), (3, 1), (3, 2), (3, 3), (2, 3), (2, 4), (1, 4)]
    rim += [(0, r) for r in range(4, -1, -1)]
    lines = [Line(name="rim", kind=LineKind.BOUNDARY, shots=np.array([number[c] for c in rim]))]
    for cell in cells(number):
        pair = np.array([cell[k] for k in diagonal])
        lines.append(Line(name=f"diagonal {pair}", shots=pair))
    return tin_surface(build_tin(shots, lines))


@pytest.mark.parametrize(("diagonal", "exact"), [((0, 2), 337.28), ((1, 3), 337.53)])
def test_the_borrow_pit_as_a_tin_with_either_diagonal(diagonal, exact):
    """Printed 337 cu yd by the four-corner method (S); as a TIN 337.28 or 337.53 (C)."""
    ground = borrow_pit_ground(diagonal)
    assert len(ground) == 24
    cut, fill = cut_and_fill(ground, level(GRADE, 0, 0, 80, 80))
    assert fill == 0.0
    found = FOOT.volume(cut)
    assert found == pytest.approx(exact, abs=0.005)
    assert abs(found - 337) < 1


def test_the_borrow_pit_by_four_corners_is_the_mean_of_both_diagonals():
    """Printed sum of h times occurrence 91.1, 337 cu yd (S); exact 91.1 x 400 / 4 / 27 = 337.41.

    The mean of a cell's two TINs is its plan area times the mean of its four corners.
    """
    cuts = [cut_and_fill(borrow_pit_ground(d), level(GRADE, 0, 0, 80, 80))[0]
            for d in ((0, 2), (1, 3))]  # fmt: skip
    mean = sum(cuts) / 2
    assert mean * 4 / SQUARE**2 == pytest.approx(91.1, rel=1e-12)
    assert round(FOOT.volume(mean)) == 337


def test_the_borrow_pit_covers_its_twelve_squares():
    found = overlay(borrow_pit_ground((0, 2)), level(GRADE, 0, 0, 80, 80))
    assert found.area.sum() == pytest.approx(12 * SQUARE**2, rel=1e-14)


def square_cell(cuts, side, diagonal):
    """A cell's ground over a grade at 0, corners counter-clockwise, cut by one diagonal."""
    plan = [(0.0, 0.0), (side, 0.0), (side, side), (0.0, side)]
    corners = [(*p, c) for p, c in zip(plan, cuts, strict=True)]
    a, b, c, d = (0, 1, 2, 3) if diagonal == 0 else (1, 2, 3, 0)
    return faces([corners[a], corners[b], corners[c]], [corners[a], corners[c], corners[d]])


@pytest.mark.parametrize(
    ("cuts", "printed", "exact"),
    [
        # Dagostino & Peterson p. 72 Ex. 9-5 (S): 2,500 sf, 563 bcf
        ((0.1, 0.8, 0.0, 0.0), 563, 562.5),
        # p. 76 Ex. 9-8 (S): 3,313 bcf = 123 bcy
        ((1.4, 1.4, 1.2, 1.3), 3313, 3312.5),
    ],
)
def test_a_grid_cell_of_2500_sf(cuts, printed, exact):
    """Mean of the corner cuts times the area, here as the mean of the cell's two TINs."""
    both = [cut_and_fill(square_cell(cuts, 50.0, k), level(0, 0, 0, 50, 50)) for k in (0, 1)]
    mean = (both[0][0] + both[1][0]) / 2
    assert mean == pytest.approx(exact, rel=1e-13)
    assert abs(mean - printed) <= 0.5
    assert both[0][1] == both[1][1] == 0.0
    if printed == 3313:
        assert round(FOOT.volume(mean)) == 123


def test_the_line_of_no_cut_lies_15_ft_from_the_corner_of_3_tenths():
    """Dagostino & Peterson Ex. 9-6 (S): 0.3 and 0.7 of opposite sign, 50 ft apart -> 15 ft."""
    ground = faces([(0, 0, 0.3), (50, 0, -0.7), (50, 50, -0.7), (0, 50, 0.3)])
    parts = overlay_faces(ground, level(0, 0, 0, 50, 50))
    assert sorted(parts.side) == [-1, 1]
    at_nought = parts.ring[parts.depth == 0.0]
    assert len(at_nought) == 4  # two corners of each part
    assert at_nought[:, 0] == pytest.approx(np.full(4, 15.0), abs=1e-12)
    found = overlay(ground, level(0, 0, 0, 50, 50))
    assert found.area_above.sum() == pytest.approx(15 * 50, rel=1e-14)


def test_a_tilted_site_areas_and_net():
    """SOURCES section 2, net of a tilted site (S): -5,555.6 +2,916.7 +2,314.8, net -324.1 cy.

    The ground falls from +14.0 to -8.0 over 400 ft and is finished level at 6.0; the three areas
    lie side by side. Exact in cubic feet: -150,000, +78,750, +62,500.
    """
    ground = faces([(0, 0, 14), (400, 0, -8), (400, 400, -8), (0, 400, 14)])
    finished = faces(
        [(0, 0, 6), (400, 0, 6), (400, 125, 6), (0, 125, 6)],
        [(0, 125, 6), (100, 125, 6), (100, 275, 6), (0, 275, 6)],
        [(0, 275, 6), (200, 275, 6), (200, 400, 6), (0, 400, 6)],
    )
    found = overlay(ground, finished)
    net = np.bincount(found.b, weights=found.volume_above - found.volume_below)
    assert net == pytest.approx([-150_000, 78_750, 62_500], rel=1e-12)
    assert [round(FOOT.volume(v), 1) for v in net] == [-5555.6, 2916.7, 2314.8]
    assert round(FOOT.volume(net.sum()), 1) == -324.1
