"""The transport core against a published optimum and against trying everything."""

import itertools

import numpy as np
import pytest

from terrain.haul.transport import Asked, settle, ship


def asked(cost, supply, need, **other):
    """A problem with free ends: nothing need be moved on or brought."""
    places = len(need)
    terms = {
        "capacity": np.array(need, dtype=float),
        "already": np.zeros(places),
        "push": np.full((places, places + 1), np.inf),
        "bring": 0.0,
    } | other
    cast = np.hstack([np.array(cost, dtype=float), np.full((len(supply), 1), np.inf)])
    return Asked(
        supply=np.array(supply, dtype=float),
        cast=terms.pop("cast", cast),
        need=np.array(need, dtype=float),
        **terms,
    )


def test_a_published_problem_has_its_published_optimum():
    """Dantzig, Linear Programming and Extensions (1963), ch. 3.3, as the examples of modelling
    languages carry it (TRNSPORT): 90 dollars a case and thousand miles; the least is 153.675
    thousand dollars. Markets are the cells here, canning plants the places."""
    miles = np.array([[2.5, 2.5], [1.7, 1.8], [1.8, 1.4]])
    found = ship(asked(0.09 * miles, [325, 300, 275], [350, 600]))
    assert found.hours == pytest.approx(153.675, rel=1e-9)
    assert found.cast[1, 0] == pytest.approx(300)
    assert found.cast[2, 1] == pytest.approx(275)


def test_another_published_problem():
    """The two-by-two of the OPTMODEL manual's section "A Transportation Problem": Detroit 200,
    Pittsburgh 100, Boston and New York 150 each, at 30, 20, 40, 10. By hand: Boston from Detroit,
    New York 50 from Detroit and 100 from Pittsburgh, 6,500."""
    room = np.array([1e3, 1e3])
    found = ship(asked([[30, 20], [40, 10]], [200, 100], [150, 150], capacity=room, bring=1e6))
    assert found.hours == pytest.approx(6500)


def test_whole_lots_are_shipped_as_cheaply_as_by_trying_everything():
    rng = np.random.default_rng(7)
    for _ in range(20):
        cost = rng.integers(1, 20, (5, 3)).astype(float)
        room = np.array([2.0, 2.0, 3.0])
        best = min(
            sum(cost[cell, place] for cell, place in enumerate(way))
            for way in itertools.product(range(3), repeat=5)
            if all(way.count(place) <= room[place] for place in range(3))
        )
        found = ship(asked(cost, np.ones(5), room))
        assert found.hours == pytest.approx(best)


def test_each_cell_is_cast_once_and_no_place_overfilled():
    rng = np.random.default_rng(8)
    supply, need = rng.random(60) ** 8, np.array([1.9, 1.1])
    cost = rng.random((60, 2))
    cast = np.hstack([cost, np.full((60, 1), 3.0)])
    found = ship(asked(cost, supply, need, cast=cast, bring=9.0))
    assert np.abs(found.cast.sum(axis=1) - supply).max() <= 1e-12
    assert (found.cast[:, :2].sum(axis=0) <= need * (1 + 1e-12)).all()
    assert found.hauled == pytest.approx(supply.sum() - need.sum())


def test_what_is_too_much_on_one_side_is_pushed_to_the_next():
    push = np.array([[np.inf, 2.0, 50.0], [2.0, np.inf, 50.0]])
    problem = asked(
        [[1.0, 30.0]], [10.0], [4.0, 6.0], capacity=np.array([10.0, 10.0]), push=push, bring=99.0
    )
    found = ship(problem)
    assert found.moved[0, 1] == pytest.approx(6.0)
    assert found.hours == pytest.approx(10.0 + 12.0)
    again = settle(problem, found.cast)
    assert again.hours == pytest.approx(found.hours)


def test_what_must_leave_leaves():
    cast = np.array([[1.0, 5.0]])
    problem = asked([[1.0]], [10.0], [10.0], cast=cast, bring=3.0, must_leave=2.5)
    found = ship(problem)
    assert found.hauled == pytest.approx(2.5)
    assert found.brought.sum() == pytest.approx(2.5)
