"""Laws of the main question: what must not change the answer, and what must change it just so."""

import math

import numpy as np
import pytest
import shapely

from terrain.job.load import load_job
from terrain.job.volumes import volumes
from tests.laws.jobs import figures, ledger, write_job

CORNERS = np.array([[-24.0, -14], [-8, -14], [-5, -17], [3, -17], [6, -14], [24, -14], [24, 10],
                    [20, 14], [-24, 14]])  # fmt: skip
WALLS = ["patio", "bay a", "bay b", "bay c", "kitchen", "east", "clip", "north", "west"]
DIG = """
floor = 91.0
overdig = 2.0
side = 1.0
topsoil_strip = 0.5
[dig.walls."bay b"]
side = 0.75
[dig.walls.clip]
side = 1.5
[dig.walls.north]
overdig = 3.0
side = [[0.0, 4.0], [3.0, 0.0], [0.5, 1.0]]
[dig.walls.west]
side = [[0.0, 3.5], [1.0, 1.0]]
"""
SAME = 1e-11


def lot(seed: int = 5) -> np.ndarray:
    """Uneven ground (n, 3) in whole 64ths, so that moves are exact; about 9 above the floor."""
    random = np.random.default_rng(seed)
    edge = [(-80.0, -80.0), (80.0, -80.0), (80.0, 80.0), (-80.0, 80.0)]
    plan = np.concatenate([np.round(random.uniform(-78, 78, (90, 2)) * 64) / 64, edge])
    upward = 98.0 + 0.05 * plan[:, 1] + random.normal(0.0, 0.5, len(plan))
    return np.column_stack([plan, upward])


@pytest.fixture(scope="module")
def base(tmp_path_factory):
    return ledger(write_job(tmp_path_factory.mktemp("base"), lot(), CORNERS, WALLS, DIG))


def assert_same(seen: dict[str, float], wanted: dict[str, float], within: float = SAME) -> None:
    assert seen.keys() == wanted.keys()
    scale = wanted["total"]
    for name, volume in wanted.items():
        assert seen[name] == pytest.approx(volume, abs=within * scale), name


def test_parts_sum_to_walls_and_walls_and_pits_to_the_total(base):
    for row in base.walls:
        parts = (row.parts.core, row.parts.overdig, row.parts.side, row.parts.footing)
        assert math.fsum(parts) == pytest.approx(row.quantity.bank, rel=1e-14)
    rows = [r.quantity.bank for r in base.walls] + [p.quantity.bank for p in base.pits]
    assert math.fsum(rows) == pytest.approx(base.total.quantity.bank, rel=1e-14)


def test_an_outline_drawn_the_other_way_round_changes_nothing(base, tmp_path):
    backwards = np.roll(CORNERS[::-1], 1, axis=0)
    walls = WALLS[::-1]
    seen = figures(ledger(write_job(tmp_path, lot(), backwards, walls, DIG)))
    assert_same(seen, figures(base))


@pytest.mark.parametrize("first", [1, 4, 8])
def test_starting_the_outline_at_another_corner_changes_nothing(base, tmp_path, first):
    corners, walls = np.roll(CORNERS, -first, axis=0), WALLS[first:] + WALLS[:first]
    assert_same(figures(ledger(write_job(tmp_path, lot(), corners, walls, DIG))), figures(base))


def test_renaming_walls_renames_rows_and_nothing_else(base, tmp_path):
    renamed = [f"{w} 2" for w in WALLS]
    dig = DIG
    for wall in ("clip", "north", "west"):
        dig = dig.replace(f"[dig.walls.{wall}]", f'[dig.walls."{wall} 2"]')
    dig = dig.replace('"bay b"', '"bay b 2"')
    answer = ledger(write_job(tmp_path, lot(), CORNERS, renamed, dig))
    assert [w.wall for w in answer.walls] == renamed
    for seen, wanted in zip(answer.walls, base.walls, strict=True):
        assert seen.quantity == wanted.quantity
        assert seen.parts == wanted.parts


def test_moving_the_site_changes_nothing(base, tmp_path):
    """Positions are whole 64ths, so at 2,000,000 they are stored exactly and nothing may move."""
    shift = np.array([2_000_000.0, 700_000.0])
    points = lot()
    points[:, :2] += shift
    assert_same(
        figures(ledger(write_job(tmp_path, points, CORNERS + shift, WALLS, DIG))), figures(base)
    )


@pytest.mark.parametrize("shift", [(0.0, 0.0), (2_000_000.0, 700_000.0)])
def test_turning_the_site_by_37_degrees_changes_nothing(base, tmp_path, shift):
    """At 2,000,000 a turned shot is stored to 2.3e-10 and may shift the answer by as much."""
    angle = math.radians(37.0)
    turn = np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])
    points = lot()
    points[:, :2] = points[:, :2] @ turn.T + shift
    corners = CORNERS @ turn.T + shift
    within = SAME if shift == (0.0, 0.0) else 1e-10
    seen = figures(ledger(write_job(tmp_path, points, corners, WALLS, DIG)))
    assert_same(seen, figures(base), within)


def test_the_order_of_the_shots_changes_nothing(base, tmp_path):
    points = np.random.default_rng(1).permutation(lot())
    assert_same(figures(ledger(write_job(tmp_path, points, CORNERS, WALLS, DIG))), figures(base))


def test_a_site_twice_the_size_digs_eight_times_as_much(base, tmp_path):
    """All lengths doubled, heights of steps too; runs for one of rise stay."""
    dig = """
floor = 182.0
overdig = 4.0
side = 1.0
topsoil_strip = 1.0
[dig.walls."bay b"]
side = 0.75
[dig.walls.clip]
side = 1.5
[dig.walls.north]
overdig = 6.0
side = [[0.0, 8.0], [6.0, 0.0], [0.5, 1.0]]
[dig.walls.west]
side = [[0.0, 7.0], [1.0, 1.0]]
"""
    seen = figures(ledger(write_job(tmp_path, lot() * 2, CORNERS * 2, WALLS, dig)))
    assert_same({name: volume / 8 for name, volume in seen.items()}, figures(base))


@pytest.mark.parametrize(
    "smaller",
    [
        ("floor = 91.0", "floor = 91.5"),
        ("overdig = 2.0", "overdig = 1.5"),
        ("side = 1.0", "side = 0.75"),
        ("side = [[0.0, 3.5], [1.0, 1.0]]", "side = [[0.0, 7.0], [1.0, 1.0]]"),
        (
            "side = [[0.0, 4.0], [3.0, 0.0], [0.5, 1.0]]",
            "side = [[0.0, 5.0], [3.0, 0.0], [0.5, 1.0]]",
        ),
    ],
    ids=["higher floor", "less overdig", "steeper", "longer foot", "higher bench"],
)
def test_a_dig_inside_another_never_digs_more(base, tmp_path, smaller):
    dig = DIG.replace(*smaller)
    assert dig != DIG
    inner = ledger(write_job(tmp_path, lot(), CORNERS, WALLS, dig))
    assert inner.total.quantity.bank < base.total.quantity.bank
    assert inner.daylight_area <= base.daylight_area * (1 + 1e-12)


def test_a_pit_inside_the_dig_adds_nothing_and_one_below_it_adds_its_prism(base, tmp_path):
    pits = (
        DIG
        + """
[[dig.pits]]
name = "shallow"
corners = [[0.0, 0.0], [6.0, 0.0], [6.0, 6.0], [0.0, 6.0]]
floor = 93.0
[[dig.pits]]
name = "sump"
corners = [[0.0, 0.0], [3.0, 0.0], [3.0, 2.0], [0.0, 2.0]]
floor = 89.5
"""
    )
    answer = ledger(write_job(tmp_path, lot(), CORNERS, WALLS, pits))
    assert [p.quantity.bank for p in answer.pits] == pytest.approx([0.0, 9.0 / 27], abs=1e-12)
    seen = figures(answer)
    assert seen["total"] == pytest.approx(base.total.quantity.bank + 9.0 / 27, rel=1e-12)


def test_two_pits_over_one_another_are_not_dug_twice(tmp_path):
    pits = (
        DIG
        + """
[[dig.pits]]
name = "first"
corners = [[0.0, 0.0], [4.0, 0.0], [4.0, 4.0], [0.0, 4.0]]
floor = 90.0
[[dig.pits]]
name = "second"
corners = [[2.0, 2.0], [6.0, 2.0], [6.0, 6.0], [2.0, 6.0]]
floor = 89.0
"""
    )
    answer = ledger(write_job(tmp_path, lot(), CORNERS, WALLS, pits))
    first, second = (p.quantity.bank * 27 for p in answer.pits)
    assert first == pytest.approx(16.0, rel=1e-11)
    assert second == pytest.approx(16.0 * 2 - 4.0, rel=1e-11)


@pytest.mark.parametrize("overdig", [1.5, 2.0])
@pytest.mark.parametrize("degrees", [0.0, 37.0])
def test_every_wall_gets_its_overdig_square_to_its_wall(tmp_path, overdig, degrees):
    """Working room of 1.5 and 2 ft is common practice, no source."""
    angle = math.radians(degrees)
    turn = np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])
    corners = CORNERS @ turn.T
    dig = f"floor = 91.0\noverdig = {overdig}\nside = 1.0\n"
    points = lot()
    points[:, :2] = points[:, :2] @ turn.T
    answer = volumes(load_job(write_job(tmp_path, points, corners, WALLS, dig)))
    (line,) = answer.plan.dig_line
    dug = shapely.Polygon(answer.plan.frame.to_site(line))
    house = shapely.Polygon(corners)
    assert shapely.hausdorff_distance(
        dug, house.buffer(overdig, join_style="mitre", mitre_limit=1e9)
    ) < 1e-9  # fmt: skip
    for start, end in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        along = (end - start) / np.linalg.norm(end - start)
        outward = np.array([along[1], -along[0]])
        middle = (start + end) / 2
        ray = shapely.LineString([middle, middle + outward * 10 * overdig])
        reach = ray.intersection(dug).length
        assert reach == pytest.approx(overdig, abs=1e-9)
    parts = {row.wall: row.parts.overdig for row in answer.ledger.walls}
    assert min(parts.values()) > 0.0


def test_the_deepest_cut_is_that_of_the_row_it_is_said_to_be_in(base):
    depth = {row.wall: row.deepest for row in base.walls}
    assert base.deepest_in in depth
    assert depth[base.deepest_in] == max(depth.values()) == base.deepest_cut
