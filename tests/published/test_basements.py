"""Basements and strip footings: SOURCES section 3. Printed and exact answers shown.

The book writes slopes V:H; 2:1 there is a run per rise of 0.5 here. Its pit is mean width x mean
length x depth, which leaves out s^2 h^3 / 3 at the mitred corners.
"""

import numpy as np
import pytest

from terrain.base.units import FOOT
from terrain.ledger.account import Ground, account
from terrain.ledger.entries import BankVolume, LooseVolume
from terrain.ledger.loads import truck_loads
from terrain.ledger.soil import quantity, soil_factors
from terrain.pit.design import Design, FootingTrench, Wall
from terrain.pit.dig import PARTS, dig_of, part_of, row_of
from terrain.surface.moves import VERTICAL
from terrain.surface.overlay import overlay
from terrain.surface.tin import build_tin, tin_surface
from tests.published.shapes import box, cut_and_fill, faces, level

WIDTH, LENGTH = 26 + 1 / 12, 32 + 4 / 12
FOOTING, ROOM, DEPTH, RUN = 1.0, 1.0, 8.0, 0.5
CORNER_TERM = RUN**2 * DEPTH**3 / 3
OUTLINE = np.array([[0, 0], [LENGTH, 0], [LENGTH, WIDTH], [0, WIDTH]], dtype=float)
GROUND = level(0.0, -40, -40, LENGTH + 40, WIDTH + 40)
GROUND_POINTS = np.array(box(0.0, -40, -40, LENGTH + 40, WIDTH + 40), dtype=float)


def walls(count, overdig, side):
    return tuple(Wall(name=f"wall {k}", overdig=overdig, side=side) for k in range(count))


@pytest.fixture(scope="module")
def basement():
    """Ex. 9-14's dig: our dig surface of the design, under level ground."""
    design = Design(
        corners=OUTLINE,
        walls=walls(4, FOOTING + ROOM, ((RUN, 1.0),)),
        number=(0, 1, 2, 3),
        floor=-DEPTH,
    )
    return dig_of(design, GROUND_POINTS).surface


def by_wall_and_part(found, label):
    """Volume dug by (wall, part): the labels of the dig's faces are the only split."""
    table = {}
    for volume, tag in zip(found.volume_above, label[found.b], strict=True):
        key = (int(row_of(tag)), PARTS[part_of(tag)])
        table[key] = table.get(key, 0.0) + float(volume)
    return table


def test_the_basement_pit(basement):
    """Dagostino & Peterson p. 82-84, Ex. 9-14 (S): 10,997 bcf = 407 bcy. Exact 11,040.22, 408.90.

    Walls 26'-1" x 32'-4", footing projects 1', work space 1', depth 8', sides 2V:1H.
    """
    cut, _ = cut_and_fill(GROUND, basement)
    assert cut == pytest.approx(11_040.22, abs=0.005)
    assert FOOT.volume(cut) == pytest.approx(408.90, abs=0.005)
    book = cut - CORNER_TERM
    assert int(book) == 10_997  # the book drops the half foot: 10,997.56
    assert round(FOOT.volume(book)) == 407
    base = (WIDTH + 4.0, LENGTH + 4.0)
    exact = base[0] * base[1] * DEPTH + RUN * sum(base) * DEPTH**2 + 4 / 3 * RUN**2 * DEPTH**3
    assert cut == pytest.approx(exact, rel=1e-12)


def test_the_basement_pit_part_by_part(basement):
    """The same pit shared out by closed forms of ours: core, overdig and side of every wall."""
    found = by_wall_and_part(overlay(GROUND, basement), basement.label)
    for wall, own in enumerate([LENGTH, WIDTH, LENGTH, WIDTH]):
        roof = WIDTH**2 / 4 if own == WIDTH else (LENGTH - WIDTH / 2) * WIDTH / 2
        assert found[wall, "core"] == pytest.approx(roof * DEPTH, rel=1e-12)
        assert found[wall, "overdig"] == pytest.approx((own * 2 + 4) * DEPTH, rel=1e-12)
        foot = own + 4.0
        side = foot * RUN * DEPTH**2 / 2 + RUN**2 * DEPTH**3 / 3
        assert found[wall, "side"] == pytest.approx(side, rel=1e-12)
    assert len(found) == 12


def test_the_basement_pit_loose_and_in_loads(basement):
    """Same example (S): 529 lcy at 30 %, 76 loads of 7 cy. Exact 531.57 lcy, also 76 loads."""
    cut, _ = cut_and_fill(GROUND, basement)
    factors = soil_factors("clay", swell=0.30)
    printed = quantity(BankVolume(float(round(FOOT.volume(cut - CORNER_TERM)))), factors)
    assert round(printed.loose) == 529
    exact = quantity(BankVolume(FOOT.volume(cut)), factors)
    assert exact.loose == pytest.approx(531.57, abs=0.005)
    seven = LooseVolume(7.0)
    assert truck_loads(printed.loose, seven) == truck_loads(exact.loose, seven) == 76


def test_the_backfill_of_the_basement(basement):
    """P. 86, Ex. 9-17 (S): 10,997 - building 6,746 - footing 117 = 4,134 cf = 153 ccy.

    Exact 4,172.50 cf. The book's pit lacks its corners (42.67 cf) and so does its footing: 116.83
    ft of perimeter x 1 x 1, where the whole ring holds 120.83.
    """
    outside = faces(
        box(0.0, -40, -40, LENGTH + 40, 0), box(0.0, -40, WIDTH, LENGTH + 40, WIDTH + 40),
        box(0.0, -40, 0, 0, WIDTH), box(0.0, LENGTH, 0, LENGTH + 40, WIDTH),
    )  # fmt: skip
    top = 1.0 - DEPTH
    ring = faces(
        box(top, -1, -1, LENGTH + 1, 0), box(top, -1, WIDTH, LENGTH + 1, WIDTH + 1),
        box(top, -1, 0, 0, WIDTH), box(top, LENGTH, 0, LENGTH + 1, WIDTH),
    )  # fmt: skip
    pit, _ = cut_and_fill(GROUND, basement)
    hole, _ = cut_and_fill(outside, basement)
    footing, _ = cut_and_fill(ring, basement)
    building = pit - hole
    assert int(building) == 6_746
    assert footing == pytest.approx(2 * (WIDTH + LENGTH) + 4, rel=1e-12)
    assert footing == pytest.approx(120.83, abs=0.005)
    assert hole - footing == pytest.approx(4_172.50, abs=0.005)
    book = int(pit - CORNER_TERM) - int(building) - round(footing - 4)
    assert book == 4_134
    assert round(FOOT.volume(book)) == 153


def test_the_backfill_of_a_strip_footing():
    """P. 86, Ex. 9-18 (S): 9,640 - (974 + 1,077) = 7,589 cf = 281 ccy. Exact 281.07.

    The source prints volumes only. The section here is ours, on 100 ft of trench: hole 12.05 x 8,
    footing 9.74 x 1, wall 10.77 sf over it. The overlay finds the backfill directly, between the
    ground and the top of what stands in the hole.
    """
    half_wall = 10.77 / 7 / 2
    hole = level(-8.0, -6.025, 0, 6.025, 100)
    stands = faces(
        box(-8.0, -6.025, 0, -4.87, 100), box(-7.0, -4.87, 0, -half_wall, 100),
        box(0.0, -half_wall, 0, half_wall, 100), box(-7.0, half_wall, 0, 4.87, 100),
        box(-8.0, 4.87, 0, 6.025, 100),
    )  # fmt: skip
    ground = level(0.0, -9, 0, 9, 100)
    dug, _ = cut_and_fill(ground, hole)
    assert dug == pytest.approx(9_640, rel=1e-12)
    backfill, _ = cut_and_fill(ground, stands)
    concrete, _ = cut_and_fill(stands, hole)
    assert concrete == pytest.approx(974 + 1_077, rel=1e-12)
    assert backfill == pytest.approx(7_589, rel=1e-12)
    assert round(FOOT.volume(backfill)) == 281


def test_the_strip_footing_of_an_l_plan():
    """SOURCES section 3 (S): 122 ft, trench mean width 6', depth 2' -> 1,464 bcf = 54.2 bcy.

    The source gives the length only; the L here is ours, 122 ft round its centre line. On a
    closed centre line outside and inside corners cancel, so the product is exact.
    """
    corners = np.array([[0, 0], [36, 0], [36, 12], [20, 12], [20, 25], [0, 25]], dtype=float)
    sides = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
    assert sides.sum() == 122.0
    design = Design(
        corners=corners,
        walls=walls(6, 3.0, VERTICAL),
        number=tuple(range(6)),
        floor=0.0,
        footing=FootingTrench(width=6.0, projection=3.0, bottom=-2.0),
    )
    points = np.array(box(0.0, -30, -30, 66, 55), dtype=float)
    dig = dig_of(design, points).surface
    found = by_wall_and_part(overlay(level(0.0, -30, -30, 66, 55), dig), dig.label)
    trench = {wall: v for (wall, part), v in found.items() if part == "footing"}
    assert sum(found.values()) == pytest.approx(1_464, rel=1e-12)
    assert round(FOOT.volume(sum(trench.values())), 1) == 54.2
    # wall by wall too: a mitre adds on one side of the centre line what it takes on the other
    assert [trench[k] for k in range(6)] == pytest.approx(list(sides * 12.0), rel=1e-12)


def test_the_basement_pit_in_the_ledgers_account():
    """Ex. 9-14 once more, over a TIN of shots and through the account that every job goes through.

    Page 81 (S): the stripped topsoil is taken off first; 0.5 ft of it is ours, its volume exact.
    """
    tin = build_tin(GROUND_POINTS)
    ground = Ground(surface=tin_surface(tin), points=tin.points, triangles=tin.triangles)
    design = Design(
        corners=OUTLINE,
        walls=walls(4, FOOTING + ROOM, ((RUN, 1.0),)),
        number=(0, 1, 2, 3),
        floor=-DEPTH,
    )
    found = account(ground, dig_of(design, GROUND_POINTS), 4, topsoil_strip=0.5)
    base = (WIDTH + 4.0, LENGTH + 4.0)

    def pit(height):
        return (
            base[0] * base[1] * height
            + RUN * sum(base) * height**2
            + 4 / 3 * RUN**2 * height**3
        )  # fmt: skip

    assert found.total == pytest.approx(pit(DEPTH), rel=1e-12)
    assert FOOT.volume(found.total) == pytest.approx(408.90, abs=0.005)
    assert found.bank.sum() == pytest.approx(found.total, rel=1e-14)
    assert found.topsoil.sum() == pytest.approx(pit(DEPTH) - pit(DEPTH - 0.5), rel=1e-11)
    top = (base[0] + 2 * RUN * DEPTH) * (base[1] + 2 * RUN * DEPTH)
    assert found.daylight_area == pytest.approx(top, rel=1e-12)
    assert found.deepest_cut == pytest.approx(DEPTH, rel=1e-14)
