"""The survey's edge: a dig that outruns its survey is refused in words that say how far to go."""

import numpy as np
import pytest

from terrain.base.errors import EdgeError
from terrain.base.frame import LocalFrame
from terrain.base.units import FOOT
from terrain.pit.design import Design, Extra, Piece, Wall
from terrain.pit.dig import dig_of
from terrain.pit.edge import require_surveyed
from terrain.surface.moves import VERTICAL
from terrain.surface.tin import Line, LineKind, build_tin

FRAME = LocalFrame(easting=2_000_000.0, northing=500_000.0)
NAMES = ("front", "right", "back", "left")


def level_lot(west=-30.0, south=-30.0, east=70.0, north=60.0, upward=100.0):
    side = np.linspace(0.0, 1.0, 5)
    across, along = np.meshgrid(west + side * (east - west), south + side * (north - south))
    plan = np.column_stack([across.ravel(), along.ravel()])
    return np.column_stack([plan, np.full(len(plan), upward)])


def house(side=((1.0, 1.0),), extras=()):
    return Design(
        corners=np.array([[0.0, 0.0], [40.0, 0.0], [40.0, 30.0], [0.0, 30.0]]),
        walls=tuple(Wall(name=n, overdig=2.0, side=side, key=f"dig.walls.{n}") for n in NAMES),
        number=(0, 1, 2, 3),
        floor=92.0,
        extras=tuple(extras),
    )


def refusal(design, tin) -> str:
    with pytest.raises(EdgeError) as caught:
        require_surveyed(design, dig_of(design, tin.points), tin, FRAME, FOOT)
    return str(caught.value)


def test_a_lot_that_reaches_past_the_daylight_line_is_enough():
    """It ends 0.01 ft past the line all round; 0.01 ft short of it on any one side is refused."""
    enough = {"west": -10.01, "south": -10.01, "east": 50.01, "north": 40.01}
    tin, design = build_tin(level_lot(**enough)), house()
    assert require_surveyed(design, dig_of(design, tin.points), tin, FRAME, FOOT) is None
    for side, at in enough.items():
        short = enough | {side: at - np.copysign(0.02, at)}
        assert "below ground" in refusal(design, build_tin(level_lot(**short)))


def test_a_side_that_is_still_below_ground_at_the_edge_names_wall_stretch_height_and_distance():
    # the front's dig line is at northing -2 and the survey ends at -7: 5 of 8 ft are climbed
    text = refusal(house(), build_tin(level_lot(south=-7.0)))
    assert "dig.walls.front" in text
    assert "side of wall front" in text
    assert "3.00 ft below ground" in text
    assert "at least 3.00 ft further" in text
    assert "(1999993.00, 499993.00) to (2000047.00, 499993.00)" in text or (
        "(2000047.00, 499993.00) to (1999993.00, 499993.00)" in text
    )
    assert "back" not in text


def test_further_follows_the_benches_still_to_come():
    # up 4 to a tread 4 wide; the survey ends on the tread, so another 4 high and 4 wide follow
    benches = ((0.0, 4.0), (4.0, 0.0))
    text = refusal(house(side=benches), build_tin(level_lot(south=-4.0)))
    assert "4.00 ft below ground" in text


def test_a_floor_beyond_the_survey_names_the_wall_and_the_distance():
    text = refusal(house(), build_tin(level_lot(south=4.0)))
    assert "does not cover the floor at wall front" in text
    assert "at least 6.00 ft further" in text
    assert "264.0 ft²" in text, "44 ft of dig line by 6 ft"


def test_a_hole_in_the_survey_within_the_floor_is_refused():
    shots = level_lot()
    ring = np.array([[15.0, 10.0, 100.0], [25.0, 10.0, 100.0], [25.0, 20.0, 100.0], [15, 20, 100]])
    points = np.concatenate([shots, ring])
    n = len(shots)
    hole = Line(name="shed", shots=np.arange(n, n + 4, dtype=np.int32), kind=LineKind.HOLE)
    text = refusal(house(), build_tin(points, [hole]))
    assert "does not cover the floor" in text
    assert "100.0 ft²" in text
    assert "a hole there: shoot the ground within it" in text
    assert "0.00 ft" not in text, "no distance helps where the ground lies all round"


def test_a_foundation_wholly_off_the_survey_is_told_where_the_survey_is_and_what_to_check():
    text = refusal(house(), build_tin(level_lot(west=500.0, east=600.0)))
    assert "all of it lies off the survey" in text
    assert "from (2000500.00, 499970.00) to (2000600.00, 500060.00)" in text
    assert "northing and easting are not swapped" in text


def test_the_rim_of_a_hole_in_the_side_is_an_edge_too():
    shots = level_lot()
    ring = np.array([[10.0, -6.0, 100.0], [20.0, -6.0, 100.0], [20.0, -4.0, 100.0], [10, -4, 100]])
    points = np.concatenate([shots, ring])
    n = len(shots)
    hole = Line(name="stump", shots=np.arange(n, n + 4, dtype=np.int32), kind=LineKind.HOLE)
    text = refusal(house(), build_tin(points, [hole]))
    assert "side of wall front" in text
    assert "6.00 ft below ground" in text, "the toe's side of the hole lies 2 ft out: 8 - 2"


def test_an_extra_outside_the_survey_is_named():
    trench = Extra(
        kind="trench", name="drain", overdig=0.0, side=VERTICAL, key="dig.trenches[1]",
        pieces=(Piece(corners=np.array([[60.0, 0], [90, 0], [90, 2], [60, 2.0]]),
                      plane=np.array([60.0, 0.0, 96.0, 0.0, 0.0])),),
    )  # fmt: skip
    text = refusal(house(extras=[trench]), build_tin(level_lot()))
    assert "floor at trench drain" in text
    assert "dig.trenches[1]" in text


def test_all_walls_that_fall_short_are_told_at_once():
    text = refusal(house(), build_tin(level_lot(west=-7, south=-7, east=47, north=37)))
    for name in NAMES:
        assert f"wall {name}" in text
