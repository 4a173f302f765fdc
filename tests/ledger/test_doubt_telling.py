"""The shots that carry most of a doubt, and where one more takes most of it away."""

import numpy as np
import pytest

from terrain.ledger.between import between_shots
from terrain.ledger.doubt import Terms, doubt_of
from terrain.ledger.errors_said import SurveyErrors
from terrain.ledger.ground import Ground
from terrain.ledger.hats import hats_between
from terrain.ledger.telling import carrying_shots, next_shot
from terrain.ledger.weights import weights_of
from terrain.surface.patches import from_polygons
from terrain.surface.tin import build_tin, tin_surface

PIT = np.array([[30.0, 30.0], [90.0, 30.0], [90.0, 80.0], [30.0, 80.0]])


def surveyed(points, **errors):
    tin = build_tin(points)
    return Ground(
        surface=tin_surface(tin), points=tin.points, triangles=tin.triangles,
        errors=SurveyErrors(**errors),
    )  # fmt: skip


def below(ground):
    floor = from_polygons([PIT], np.array([[0.0, 0.0, -1e5, 0.0, 0.0]]), np.array([0]))
    return weights_of(hats_between(ground, floor, "above"))[0]


def told(ground):
    weights = below(ground)
    terms = Terms(
        errors=ground.errors, plan=ground.points[:, :2],
        between=between_shots(ground, weights.spots),
    )  # fmt: skip
    return weights, terms, doubt_of(weights, terms)


def with_a_gap(seed=3, count=150):
    """Shots of rough ground, none within 14 of one place under the pit."""
    rng = np.random.default_rng(seed)
    plan = rng.random((count, 2)) * 120
    plan = plan[np.hypot(*(plan - [62.0, 52.0]).T) > 14]
    return np.column_stack([plan, 100 + rng.normal(0, 0.5, len(plan))])


def test_shares_are_of_what_shots_make_each_for_itself_most_first():
    weights, terms, doubt = told(surveyed(with_a_gap(), accuracy=0.1, horizontal_accuracy=0.2))
    every = carrying_shots(weights, terms, 10**6)
    assert sum(s.share for s in every) == pytest.approx(1.0)
    assert [s.share for s in every] == sorted((s.share for s in every), reverse=True)
    assert carrying_shots(weights, terms, 3) == every[:3]
    # by hand for the first: what it makes alone against what all make
    first = weights.shot.tolist().index(every[0].point)
    alone = (0.1 * weights.change[first, 2]) ** 2 + 0.04 * np.sum(weights.change[first, :2] ** 2)
    whole = (doubt.random / 1.96) ** 2 + (doubt.horizontal / 1.96) ** 2
    assert every[0].share == pytest.approx(alone / whole)
    assert every[0].weight == weights.change[first, 2]


def test_a_shot_known_better_carries_less():
    points = with_a_gap()
    ground = surveyed(points, accuracy=0.1)
    weights, terms, _ = told(ground)
    most = carrying_shots(weights, terms, 1)[0].point
    each = np.full(len(ground.points), 0.1)
    each[most] = 0.001
    known = Terms(errors=SurveyErrors(accuracy=0.1, each=each), plan=terms.plan)
    shares = {s.point: s.share for s in carrying_shots(weights, known, 10**6)}
    assert shares[most] < 1e-3


def test_one_more_shot_helps_most_in_the_widest_gap():
    ground = surveyed(with_a_gap(), accuracy=0.02)
    weights, terms, doubt = told(ground)
    best = next_shot(weights, doubt, terms, ground)
    assert np.hypot(best.at[0] - 62.0, best.at[1] - 52.0) < 10.0
    assert best.together < 0.95 * doubt.together


@pytest.mark.parametrize("seed", [3, 4, 5])
def test_what_is_then_left_is_what_the_survey_with_that_shot_says(seed):
    """The shot put in for real, the ground joined anew by the builder, roughness as before."""
    ground = surveyed(with_a_gap(seed), accuracy=0.05, datum_accuracy=0.02)
    weights, terms, doubt = told(ground)
    best = next_shot(weights, doubt, terms, ground)
    more = surveyed(
        np.concatenate([ground.points, [[*best.at, 100.0]]]), accuracy=0.05, datum_accuracy=0.02
    )
    between = terms.between
    after = below(more)
    own = 0.05**2 * np.sum(after.by_elevation**2)
    datum = 0.02**2 * after.plan_area**2
    rough = between.variance_on(after, more.points[:, :2])
    assert best.together == pytest.approx(1.96 * np.sqrt(own + datum + rough), rel=0.02)
    assert best.together < 0.99 * doubt.together


def test_a_dense_survey_of_level_ground_has_no_shot_worth_more():
    rng = np.random.default_rng(6)
    plan = rng.random((3000, 2)) * 120
    ground = surveyed(np.column_stack([plan, rng.normal(0, 0.05, 3000)]), accuracy=0.05,
                      datum_accuracy=0.05)  # fmt: skip
    weights, terms, doubt = told(ground)
    assert next_shot(weights, doubt, terms, ground) is None


def test_without_anything_known_of_the_ground_no_place_is_told():
    corners = np.array([[0.0, 0.0, 1.0], [120.0, 0.0, 1.0], [120.0, 120.0, 2.0], [0.0, 120.0, 1.0]])
    ground = surveyed(corners, accuracy=0.1)
    weights, terms, doubt = told(ground)
    assert terms.between is None
    assert next_shot(weights, doubt, terms, ground) is None
