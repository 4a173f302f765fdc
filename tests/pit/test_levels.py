"""The chain of levels from the top of the wall to the floor of the dig."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from terrain.base.errors import DesignError
from terrain.pit.levels import Levels, LevelsGiven, resolve_levels


def chain_of(levels: Levels) -> list[tuple[str, float]]:
    return [(level.name, round(level.elevation, 9)) for level in levels.chain]


def test_a_floor_alone_is_the_floor() -> None:
    levels = resolve_levels(LevelsGiven(floor=92.5))
    assert (levels.floor, levels.footing_bottom, levels.footing_top) == (92.5, None, None)
    assert chain_of(levels) == [("floor of the dig", 92.5)]


def test_the_floor_is_top_less_wall_less_footing() -> None:
    levels = resolve_levels(
        LevelsGiven(top=101.25, wall_height=8.0, footing_depth=0.75, under_slab=0.5)
    )
    assert chain_of(levels) == [
        ("top of wall", 101.25), ("top of footing", 93.25), ("underside of slab", 93.0),
        ("floor of the dig", 92.5),
    ]  # fmt: skip


def test_without_a_footing_the_wall_stands_on_the_floor() -> None:
    assert resolve_levels(LevelsGiven(top=100.0, wall_height=7.5)).floor == 92.5


def test_a_footing_in_a_trench_leaves_the_floor_to_the_slabs_stone() -> None:
    levels = resolve_levels(
        LevelsGiven(
            top=101.0, wall_height=8.0, footing_depth=1.0, footing_bottom=92.0, under_slab=0.35
        )
    )
    assert chain_of(levels) == [
        ("top of wall", 101.0), ("top of footing", 93.0), ("underside of slab", 93.0),
        ("floor of the dig", 92.65), ("underside of footing", 92.0),
    ]  # fmt: skip
    assert levels.footing_bottom == 92.0


def test_a_bottom_at_the_floor_is_no_trench() -> None:
    levels = resolve_levels(LevelsGiven(floor=92.5, footing_depth=0.75, footing_bottom=92.5))
    assert levels.footing_bottom is None
    assert levels.footing_top == 93.25


def test_the_chain_is_worked_upward_from_the_floor_where_no_top_is_given() -> None:
    levels = resolve_levels(LevelsGiven(floor=92.5, wall_height=8.0, footing_depth=0.75))
    assert chain_of(levels)[0] == ("top of wall", 101.25)


@pytest.mark.parametrize(
    ("given", "key", "numbers"),
    [
        (
            LevelsGiven(floor=92.0, top=101.25, wall_height=8.0, footing_depth=0.75),
            "dig.floor", ("92", "92.5", "101.25"),
        ),
        (LevelsGiven(floor=93.0, top=100.0, wall_height=7.5), "dig.floor", ("93", "92.5")),
        (
            LevelsGiven(floor=92.0, footing_depth=1.0, footing_bottom=92.5),
            "foundation.footing.bottom", ("92.5", "92"),
        ),
        (
            LevelsGiven(
                floor=93.0, top=101.0, wall_height=8.0, footing_depth=1.0, footing_bottom=91.5
            ),
            "foundation.footing.bottom", ("91.5", "92", "101"),
        ),
        (LevelsGiven(top=100.0), "dig.floor", ()),
        (LevelsGiven(), "dig.floor", ()),
        (
            LevelsGiven(top=101.0, wall_height=8.0, footing_depth=1.0, footing_bottom=92.0),
            "dig.floor", ("under_slab",),
        ),
    ],
)  # fmt: skip
def test_levels_that_disagree_name_both_numbers(
    given: LevelsGiven, key: str, numbers: tuple[str, ...]
) -> None:
    with pytest.raises(DesignError) as caught:
        resolve_levels(given)
    [fault] = caught.value.faults
    assert fault.key == key
    assert all(number in fault.message for number in numbers), fault.message


def test_levels_given_to_three_decimals_agree() -> None:
    given = LevelsGiven(floor=91.333, top=100.0, wall_height=8.0, footing_depth=0.6667)
    assert resolve_levels(given).floor == 91.333


heights = st.floats(0.1, 20.0)


@given(st.floats(-500, 9000), heights, heights)
def test_the_chain_closes_and_goes_down(top: float, wall: float, footing: float) -> None:
    levels = resolve_levels(LevelsGiven(top=top, wall_height=wall, footing_depth=footing))
    assert levels.floor == pytest.approx(top - wall - footing, abs=1e-9)
    elevations = [level.elevation for level in levels.chain]
    assert elevations == sorted(elevations, reverse=True)
    agreed = LevelsGiven(floor=levels.floor, top=top, wall_height=wall, footing_depth=footing)
    assert resolve_levels(agreed).floor == levels.floor
