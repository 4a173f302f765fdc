"""What the dig and the finished lot take out and need: published backfill, closed forms, laws."""

import numpy as np
import pytest
import shapely
from scipy.interpolate import LinearNDInterpolator
from scipy.spatial import Delaunay

from terrain.base.frame import LocalFrame
from terrain.base.units import FOOT
from terrain.ledger.account import Ground
from terrain.ledger.entries import LooseVolume
from terrain.ledger.lot_account import account_of, lot_account
from terrain.ledger.lot_dug import Sides, dug_of
from terrain.ledger.lot_rows import LotTerms, lot_rows, surplus_by_side
from terrain.ledger.soil import soil_factors
from terrain.lot.design import Apron, LotDesign
from terrain.lot.finish import finished
from terrain.lot.structure import Structure
from terrain.pit.design import Design, Wall
from terrain.pit.dig import dig_of
from terrain.surface import screen
from terrain.surface.minimum import within
from terrain.surface.overlay import overlay
from terrain.surface.tin import build_tin, tin_surface

NAMES = ("front", "right", "back", "left")
SIDES = Sides(names=NAMES, of_house=(0, 1, 2, 3), of_foundation=(0, 1, 2, 3))
HOUSE = np.array([[0.0, 0.0], [40.0, 0.0], [40.0, 30.0], [0.0, 30.0]])
PIT = 44 * 34 * 8 + (44 + 34) * 8**2 + 4 / 3 * 8**3
"""Dug 8 deep, 2 beyond the walls, at 1:1 with mitred corners, in level ground."""

FIELDS = ("earth_out", "backfill", "stone", "footing", "grade_fill", "cut")


def box(reach, low, high):
    west, south, east, north = low[0] - reach, low[1] - reach, high[0] + reach, high[1] + reach
    return np.array([[west, south], [east, south], [east, north], [west, north]])


def level(upward, reach=80.0, corners=HOUSE):
    plan = box(reach, corners.min(axis=0), corners.max(axis=0))
    return np.column_stack([plan, np.full(4, upward)])


def uneven(seed=4, count=150):
    """Ground that rises to the north, in triangles."""
    rng = np.random.default_rng(seed)
    plan = np.concatenate(
        [rng.uniform([-60, -60], [100, 90], (count, 2)), box(60, (0, 0), (40, 30))]
    )
    return np.column_stack([plan, 99 + 0.06 * plan[:, 1] + rng.normal(0, 0.4, len(plan))])


def ground_of(points):
    tin = build_tin(points)
    return Ground(surface=tin_surface(tin), points=tin.points, triangles=tin.triangles)


def dig(points, floor, overdig=2.0, run=1.0, corners=HOUSE):
    walls = tuple(Wall(name=n, overdig=overdig, side=((run, 1.0),)) for n in NAMES)
    return dig_of(Design(corners=corners, walls=walls, number=(0, 1, 2, 3), floor=floor), points)


def graded(points, grade, fall=0.05, corners=HOUSE, reach=55.0):
    apron = Apron(
        grades=np.full((4, 2), grade), fall=fall, fall_distance=10.0, cut_slope=3.0, fill_slope=3.0
    )
    boundary = box(reach, corners.min(axis=0), corners.max(axis=0))
    design = LotDesign(house=corners, walls=NAMES, apron=apron, boundary=boundary)
    return finished(design, points, LocalFrame(), FOOT)


def structure(underside, corners=HOUSE, **parts):
    return Structure(corners=corners, underside=underside, **parts)


FULL = {
    "footing_width": 1.67, "footing_depth": 0.67, "projection": 0.5, "wall_thickness": 0.67,
    "wall_height": 8.0, "beyond": 1.0, "over": 0.5, "under_slab": 0.33,
}  # fmt: skip


def terms(**parts):
    given = {
        "unit": FOOT, "soil": soil_factors("common earth"), "truck": LooseVolume(14.0),
        "topsoil_strip": 0.0, "topsoil_respread": 0.0, "slab_fill": 0.0, "unsuitable": 0.0,
    }  # fmt: skip
    return LotTerms(**(given | parts))


def test_the_backfill_of_the_published_basement():
    """Dagostino & Peterson p. 86, Ex. 9-17 (S): 4,134 cf = 153 ccy. Exact 4,172.50 cf.

    Walls 26'-1" x 32'-4", footing projects 1' and is 1' deep, work space 1', depth 8', 2V:1H. The
    book leaves out the corners of the pit (42.67 cf) and of the footing (4 cf).
    """
    width, length = 26 + 1 / 12, 32 + 4 / 12
    corners = np.array([[0, 0], [length, 0], [length, width], [0, width]])
    points = level(0.0, corners=corners)
    found = lot_account(
        ground_of(points), dig(points, -8.0, 2.0, 0.5, corners),
        graded(points, 0.0, 0.0, corners),
        structure(-8.0, corners, footing_width=1.67, footing_depth=1.0, projection=1.0), SIDES,
    )  # fmt: skip
    assert found.backfill.sum() == pytest.approx(4_172.50, abs=0.005)
    corner_term = 0.5**2 * 8.0**3 / 3
    assert found.earth_out.sum() - corner_term == pytest.approx(10_997.56, abs=0.005)
    assert found.footing.sum() == pytest.approx(2 * (width + length) + 4, rel=1e-12)
    book = int(found.earth_out.sum() - corner_term) - 6_746 - round(found.footing.sum() - 4)
    assert book == 4_134
    assert round(FOOT.volume(book)) == 153
    assert found.cut.sum() == found.grade_fill.sum() == 0.0


def test_dig_fill_stone_and_footing_on_level_ground_in_closed_form():
    points = level(100.0)
    found = lot_account(
        ground_of(points), dig(points, 92.0), graded(points, 101.0), structure(92.0, **FULL), SIDES
    )
    assert found.earth_out.sum() == pytest.approx(PIT, rel=1e-12)
    footing = (140 * 0.5 + 4 * 0.5**2) * 0.67
    stone = (140 * 1.5 + 4 * 1.5**2) * 1.17 - footing
    assert found.footing.sum() == pytest.approx(footing, rel=1e-12)
    assert found.stone.sum() == pytest.approx(stone, rel=1e-12)
    hole = PIT - 40 * 30 * 8
    assert found.backfill.sum() == pytest.approx(hole - footing - stone, rel=1e-12)
    # the fill is that of the finished lot alone: over the hole too, and counted once
    lot = graded(points, 101.0)
    fill = overlay(lot.lower, ground_of(points).surface).volume_above.sum()
    assert found.grade_fill.sum() == pytest.approx(fill, rel=1e-12)
    assert found.area_out.sum() == pytest.approx(60 * 50, rel=1e-12)
    assert found.area_fill.sum() == pytest.approx(63 * 53 - 60 * 50, rel=1e-12)


def test_what_the_foundation_is_made_of_in_closed_form():
    own = structure(92.0, **FULL)
    assert own.footing_volume == pytest.approx(
        ((41 * 31) - (40 - 2.34) * (30 - 2.34)) * 0.67, rel=1e-12
    )
    assert own.wall_volume == pytest.approx((1200 - (40 - 1.34) * (30 - 1.34)) * 8, rel=1e-12)
    assert own.slab_base_volume == pytest.approx((40 - 2.34) * (30 - 2.34) * 0.33, rel=1e-12)


def test_a_cut_lot_counts_earth_out_once():
    """Finished ground below the existing, over the hole too: the hole is not dug twice."""
    points = level(100.0)
    found = lot_account(
        ground_of(points), dig(points, 92.0), graded(points, 99.0), structure(92.0), SIDES
    )
    lot = graded(points, 99.0)
    cut = overlay(ground_of(points).surface, lot.upper).volume_above.sum()
    assert found.cut.sum() == pytest.approx(cut, rel=1e-12)
    # backfill goes up to the finished ground only
    taken = found.earth_out.sum() - found.backfill.sum()
    assert taken == pytest.approx(40 * 30 * 8 + cut, rel=1e-12)
    assert found.earth_out.sum() > PIT
    assert found.grade_fill.sum() == 0.0


def test_topsoil_is_depth_times_the_ground_that_changes():
    points = level(100.0)
    found = lot_account(
        ground_of(points), dig(points, 92.0), graded(points, 101.0), structure(92.0), SIDES
    )
    asked = terms(topsoil_strip=0.5, topsoil_respread=0.25)
    _, total = lot_rows(found, NAMES, asked)
    assert total.topsoil_strip == pytest.approx(FOOT.volume(63 * 53 * 0.5), rel=1e-12)
    assert total.topsoil_respread == pytest.approx(FOOT.volume((63 * 53 - 1200) * 0.25), rel=1e-12)
    # put back as packed as fill: 0.25 deep comes of 0.25 / 0.9 in bank
    left = FOOT.volume(63 * 53 * 0.5 - (63 * 53 - 1200) * 0.25 / 0.9)
    assert total.topsoil_left.bank == pytest.approx(left, rel=1e-12)
    assert total.topsoil_left.loose == pytest.approx(left * (1 + asked.soil.swell), rel=1e-12)
    assert total.topsoil_lacking.bank == 0.0
    _, short = lot_rows(found, NAMES, terms(topsoil_strip=0.1, topsoil_respread=0.25, truck=2.0))
    lacking = FOOT.volume((63 * 53 - 1200) * 0.25 / 0.9 - 63 * 53 * 0.1)
    assert short.topsoil_lacking.bank == pytest.approx(lacking, rel=1e-12)
    assert short.topsoil_left.bank == 0.0
    assert short.topsoil_loads == np.ceil(lacking * (1 + asked.soil.swell) / 2.0)
    plain = surplus_by_side(found, terms()).sum()
    under_fill = 63 * 53 - 60 * 50
    wanted = plain - 3000 * 0.5 - (under_fill * 0.5 - (63 * 53 - 1200) * 0.25) / 0.9
    assert surplus_by_side(found, asked).sum() == pytest.approx(wanted, rel=1e-12)


def test_earth_closes_in_bank():
    """What comes out and what is brought in is what goes back, what leaves, and what is no use."""
    points = uneven()
    found = lot_account(
        ground_of(points), dig(points, 91.0), graded(points, 101.0), structure(91.0, **FULL), SIDES
    )
    for unsuitable in (0.0, 0.2, 0.9):
        asked = terms(unsuitable=unsuitable)
        rows, total = lot_rows(found, NAMES, asked)
        out = sum(row.cut for row in rows) + total.import_bank
        back = sum(row.backfill.bank + row.grade_fill.bank for row in rows)
        assert out == pytest.approx(back + total.haul_bank, rel=1e-12)
        assert total.unsuitable == pytest.approx(unsuitable * sum(r.cut for r in rows), rel=1e-12)


def test_geometry_closes_on_uneven_ground():
    """Cut and fill are the change from existing to finished ground, made face by face."""
    points = uneven()
    ground, lot = ground_of(points), graded(points, 101.0)
    found = lot_account(ground, dig(points, 91.0), lot, structure(91.0, **FULL), SIDES)
    back = found.backfill + found.stone + found.footing + found.grade_fill
    core = overlay(ground.surface, finished_core(points)).volume_above.sum()
    change = back.sum() - (found.earth_out.sum() - core)
    assert change == pytest.approx(found.grade_fill.sum() - found.cut.sum(), abs=1e-9)
    rng = np.random.default_rng(1)
    spots = rng.uniform([-55, -55], [95, 85], (200_000, 2))
    spots = spots[~((spots > 0) & (spots < [40, 30])).all(axis=1)]
    sampled = held(points, lot, spots)
    area = 150 * 140 - 1200
    noise = 5 * area * sampled.std() / np.sqrt(len(spots))
    assert abs(change - area * sampled.mean()) < noise


def finished_core(points):
    return within(dig(points, 91.0).surface, shapely.box(0, 0, 40, 30))


def held(points, lot, spots):
    """Finished less existing ground at spots, each from the face it lies in."""
    ground = LinearNDInterpolator(Delaunay(points[:, :2]), points[:, 2])(spots)
    away = np.maximum(-spots, spots - [40, 30]).max(axis=1)
    edge = 101 - 0.05 * np.minimum(away, 10)
    further = np.maximum(away - 10, 0) / 3
    return np.clip(ground, edge - further, edge + further) - ground


def account_at(points, grade, turn=None):
    def moved(plan):
        return plan if turn is None else plan @ turn + [7.0, -3.0]

    corners = moved(HOUSE)
    points = np.column_stack([moved(points[:, :2]), points[:, 2]])
    apron = Apron(
        grades=np.array([[101, 102], [102, 102], [102, 101], [101, 101]]) + grade,
        fall=0.05, fall_distance=10.0, cut_slope=3.0, fill_slope=2.0,
    )  # fmt: skip
    boundary = moved(box(50.0, (0, 0), (40, 30)))
    design = LotDesign(house=corners, walls=NAMES, apron=apron, boundary=boundary)
    lot = finished(design, points, LocalFrame(), FOOT)
    own = structure(91.0, corners, **FULL)
    return lot_account(ground_of(points), dig(points, 91.0, corners=corners), lot, own, SIDES)


def test_turning_and_moving_the_site_changes_nothing():
    points = uneven()
    angle = np.radians(33.0)
    turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    one, other = account_at(points, 0.0), account_at(points, 0.0, turn)
    for name in FIELDS:
        seen, wanted = getattr(other, name), getattr(one, name)
        assert seen == pytest.approx(wanted, abs=1e-9 * one.earth_out.sum()), name


def test_a_changed_grade_round_a_known_dig_gives_the_account_made_from_nothing():
    points = uneven()
    ground, hole, own = ground_of(points), dig(points, 91.0), structure(91.0, **FULL)
    known = dug_of(screen.screen_of(ground.surface), hole, graded(points, 101.0), own, SIDES)
    for grade in (99.0, 100.3, 103.0):
        lot = graded(points, grade)
        quick, whole = account_of(known, lot), lot_account(ground, hole, lot, own, SIDES)
        for name in FIELDS:
            assert (getattr(quick, name) == getattr(whole, name)).all(), name


def test_the_screen_changes_no_figure(monkeypatch):
    points = uneven(count=2000)
    whole = account_at(points, 0.0)
    monkeypatch.setattr(screen, "FEWEST_FACES", 0)
    quick = account_at(points, 0.0)
    for name in FIELDS:
        assert getattr(quick, name) == pytest.approx(getattr(whole, name), rel=1e-13), name


def test_a_dig_past_the_lot_line_is_all_accounted_for():
    """Beyond the line nothing is graded, but what is dug there is taken out and put back."""
    points = level(100.0)
    lot = graded(points, 100.0, fall=0.0, reach=3.0)
    found = lot_account(ground_of(points), dig(points, 92.0), lot, structure(92.0), SIDES)
    assert found.earth_out.sum() == pytest.approx(PIT, rel=1e-12)
    assert found.backfill.sum() == pytest.approx(PIT - 40 * 30 * 8, rel=1e-12)
