"""Odd figures are told, usual ones are not."""

import pytest

from terrain.base.units import FOOT, METRE
from terrain.ledger.facts import WallFacts
from terrain.ledger.sanity import sanity_cautions


def wall(name: str, depth: float) -> WallFacts:
    return WallFacts(
        wall=name, depth=depth, side=((1.0, 1.0),), overdig=2.0, working_room=2.0, dig_line="kept"
    )


def codes(*depths: float, area: float = 1200.0, unit=FOOT) -> list[tuple[str, str | None]]:
    walls = tuple(wall(f"w{i}", depth) for i, depth in enumerate(depths))
    return [(c.code, c.wall) for c in sanity_cautions(walls, 92.5, area, unit)]


def test_a_usual_dig_says_nothing():
    assert codes(8.0, 7.0, 1.0) == []


def test_walls_without_cut_are_named():
    assert codes(8.0, 0.0, 7.0) == [("floor-above-ground", "w1")]


def test_a_floor_above_all_ground_is_told_once():
    assert codes(0.0, 0.0, 0.0) == [("nothing-dug", None)]


@pytest.mark.parametrize(
    ("area", "unit", "odd"),
    [(108.0, FOOT, True), (1728.0, FOOT, False), (108.0, METRE, False), (2700.0, METRE, True)],
)
def test_a_house_of_nine_by_twelve_feet_is_asked_about(area, unit, odd):
    assert codes(8.0, area=area, unit=unit) == ([("foundation-size", None)] if odd else [])
