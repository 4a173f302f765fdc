"""The doubt of a dig is true: made surveys, 2,000 by weights and 2,000 worked out anew."""

from dataclasses import replace

import numpy as np
import pytest

from terrain.ledger.account import account
from terrain.ledger.doubt import doubt_of
from terrain.ledger.errors_said import SurveyErrors
from terrain.ledger.ground import Ground
from terrain.pit.design import Extra, FootingTrench, Piece
from terrain.pit.dig import PARTS, dig_of
from terrain.surface.overlay import overlay
from terrain.surface.tin import build_tin, tin_surface, triangle_faces
from tests.laws.site import design

HOUSE = np.array([[-24.0, -18.0], [24.0, -18.0], [24.0, 12.0], [18.0, 18.0], [-24.0, 18.0]])
OVERDIG = [2.0, 2.0, 2.5, 3.0, 2.0]
SIDES = [1.0, 0.5, 1.0, 1.5, 0.75]
FLOOR = 92.0
ROWS = 5

ALL = SurveyErrors(
    accuracy=0.05, horizontal_accuracy=0.1, datum_accuracy=0.03, correlated_accuracy=0.06,
    correlation_range=30.0,
)  # fmt: skip
CASES = {
    "random": SurveyErrors(accuracy=0.05),
    "horizontal": SurveyErrors(horizontal_accuracy=0.3),
    "datum": SurveyErrors(datum_accuracy=0.05),
    "correlated": SurveyErrors(correlated_accuracy=0.06, correlation_range=30.0),
    "all": ALL,
}


def shots(seed=1, count=140):
    """A hillside whose truth is the planes through its shots, 8 to 13 ft over the floor."""
    rng = np.random.default_rng(seed)
    plan = rng.uniform(-70, 70, (count, 2))
    around = np.array([[-75.0, -75.0], [75.0, -75.0], [75.0, 75.0], [-75.0, 75.0]])
    plan = np.concatenate([plan, around])
    upward = 102 + 0.05 * plan[:, 1] + 0.02 * plan[:, 0] + np.sin(plan[:, 0] / 25)
    return np.column_stack([plan, upward])


def made(errors):
    """The ground, the dig and its account, with what the survey errs by."""
    tin = build_tin(shots())
    ground = Ground(
        surface=tin_surface(tin), points=tin.points, triangles=tin.triangles, errors=errors
    )
    dig = dig_of(design(HOUSE, OVERDIG, SIDES, FLOOR), tin.points)
    return ground, dig, account(ground, dig, ROWS, 0.0)


def draws(points, errors, count, seed):
    """What each made survey is off by, (count, n, 3): easting, northing, elevation by shot."""
    rng, n = np.random.default_rng(seed), len(points)
    off = np.zeros((count, n, 3))
    off[..., :2] = rng.normal(size=(count, n, 2)) * (errors.horizontal_accuracy or 0.0)
    off[..., 2] = rng.normal(size=(count, n)) * (errors.accuracy or 0.0)
    off[..., 2] += rng.normal(size=(count, 1)) * (errors.datum_accuracy or 0.0)
    if errors.correlated_accuracy is not None:
        gap = np.hypot(*(points[:, None, :2] - points[:, :2]).transpose(2, 0, 1))
        gap = gap / errors.correlation_range
        rho = np.where(gap < 1, 1 - 1.5 * gap + 0.5 * gap**3, 0.0)
        root = np.linalg.cholesky(rho + 1e-10 * np.eye(n)) * errors.correlated_accuracy
        off[..., 2] += rng.normal(size=(count, n)) @ root.T
    return off


def worked_out(ground, dig, off):
    """Bank by row of a survey that is off by so much, its triangles the same."""
    points = ground.points + off
    again = replace(
        ground, surface=triangle_faces(points, ground.triangles), points=points,
        errors=SurveyErrors(),
    )  # fmt: skip
    figures = account(again, dig, ROWS, 0.0)
    return np.append(figures.bank.sum(axis=1), figures.total)


def deep_enough(ground, dig, deviation):
    """The walls whose depth is over 5 deviations over most of their area; here all are."""
    pairs = overlay(ground.surface, dig.surface)
    mean = pairs.volume_above / np.maximum(pairs.area_above, 1e-300)
    row = dig.surface.label[pairs.b] // len(PARTS)
    for wall in range(ROWS):
        own = (row == wall) & (pairs.area_above > 0)
        deep = pairs.area_above[own & (mean > 5 * deviation)].sum()
        assert deep > 0.5 * pairs.area_above[own].sum()


def half_widths(figures):
    doubts = figures.doubts
    return np.array([d.survey for d in (*doubts.rows, doubts.total)])


@pytest.mark.parametrize("case", list(CASES))
def test_of_2000_made_surveys_95_in_100_are_within_wall_by_wall_and_in_all(case):
    """By the weights of each row; one standard deviation of the share is 0.5 %."""
    ground, dig, figures = made(CASES[case])
    deep_enough(ground, dig, 0.1)
    off = draws(ground.points, CASES[case], 2000, 41)
    doubts = figures.doubts
    for weights, doubt in zip(
        (*doubts.row_weights, doubts.total_weights), (*doubts.rows, doubts.total), strict=True
    ):
        error = np.einsum("tkc,kc->t", off[:, weights.shot], weights.change)
        assert 0.93 <= np.mean(abs(error) < doubt.survey) <= 0.97


@pytest.mark.parametrize("case", list(CASES))
def test_surveys_worked_out_anew_are_within_too(case):
    """2,000 of them with the overlay done again: the line of no cut moves, shots move in plan."""
    ground, dig, figures = made(CASES[case])
    exact = np.append(figures.bank.sum(axis=1), figures.total)
    deep_enough(ground, dig, 0.1)
    off = draws(ground.points, CASES[case], 2000, 43)
    errors = np.array([worked_out(ground, dig, one) - exact for one in off])
    share = np.mean(abs(errors) < half_widths(figures), axis=0)
    assert (share >= 0.93).all()
    assert (share <= 0.97).all()
    spread = np.sqrt(np.mean(errors**2, axis=0)) * 1.96 / half_widths(figures)
    assert spread == pytest.approx(np.ones(ROWS + 1), abs=0.08)


def test_the_weights_tell_what_a_survey_worked_out_anew_gives():
    ground, dig, figures = made(ALL)
    exact, whole = figures.total, figures.doubts.total_weights
    for off in draws(ground.points, ALL, 10, 47):
        told = float(np.sum(off[whole.shot] * whole.change))
        seen = worked_out(ground, dig, off)[-1] - exact
        assert told == pytest.approx(seen, abs=0.06 * figures.doubts.total.survey)


def test_a_survey_that_looks_between_its_own_shots_still_holds_the_truth_95_times_in_100():
    """Its own noisy shots are left out to see the ground: 200 surveys, each with its own figure."""
    truth, dig, figures = made(CASES["random"])
    rng = np.random.default_rng(53)
    inside = []
    for _ in range(200):
        points = truth.points + rng.normal(size=truth.points.shape) * [0.0, 0.0, 0.05]
        # level enough ground: planes through the shots are the truth of it
        seen = replace(truth, surface=triangle_faces(points, truth.triangles), points=points)
        own = account(seen, dig, ROWS, 0.0)
        inside.append(abs(own.total - figures.total) < own.doubts.total.together)
    assert np.mean(inside) >= 0.93


def test_on_level_ground_the_ground_between_shots_adds_next_to_nothing_to_an_honest_survey():
    """The stated interval holds the truth 93 to 97 times in 100, not more: 400 surveys of a plane.

    One standard deviation of the share is 1.1 %.
    """
    tin = build_tin(shots())
    plane = tin.points * [1.0, 1.0, 0.0] + [0.0, 0.0, 102.0]
    dig = dig_of(design(HOUSE, OVERDIG, SIDES, FLOOR), plane)
    rng = np.random.default_rng(59)

    def surveyed(points, errors):
        surface = triangle_faces(points, tin.triangles)
        ground = Ground(surface=surface, points=points, triangles=tin.triangles, errors=errors)
        return account(ground, dig, ROWS, 0.0)

    exact = surveyed(plane, SurveyErrors()).total
    inside = []
    for _ in range(400):
        noise = rng.normal(size=len(plane)) * 0.05 + rng.normal() * 0.02
        off = np.column_stack([np.zeros((len(plane), 2)), noise])
        own = surveyed(plane + off, SurveyErrors(accuracy=0.05, datum_accuracy=0.02))
        inside.append(abs(own.total - exact) < own.doubts.total.together)
    assert 0.925 <= np.mean(inside) <= 0.975


def test_weights_sum_to_the_area_of_the_cut_part_by_part():
    """Walls, parts, footing trench and a pit: against the overlay's areas by label."""
    box = np.array([[30.0, -5.0], [40.0, -5.0], [40.0, 5.0], [30.0, 5.0]])
    pit = Extra(
        name="areaway", kind="pit", overdig=0.0, side=((0.5, 1.0),), key="dig.pits[1]",
        pieces=(Piece(corners=box, plane=np.array([35.0, 0.0, 95.0, 0.0, 0.0])),),
    )  # fmt: skip
    wanted = design(
        HOUSE, OVERDIG, SIDES, FLOOR, extras=(pit,),
        footing=FootingTrench(width=1.5, projection=0.5, bottom=91.0),
    )  # fmt: skip
    tin = build_tin(shots())
    ground = Ground(
        surface=tin_surface(tin), points=tin.points, triangles=tin.triangles, errors=ALL
    )
    dig = dig_of(wanted, tin.points)
    figures = account(ground, dig, ROWS + 1, 0.0)
    areas = np.zeros((ROWS + 1) * len(PARTS))
    main = overlay(ground.surface, dig.main)
    areas += np.bincount(dig.main.label[main.b], main.area_above, len(areas))
    for step in dig.taken:
        for surface, sign in ((step.after, 1.0), (step.before, -1.0)):
            pairs = overlay(ground.surface, surface)
            label = step.after.label[pairs.b]
            areas += sign * np.bincount(label, pairs.area_above, len(areas))
    doubts = figures.doubts
    seen = [w.plan_area for row in doubts.part_weights for w in row]
    assert seen == pytest.approx(areas, abs=1e-9)
    assert max(seen) > 500.0
    assert [w.plan_area for w in doubts.row_weights] == pytest.approx(
        areas.reshape(-1, len(PARTS)).sum(axis=1), abs=1e-9
    )
    assert doubts.total_weights.plan_area == pytest.approx(figures.daylight_area, rel=1e-12)
    # the pit adds earth where the dig was already, and area only beyond it
    assert 0 < seen[ROWS * len(PARTS)] < 300.0


def test_doubts_of_rows_do_not_add_up_and_their_weights_do():
    _, _, figures = made(ALL)
    doubts = figures.doubts
    rows = [d.survey for d in doubts.rows]
    assert np.hypot.reduce(rows) < 0.95 * doubts.total.survey < 0.95 * sum(rows)
    summed = sum(doubts.row_weights[1:], doubts.row_weights[0])
    assert doubt_of(summed, doubts.terms).survey == pytest.approx(doubts.total.survey, rel=1e-12)


def test_two_digs_of_one_ground_differ_by_less_than_the_doubts_of_either():
    """Dug 0.5 deeper: the shots are shared, so only the rim makes the difference doubtful."""
    ground, _, figures = made(ALL)
    deeper = dig_of(design(HOUSE, OVERDIG, SIDES, FLOOR - 0.5), ground.points)
    more = account(ground, deeper, ROWS, 0.0)
    terms = figures.doubts.terms
    apart = doubt_of(more.doubts.total_weights - figures.doubts.total_weights, terms)
    assert apart.together < 0.15 * figures.doubts.total.together
    assert more.total - figures.total > apart.together
