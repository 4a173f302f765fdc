"""The doubt of a volume: published grid formulas, and brute force on a small TIN."""

import numpy as np
import pytest

from terrain.ledger.doubt import (
    Doubt,
    SurveyErrors,
    Terms,
    combined,
    doubt_of,
    significant,
)
from terrain.ledger.hats import Hats
from terrain.ledger.weights import Weights, weights_of


def grid_tin(cells: int, side: float):
    """Shots and triangles of a square grid, every cell cut by the same diagonal."""
    axis = np.arange(cells + 1) * side
    plan = np.array([(e, n) for n in axis for e in axis])
    low = np.array([r * (cells + 1) + c for r in range(cells) for c in range(cells)])
    a, b, c, d = low, low + 1, low + cells + 2, low + cells + 1
    triangles = np.concatenate([np.column_stack([a, b, c]), np.column_stack([a, c, d])])
    return plan, triangles.astype(np.int32)


def whole_triangles(plan, triangles):
    """The faces of a cut that takes in every triangle whole: parent, area, centroid."""
    p, q, r = (plan[triangles[:, k]] for k in range(3))
    area = abs((q - p)[:, 0] * (r - p)[:, 1] - (q - p)[:, 1] * (r - p)[:, 0]) / 2
    return np.arange(len(triangles)), area, (p + q + r) / 3


def shot_weights(plan, triangles, parent, area, centroid):
    """The weights of the elevations of all shots, one label, ground at nought."""
    hats = Hats(
        points=np.column_stack([plan, np.zeros(len(plan))]), shots=triangles[parent],
        label=np.zeros(len(parent), dtype=np.int64), area=area, centroid=centroid,
        spread=np.zeros((len(parent), 3)),
    )  # fmt: skip
    dense = np.zeros(len(plan))
    own = weights_of(hats)[0]
    dense[own.shot] = own.by_elevation
    return dense


def made(weight):
    """Weights of elevations alone, of as many shots, 1 apart along a line."""
    change = np.column_stack([np.zeros((len(weight), 2)), weight])
    return Weights(shot=np.arange(len(weight)), change=change, spots=Weights.nothing().spots)


def terms(weight, **errors):
    plan = np.column_stack([np.arange(len(weight), dtype=float), np.zeros(len(weight))])
    return Terms(errors=SurveyErrors(**errors), plan=plan)


def plus_minus_95(weight, accuracy, datum):
    given = terms(weight, accuracy=accuracy, datum_accuracy=datum)
    return doubt_of(made(weight), given).together


def volume_under(plan, triangles, upward):
    """The volume under a TIN by mean height times area, triangle by triangle."""
    total = 0.0
    for p, q, r in triangles:
        (pe, pn), (qe, qn), (re, rn) = plan[p], plan[q], plan[r]
        area = abs((qe - pe) * (rn - pn) - (re - pe) * (qn - pn)) / 2
        total += area * (upward[p] + upward[q] + upward[r]) / 3
    return total


def test_a_shot_inside_a_grid_weighs_one_cell():
    plan, triangles = grid_tin(4, 2.5)
    weight = shot_weights(plan, triangles, *whole_triangles(plan, triangles)).reshape(5, 5)
    assert weight[1:-1, 1:-1] == pytest.approx(np.full((3, 3), 2.5**2), abs=1e-12)
    assert weight[0, 1:-1] == pytest.approx(np.full(3, 2.5**2 / 2), abs=1e-12)
    # a corner has one triangle or two of the cell's, a third of each
    assert sorted(weight[[0, 0, -1, -1], [0, -1, 0, -1]]) == pytest.approx(
        np.array([1, 1, 2, 2]) * 2.5**2 / 6
    )


def test_the_weights_sum_to_the_area_of_the_cut():
    plan, triangles = grid_tin(3, 7.0)
    weight = shot_weights(plan, triangles, *whole_triangles(plan, triangles))
    assert weight.sum() == pytest.approx(21.0**2, rel=1e-14)


def test_the_weights_give_the_volume_of_any_heights():
    plan, triangles = grid_tin(4, 3.0)
    upward = np.random.default_rng(3).normal(100.0, 2.0, len(plan))
    weight = shot_weights(plan, triangles, *whole_triangles(plan, triangles))
    assert weight @ upward == pytest.approx(volume_under(plan, triangles, upward), rel=1e-13)


def test_cutting_the_faces_smaller_leaves_the_weights_as_they_are():
    plan, triangles = grid_tin(3, 4.0)
    whole = shot_weights(plan, triangles, *whole_triangles(plan, triangles))
    parent, area, centroid = [], [], []
    for t, (p, q, r) in enumerate(triangles):
        inner = plan[p] * 0.2 + plan[q] * 0.5 + plan[r] * 0.3
        for share, corners in ((0.3, (p, q)), (0.2, (q, r)), (0.5, (r, p))):
            parent.append(t)
            area.append(share * 8.0)
            centroid.append((plan[corners[0]] + plan[corners[1]] + inner) / 3)
    split = shot_weights(plan, triangles, np.array(parent), np.array(area), np.array(centroid))
    assert split == pytest.approx(whole, abs=1e-12)


def test_a_cut_of_half_a_triangle_weighs_by_the_integral_of_its_hats():
    plan = np.array([[0.0, 0.0], [6.0, 0.0], [0.0, 6.0]])
    triangles = np.array([[0, 1, 2]], dtype=np.int32)
    # the part with easting < 3: integral of e/6 is (by hand) 4.5, of n/6 is 5.25, area 13.5
    corners = np.array([[0, 0], [3, 0], [3, 3], [0, 6]], dtype=float)
    area, centroid = 13.5, np.array([4.5, 5.25]) * 6 / 13.5
    assert area == 0.5 * abs(
        np.sum(corners[:, 0] * np.roll(corners[:, 1], -1))
        - np.sum(corners[:, 1] * np.roll(corners[:, 0], -1))
    )
    weight = shot_weights(plan, triangles, np.array([0]), np.array([area]), centroid[None])
    assert weight == pytest.approx([13.5 - 4.5 - 5.25, 4.5, 5.25], abs=1e-12)


@pytest.mark.parametrize(("cells", "side"), [(16, 0.5), (100, 10.0)])
def test_cells_of_a_grid_err_by_the_published_formulas(cells, side):
    """Anderson 2019, Earth Surf. Process. Landforms 44:1015, eq. 11 and 19 (S).

    Each cell of its own shot: random part sqrt(n) L^2 s, datum part n L^2 s_sys; at 95 % 1.96
    times that (NSSDA, S).
    """
    weight = np.full(cells, side**2)
    random = np.sqrt(cells) * side**2 * 0.05
    datum = cells * side**2 * 0.03
    assert plus_minus_95(weight, 0.05, None) == pytest.approx(1.96 * random, rel=1e-12)
    assert plus_minus_95(weight, None, 0.03) == pytest.approx(1.96 * datum, rel=1e-12)
    both = np.sqrt(random**2 + datum**2)
    assert plus_minus_95(weight, 0.05, 0.03) == pytest.approx(1.96 * both, rel=1e-12)


def test_a_tin_over_a_wide_grid_tends_to_the_published_random_error():
    """The rim of shots weighs less than a cell, so the TIN lies below n cells, and ever nearer."""
    ratios = []
    for cells in (4, 16, 64):
        plan, triangles = grid_tin(cells, 2.0)
        weight = shot_weights(plan, triangles, *whole_triangles(plan, triangles))
        published = 1.96 * np.sqrt(cells**2) * 2.0**2 * 0.1
        ratios.append(plus_minus_95(weight, 0.1, None) / published)
    assert ratios == sorted(ratios)
    assert 0.99 < ratios[-1] < 1.0


def test_ninety_five_of_a_hundred_noisy_surveys_fall_within_the_plus_or_minus():
    plan, triangles = grid_tin(5, 8.0)
    truth = 100.0 + 0.05 * plan[:, 0] - 0.02 * plan[:, 1]
    weight = shot_weights(plan, triangles, *whole_triangles(plan, triangles))
    half_width = plus_minus_95(weight, 0.06, 0.02)
    rng = np.random.default_rng(20240)
    exact = volume_under(plan, triangles, truth)
    errors = np.array(
        [
            volume_under(plan, triangles, truth + rng.normal(0, 0.06, 36) + rng.normal(0, 0.02))
            - exact
            for _ in range(4000)
        ]
    )
    # 4000 trials: one standard deviation of the share is 0.0034, of the spread 1.1 %
    assert np.mean(abs(errors) < half_width) == pytest.approx(0.95, abs=0.012)
    assert np.std(errors) * 1.96 == pytest.approx(half_width, rel=0.04)


def test_without_accuracy_there_is_no_plus_or_minus():
    assert plus_minus_95(np.ones(4), None, None) is None


def test_one_missing_accuracy_counts_as_nought():
    weight = np.array([3.0, 4.0])
    assert plus_minus_95(weight, 0.1, None) == plus_minus_95(weight, 0.1, 0.0)
    assert plus_minus_95(weight, None, 0.1) == plus_minus_95(weight, 0.0, 0.1)
    assert plus_minus_95(weight, 0.0, None) == 0.0


def test_no_cut_has_no_doubt():
    assert plus_minus_95(np.zeros(3), 0.1, 0.1) == 0.0


def test_a_difference_of_volumes_that_share_shots_is_as_sure_as_what_they_do_not_share():
    one, two = np.array([5.0, 4.0, 3.0, 0.0]), np.array([5.0, 4.0, 0.0, 2.0])
    given = terms(one, accuracy=0.1, datum_accuracy=0.0)
    apart = doubt_of(made(one) - made(two), given)
    assert apart.random == pytest.approx(1.96 * 0.1 * np.hypot(3.0, 2.0), rel=1e-14)
    assert apart.datum == 0.0
    assert doubt_of(made(one) - made(one), given).together == 0.0


def test_a_difference_smaller_than_its_doubt_is_not_significant():
    doubt = Doubt(random=3.0, datum=4.0)
    assert doubt.together == 5.0
    assert significant(-5.01, doubt) is True
    assert significant(4.99, doubt) is False
    assert significant(100.0, Doubt(terrain=1.0)) is None
    assert significant(2.0, 1.5) is True
    assert significant(1.0, None) is None


def test_doubts_of_surveys_that_share_nothing_add_in_squares_part_by_part():
    one, two = Doubt(random=3.0, datum=1.0), Doubt(random=4.0, terrain=2.0)
    assert combined([one, two]) == Doubt(random=5.0, datum=1.0, terrain=2.0)


def test_a_doubt_in_another_unit_is_scaled_in_every_part():
    assert Doubt(random=27.0, terrain=54.0).times(1 / 27) == Doubt(random=1.0, terrain=2.0)


def test_moves_in_plan_make_their_own_part():
    change = np.array([[3.0, 0.0, 1.0], [0.0, -4.0, 1.0]])
    weights = Weights(shot=np.array([2, 7]), change=change, spots=Weights.nothing().spots)
    doubt = doubt_of(weights, terms(np.zeros(9), horizontal_accuracy=0.2))
    assert doubt == Doubt(horizontal=pytest.approx(1.96 * 0.2 * 5.0))
